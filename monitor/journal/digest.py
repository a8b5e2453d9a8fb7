"""The running digest: every batch's digest covers everything before it.

With ``H`` = BLAKE2b (RFC 7693) of 16 bytes, keyed or not, ``|`` joining bytes, and all integers in
network byte order::

    batch 0:  D0 = H("outby journal" 00 | for each header key in order: u32 length, key,
                                                                         u32 length, value)
    batch n:  Dn = H(D(n-1) | session, where this batch is the first of its session
                            | u64 batch, u32 session, u64 last_row, i64 horizon, i64 boot_ns,
                              i64 wall_ns, u32 number of rows
                            | i64 t of each row | u8 kind of each | u16 link of each
                            | i64 late_ns of each | i16 signal_dbm of each, -32768 for none
                            | u32 length of data of each | data of each)
    session:  u32 session, i64 origin_boot_ns, i64 started_wall_ns,
              u32 length, boot_id, u32 length, software

Columns, not rows, because packing a column is one call: a tenth of the time, for the same cover.
Key and value texts are UTF-8. A key is 1 to 64 bytes.
"""

from collections.abc import Mapping, Sequence
from hashlib import blake2b
from struct import Struct, pack
from typing import NamedTuple

from monitor.journal.schema import Batch, Session

DIGEST_BYTES = 16
OPEN_BYTES = 32
"""Of the open digest, which is never keyed and is what a recorder signs: whoever finds two journals
with one digest of 16 bytes (2**64 tries) must not have a signature for both."""
KEY_BYTES_MAX = 64
"""Of BLAKE2b, RFC 7693 section 2.1."""
KEY_CHECK_BYTES = 8
GROUP = 4
"""Hex digits that a person reads out in one breath."""
DOMAIN = b"outby journal\x00"
KEY_CHECK_DOMAIN = b"outby journal key check\x00"
NO_SIGNAL_DBM = -32768

_BATCH = Struct(">QIQqqqI")
_SESSION = Struct(">Iqq")
BATCH_BYTES = 48
SESSION_BYTES = 20
assert _BATCH.size == BATCH_BYTES
assert _SESSION.size == SESSION_BYTES


class Columns(NamedTuple):
    """The rows of one batch, column by column, as SQLite holds them."""

    t: Sequence[int]
    kind: Sequence[int]
    """Kind and standing in one number, as in ``schema.STANDING_SHIFT``."""
    link: Sequence[int]
    late_ns: Sequence[int]
    signal_dbm: Sequence[int | None]
    data: Sequence[bytes]


NO_ROWS = Columns((), (), (), (), (), ())


def _text(value: str) -> bytes:
    raw = value.encode()
    return pack(">I", len(raw)) + raw


def shown(value: bytes) -> str:
    """A digest as it is printed and read out: hex in groups of four."""
    text = value.hex()
    return " ".join(text[at : at + GROUP] for at in range(0, len(text), GROUP))


def key_check(key: bytes) -> str:
    """Hex by which the right key is known again; says nothing of the key itself."""
    return blake2b(KEY_CHECK_DOMAIN, digest_size=KEY_CHECK_BYTES, key=key).hexdigest()


def header_bytes(header: Mapping[str, str]) -> bytes:
    """What the digest of batch 0 is made of, from the header table as it is stored."""
    parts = [DOMAIN]
    for name in sorted(header):
        parts += _text(name), _text(header[name])
    return b"".join(parts)


def of_header(header: Mapping[str, str], key: bytes = b"", size: int = DIGEST_BYTES) -> bytes:
    """Digest of batch 0, from the header table as it is stored."""
    return blake2b(header_bytes(header), digest_size=size, key=key).digest()


def _session_bytes(session: Session) -> bytes:
    numbers = _SESSION.pack(session.session, session.origin_boot_ns, session.started_wall_ns)
    return numbers + _text(session.boot_id) + _text(session.software)


def of_batch(before: Batch, batch: Batch, rows: Columns, new: Session | None, key: bytes) -> bytes:
    """Digest of ``batch`` (whose own ``digest`` is not read), following ``before``.

    ``new`` is the session that begins with this batch, None where an earlier one goes on.
    """
    made = before.digest + batch_bytes(batch, rows, new)
    return blake2b(made, digest_size=DIGEST_BYTES, key=key).digest()


def open_of_batch(before: bytes, batch: Batch, rows: Columns, new: Session | None) -> bytes:
    """The open digest of ``batch``, following the one of the batch before it."""
    made = before + batch_bytes(batch, rows, new)
    return blake2b(made, digest_size=OPEN_BYTES).digest()


def batch_bytes(batch: Batch, rows: Columns, new: Session | None) -> bytes:
    """What the digest of a batch is made of, behind the digest of the one before it."""
    n = len(rows.t)
    parts = [_session_bytes(new) if new else b""]
    parts.append(_BATCH.pack(*batch[:-1], n))
    if n:
        signals = [NO_SIGNAL_DBM if s is None else s for s in rows.signal_dbm]
        parts += (
            pack(f">{n}q", *rows.t),
            bytes(rows.kind),
            pack(f">{n}H", *rows.link),
            pack(f">{n}q", *rows.late_ns),
            pack(f">{n}h", *signals),
            pack(f">{n}I", *map(len, rows.data)),
            *rows.data,
        )
    return b"".join(parts)
