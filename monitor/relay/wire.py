"""Commits as messages and back: a message, or the reason why it is none. Pure.

RELAY-FORMAT.md draws the bytes. What is in a message are the bytes of which JOURNAL-FORMAT.md makes
the running digest, and the digest itself, so whoever gets them can make it again. A message that is
large is compressed, and one that a broker would not take is sent in parts.

Bytes may come from anybody: nothing here raises on them, and nothing grows beyond a named limit.
"""

import struct
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import pairwise
from typing import NamedTuple

from monitor.journal import digest
from monitor.journal.digest import Columns
from monitor.journal.schema import (
    DATA_BYTES_MAX,
    HEADER_KEYS_MAX,
    HORIZON_NS_MAX,
    KIND_OF,
    Batch,
    Session,
)
from monitor.journal.sealing import Sealed

MAGIC = b"OBY1"
HEADER, COMMITS = 1, 2
COMPRESSED = 0x80
COMPRESS_BYTES_MIN = 300
"""Below it nothing is won that is worth the time."""
PART_BYTES_MAX = 512 * 1024
"""A broker takes 1 MiB in one message unless told otherwise."""
PARTS_MAX = 128
BODY_BYTES_MAX = 64 * 1024 * 1024
"""Of all parts together, compressed or not. A commit of a base that was held up for ten seconds
with a thousand packs has 1 MB."""
COMMITS_MAX = 10_000
"""In one message."""
WALL_NS_MAX = 2**63 - 1
NUMBER_MAX = 2**63 - 1
"""Of batches and rows: SQLite's largest."""

_HEAD = struct.Struct(">4sBHHQQ")
_COMMIT = struct.Struct(">IB16s")
_BATCH = struct.Struct(">QIQqqqI")
_SESSION = struct.Struct(">Iqq")
_LENGTH = struct.Struct(">I")
HEAD_BYTES = 25
COMMIT_BYTES = 21
assert _HEAD.size == HEAD_BYTES
assert _COMMIT.size == COMMIT_BYTES
assert _BATCH.size == digest.BATCH_BYTES
assert _SESSION.size == digest.SESSION_BYTES


class Bad(StrEnum):
    """Why bytes are no message."""

    HEAD = "no message of this format"
    PARTS = "parts that do not belong together"
    LONG = "longer than any message"
    COMPRESSION = "not compressed as it says"
    LENGTH = "a length that does not fit"
    TEXT = "a text that is none"
    ORDER = "commits that do not follow one another"
    VALUE = "a value that no journal has"


class Commit(NamedTuple):
    """One commit as it came: ``Sealed`` without what it follows."""

    batch: Batch
    rows: Columns
    new: Session | None

    @property
    def first_row(self) -> int:
        """Number of its first row, if it has any."""
        return self.batch.last_row - len(self.rows.t) + 1


@dataclass(frozen=True, slots=True)
class HeaderMessage:
    """The first of an incident: its header as it is stored, and the digest of batch 0."""

    stored: Mapping[str, str]
    digest: bytes


@dataclass(frozen=True, slots=True)
class CommitsMessage:
    """Whole commits that follow one another; never empty."""

    commits: tuple[Commit, ...]


class Part(NamedTuple):
    """One piece of a message, as the broker carries it."""

    kind: int
    compressed: bool
    part: int
    parts: int
    first: int
    """Number of the first batch in the whole message."""
    last: int
    body: bytes


# ---------------------------------------------------------------- to bytes


def commit_bytes(sealed: Sealed) -> bytes:
    """One commit as it stands in a message."""
    raw = digest.batch_bytes(sealed.batch, sealed.rows, sealed.new)
    return _COMMIT.pack(len(raw), sealed.new is not None, sealed.batch.digest) + raw


def commits_message(first: int, last: int, commits: Sequence[bytes]) -> list[bytes]:
    """The message, or its parts, that hold the commits ``first`` to ``last`` as ``commit_bytes``.

    ValueError: longer than any message.
    """
    assert last - first + 1 == len(commits) <= COMMITS_MAX, "whole commits, none missing"
    return _parts(COMMITS, first, last, b"".join(commits))


