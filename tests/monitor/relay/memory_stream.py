"""A stream in memory that keeps the broker's rules, and journals to send: shared by tests."""

import random
import sqlite3
from collections.abc import AsyncGenerator, Callable
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from monitor.clock import Stamp
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from monitor.relay.broker import BrokerFault, Found, Keeping, Message, NotNext

INCIDENT = "0123456789abcdef" * 2
OPERATION = "Kiln works"
WALL_NS = 1_700_000_000_000_000_000
MS = 1_000_000
KEY = bytes(range(32))


@dataclass
class Kept:
    subject: str
    data: bytes


class _Raw:
    """What a message is acknowledged by."""

    def __init__(self, acknowledged: list[int], seq: int) -> None:
        self._acknowledged, self._seq = acknowledged, seq

    async def ack(self) -> None:
        self._acknowledged.append(self._seq)


@dataclass
class MemoryStream:
    """Numbers messages from 1, knows names again, refuses what does not follow; may fail."""

    kept: list[Kept] = field(default_factory=list)
    names: dict[str, int] = field(default_factory=dict)
    acknowledged: list[int] = field(default_factory=list)
    trouble: Callable[[], str] = lambda: ""
    """Asked at each publishing: "before" or "after" it is kept the connection goes; "" it holds."""
    connections: int = 0

    async def connect(self) -> "MemoryStream":
        self.connections += 1
        return self

    async def close(self) -> None:
        pass

    async def make_stream(self, keeping: Keeping) -> None:
        pass

    async def subjects(self, wanted: str) -> list[str]:
        place = wanted.removesuffix(".*.commits").removesuffix("*")
        return sorted({one.subject for one in self.kept if one.subject.startswith(place)})

    async def bounds(self) -> tuple[int, int]:
        return (1, len(self.kept))

    async def last(self, subject: str) -> Found | None:
        return self._found(subject, range(len(self.kept), 0, -1))

    async def next(self, subject: str, seq: int) -> Found | None:
        return self._found(subject, range(max(seq, 1), len(self.kept) + 1))

    def _found(self, subject: str, places: range) -> Found | None:
        for seq in places:
            if self.kept[seq - 1].subject == subject:
                return Found(seq, self.kept[seq - 1].data)
        return None

    async def publish(self, subject: str, data: bytes, name: str, after: int) -> tuple[int, bool]:
        trouble = self.trouble()
        if trouble == "before":
            raise BrokerFault("the connection has gone")
        if name in self.names:
            return self.names[name], True
        last = await self.last(subject)
        if (last.seq if last else 0) != after:
            raise NotNext
        self.put(subject, data)
        self.names[name] = len(self.kept)
        if trouble == "after":
            raise BrokerFault("the connection has gone")
        return len(self.kept), False

    def put(self, subject: str, data: bytes) -> None:
        """What anybody could put there."""
        self.kept.append(Kept(subject, data))

    async def follow(self, subject: str, seq: int) -> AsyncGenerator[Message | None, None]:
        at = max(seq, 1)
        while True:
            while at <= len(self.kept):
                if self.kept[at - 1].subject == subject:
                    raw: Any = _Raw(self.acknowledged, at)
                    yield Message(at, self.kept[at - 1].data, raw)
                at += 1
            yield None


async def no_pause(_seconds: float) -> None:
    """Time goes by at once."""


def row(t: int, data: bytes, kind: RowKind = RowKind.FRAME) -> Row:
    return Row(t, kind, data, 1, 0)


@dataclass
class Base:
    """A recorder's journal, and nothing else of a recorder."""

    path: Path
    writer: JournalWriter
    seed: random.Random
    t: int = 0

    @classmethod
    def begin(cls, path: Path, seed: int, key: bytes = b"", incident: str = INCIDENT) -> "Base":
        header = Header(
            fold=1, software="outby 0", incident=incident, use="exercise", opened_wall_ns=WALL_NS
        )
        path.parent.mkdir(parents=True, exist_ok=True)
        writer = JournalWriter.create(path, header, key)
        base = cls(path, writer, random.Random(seed))
        base.session()
        opened = b'{"what":"opened","operation":"Kiln works"}'
        base.commit([row(0, opened, RowKind.FACT)])
        return base

    def session(self) -> None:
        self.writer.begin_session("boot", 0, WALL_NS + self.t, "outby 0")

    def commit(self, rows: list[Row]) -> None:
        stamp = Stamp(self.t, WALL_NS + self.t)
        self.writer.commit(rows, self.t, stamp)

    def grow(self, commits: int) -> None:
        """Add commits of up to five frames, 50 ms apart."""
        for _ in range(commits):
            before, self.t = self.t, self.t + 50 * MS
            times = sorted(
                self.seed.randint(before + 1, self.t) for _ in range(self.seed.randint(0, 5))
            )
            self.commit([row(t, self.seed.randbytes(self.seed.randint(20, 60))) for t in times])

    def close_incident(self) -> None:
        self.t += 50 * MS
        self.commit([row(self.t, b'{"what":"close","id":"x"}', RowKind.ACT)])

    def end(self) -> None:
        self.writer.close(final=True)


TABLES = ("header", "sessions", "rows", "batches")


def contents(path: Path) -> dict[str, list[Any]]:
    """Every table of a journal, row by row, by a reader of its own."""
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        return {
            table: sorted(connection.execute(f"SELECT * FROM {table}").fetchall())
            for table in TABLES
        }
