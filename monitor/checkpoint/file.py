"""One checkpoint as bytes: whose it is, how far it goes, a checksum over all, the state. Pure.

    outby checkpoint 1
    <checksum: BLAKE2b of 16 bytes over all that follows this line, hex>
    <one line of JSON: fold, code, incident, batch, row, t, digest, tag>
    <the state (``graph``), in zlib's format (RFC 1950)>

CHECKPOINT-FORMAT.md describes it for strangers.
"""

import hmac
import json
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from hashlib import blake2b
from typing import Any, NamedTuple, Protocol

from monitor.checkpoint.classes import CLASSES
from monitor.checkpoint.graph import BadGraph, decode, encode
from monitor.checkpoint.recalled import Recalled
from monitor.journal.schema import Batch

MAGIC = b"outby checkpoint 1\n"
CHECKSUM_BYTES = 16
TAG_DOMAIN = b"outby checkpoint\x00"
FILE_BYTES_MAX = 16 * 1024 * 1024
"""Of one checkpoint; fifty packs need 0.3 MB."""
STATE_BYTES_MAX = 128 * 1024 * 1024
"""Of its text, unpacked."""
LEVEL = 1
"""Of packing. More effort would save a tenth."""


class Key(NamedTuple):
    """What a checkpoint must have been made by and of, to be used."""

    fold: int
    """Version of the fold."""
    code: str
    """Digest of its source, hex: another source is another fold, whatever its version says."""
    incident: str
    """From the journal's header."""


class Place(NamedTuple):
    """How far in the journal a checkpoint goes: one commit, all of it."""

    batch: int
    row: int
    t: int
    """The commit's horizon, ns."""
    digest: str
    """Running digest of the journal at that commit, hex: it covers every row before."""


def place_of(batch: Batch) -> Place:
    """Give the place of a commit."""
    return Place(batch.batch, batch.last_row, batch.horizon, batch.digest.hex())


class State(Protocol):
    """What can be kept: it is made of rows, one after the other."""

    row: int
    """Number of the last row folded."""


class Form(NamedTuple):
    """What kind of state a checkpoint holds, and which classes may be in it."""

    root: type
    classes: Mapping[str, type]


RECALLED = Form(Recalled, CLASSES)
"""What a reader of the incident begins with."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A checkpoint that is whole; its state is not made yet."""

    place: Place
    _packed: bytes

    def state(self, form: Form = RECALLED) -> Any:  # noqa: ANN401 - of any form
        """Make the state, one of ``form.root``. Raises BadGraph."""
        unpacker = zlib.decompressobj()
        try:
            text = unpacker.decompress(self._packed, STATE_BYTES_MAX)
        except zlib.error as error:
            raise BadGraph(f"cannot be unpacked: {error}") from error
        if not unpacker.eof:
            raise BadGraph("longer than it may be, or cut off")
        state = decode(text, form.classes)
        if getattr(state, "row", None) != self.place.row or type(state) is not form.root:
            raise BadGraph("not a state")
        return state


def written(
    key: Key, place: Place, state: State, secret: bytes = b"", form: Form = RECALLED
) -> bytes:
    """Write a checkpoint. Raises BadGraph where it would be longer than it may be.

    ``secret``: the journal's key, for a tag; empty: there is none.
    """
    text = encode(state, form.classes)
    packed = zlib.compress(text, LEVEL)
    fields = key._asdict() | place._asdict() | {"tag": _tag(key, place, packed, secret)}
    rest = json.dumps(fields, separators=(",", ":")).encode() + b"\n" + packed
    raw = MAGIC + _checksum(rest) + rest
    if len(text) > STATE_BYTES_MAX or len(raw) > FILE_BYTES_MAX:
        raise BadGraph("longer than one may be")
    return raw


def opened(raw: bytes, key: Key, secret: bytes = b"") -> Opened:
    """Open one. Raises BadGraph where it is damaged or not of this key.

    ``secret``: the journal's key; only one whose tag was made with it is opened then.
    """
    start = len(MAGIC) + 2 * CHECKSUM_BYTES + 1
    rest = raw[start:]
    if raw[:start] != MAGIC + _checksum(rest):
        raise BadGraph("not a checkpoint, or a damaged one")
    line, _, packed = rest.partition(b"\n")
    try:
        head: dict[str, Any] = json.loads(line)
        place = Place(*(head[name] for name in Place._fields))
        whose = Key(*(head[name] for name in Key._fields))
    except (ValueError, LookupError, TypeError) as error:
        raise BadGraph("its head is not right") from error
    if whose != key:
        raise BadGraph("of another incident, or made by another program")
    if secret and not hmac.compare_digest(str(head.get("tag")), _tag(key, place, packed, secret)):
        raise BadGraph("made by somebody without the journal's key")
    return Opened(place, packed)


def _tag(key: Key, place: Place, packed: bytes, secret: bytes) -> str:
    """Over all that a checkpoint says; empty without a key."""
    if not secret:
        return ""
    said = json.dumps([*key, *place], separators=(",", ":")).encode()
    return blake2b(
        TAG_DOMAIN + said + b"\n" + packed, digest_size=CHECKSUM_BYTES, key=secret
    ).hexdigest()


def _checksum(rest: bytes) -> bytes:
    return blake2b(rest, digest_size=CHECKSUM_BYTES).hexdigest().encode() + b"\n"