def header_message(stored: Mapping[str, str], of_header: bytes) -> list[bytes]:
    """The message that an incident begins with."""
    return _parts(HEADER, 0, 0, of_header + digest.header_bytes(stored))


def _parts(kind: int, first: int, last: int, body: bytes) -> list[bytes]:
    if len(body) > BODY_BYTES_MAX:
        raise ValueError(Bad.LONG)
    if len(body) >= COMPRESS_BYTES_MIN:
        packed = zlib.compress(body)
        if len(packed) < len(body):
            kind, body = kind | COMPRESSED, packed
    pieces = [body[at : at + PART_BYTES_MAX] for at in range(0, len(body), PART_BYTES_MAX)]
    return [
        _HEAD.pack(MAGIC, kind, part, len(pieces), first, last) + piece
        for part, piece in enumerate(pieces)
    ]


# ---------------------------------------------------------------- from bytes


def part_of(raw: bytes) -> Part | Bad:
    """One piece as the broker gives it."""
    if len(raw) <= HEAD_BYTES:
        return Bad.HEAD
    if len(raw) > HEAD_BYTES + PART_BYTES_MAX:
        return Bad.LONG
    magic, kind, part, parts, first, last = _HEAD.unpack_from(raw)
    known = magic == MAGIC and kind & ~COMPRESSED in {HEADER, COMMITS}
    if not known or not part < parts <= PARTS_MAX or not first <= last <= NUMBER_MAX:
        return Bad.HEAD
    if last - first >= COMMITS_MAX:
        return Bad.LONG
    if (kind & ~COMPRESSED == HEADER) != (first == 0) or (first == 0) != (last == 0):
        return Bad.HEAD
    compressed = bool(kind & COMPRESSED)
    return Part(kind & ~COMPRESSED, compressed, part, parts, first, last, raw[HEAD_BYTES:])


@dataclass(slots=True)
class Joiner:
    """Makes whole messages of pieces that come one after another."""

    _held: list[Part] = field(default_factory=list)

    def take(self, raw: bytes) -> HeaderMessage | CommitsMessage | Bad | None:
        """Take one piece; None: more of that message are to come."""
        part = part_of(raw)
        if isinstance(part, Bad):
            self._held.clear()
            return part
        if part.part == 0:
            self._held.clear()
        elif not self._held or not _goes_on(self._held[-1], part):
            self._held.clear()
            return Bad.PARTS
        self._held.append(part)
        if len(self._held) < part.parts:
            return None
        body = b"".join(one.body for one in self._held)
        self._held.clear()
        return _message(part, body)


def _goes_on(before: Part, part: Part) -> bool:
    return part._replace(part=part.part - 1, body=b"") == before._replace(body=b"")


def _message(head: Part, body: bytes) -> HeaderMessage | CommitsMessage | Bad:
    if head.compressed:
        unpacked = _unpacked(body)
        if isinstance(unpacked, Bad):
            return unpacked
        body = unpacked
    try:
        return _header(body) if head.kind == HEADER else _commits(head, body)
    except _Wrong as wrong:
        return wrong.why


def _unpacked(body: bytes) -> bytes | Bad:
    unpacker = zlib.decompressobj()
    try:
        unpacked = unpacker.decompress(body, BODY_BYTES_MAX)
    except zlib.error:
        return Bad.COMPRESSION
    if unpacker.unconsumed_tail:
        return Bad.LONG
    if not unpacker.eof or unpacker.unused_data:
        return Bad.COMPRESSION
    return unpacked


class _Wrong(Exception):
    """Raised by the reading of one body, and caught where that began."""

    def __init__(self, why: Bad) -> None:
        super().__init__(why)
        self.why = why


@dataclass(slots=True)
class _Reader:
    """A body, read from front to back."""

    raw: bytes
    at: int = 0

    @property
    def ended(self) -> bool:
        return self.at == len(self.raw)

    def take(self, length: int) -> bytes:
        end = self.at + length
        if end > len(self.raw):
            raise _Wrong(Bad.LENGTH)
        taken, self.at = self.raw[self.at : end], end
        return taken

    def numbers(self, form: struct.Struct) -> tuple[int, ...]:
        return form.unpack(self.take(form.size))

    def column(self, count: int, letter: str) -> tuple[int, ...]:
        return struct.unpack(f">{count}{letter}", self.take(count * struct.calcsize(f">{letter}")))

    def text(self) -> str:
        (length,) = self.numbers(_LENGTH)
        try:
            return self.take(length).decode()
        except UnicodeDecodeError:
            raise _Wrong(Bad.TEXT) from None


def _header(body: bytes) -> HeaderMessage:
    reader = _Reader(body)
    of_header = reader.take(digest.DIGEST_BYTES)
    if reader.take(len(digest.DOMAIN)) != digest.DOMAIN:
        raise _Wrong(Bad.VALUE)
    pairs: list[tuple[str, str]] = []
    while not reader.ended:
        pairs.append((reader.text(), reader.text()))
        if len(pairs) > HEADER_KEYS_MAX:
            raise _Wrong(Bad.LONG)
    if any(one >= other for (one, _), (other, _) in pairwise(pairs)):
        raise _Wrong(Bad.ORDER)
    if any(len(text.encode()) > DATA_BYTES_MAX for pair in pairs for text in pair):
        raise _Wrong(Bad.LONG)
    return HeaderMessage(dict(pairs), of_header)


def _commits(head: Part, body: bytes) -> CommitsMessage:
    commits = tuple(_each(_Reader(body)))
    numbers = [one.batch.batch for one in commits]
    if numbers != list(range(head.first, head.last + 1)):
        raise _Wrong(Bad.ORDER)
    return CommitsMessage(commits)


def _each(reader: _Reader) -> Iterator[Commit]:
    for _ in range(COMMITS_MAX):
        if reader.ended:
            return
        length, new, made = _COMMIT.unpack(reader.take(COMMIT_BYTES))
        if new > 1:
            raise _Wrong(Bad.VALUE)
        yield _commit(_Reader(reader.take(length)), made, begins=bool(new))
    if not reader.ended:
        raise _Wrong(Bad.LONG)


def _commit(reader: _Reader, made: bytes, *, begins: bool) -> Commit:
    session = None
    if begins:
        begun, origin, started = reader.numbers(_SESSION)
        session = Session(begun, reader.text(), origin, started, reader.text())
    number, belongs, last_row, horizon, boot_ns, wall_ns, count = reader.numbers(_BATCH)
    batch = Batch(number, belongs, last_row, horizon, boot_ns, wall_ns, made)
    rows = _rows(reader, count) if count else digest.NO_ROWS
    if not reader.ended:
        raise _Wrong(Bad.LENGTH)
    if session is not None and session.session != batch.session:
        raise _Wrong(Bad.ORDER)
    right = batch.batch <= NUMBER_MAX and count <= batch.last_row <= NUMBER_MAX
    if not right or not 0 <= batch.horizon <= HORIZON_NS_MAX:
        raise _Wrong(Bad.VALUE)
    return Commit(batch, rows, session)


def _rows(reader: _Reader, count: int) -> Columns:
    t = reader.column(count, "q")
    kind = reader.column(count, "B")
    link = reader.column(count, "H")
    late = reader.column(count, "q")
    signal = reader.column(count, "h")
    lengths = reader.column(count, "I")
    if max(lengths) > DATA_BYTES_MAX or not KIND_OF.keys() >= set(kind):
        raise _Wrong(Bad.VALUE)
    data = [reader.take(length) for length in lengths]
    known = [None if one == digest.NO_SIGNAL_DBM else one for one in signal]
    return Columns(t, kind, link, late, known, data)
