"""Commits of the journal beside plain SQLite, and what a frame takes on the disk."""

import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

from monitor.clock import Clock
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from tests.benchmarks.frames import frames
from tests.benchmarks.measuring import Figure, compare

BATCH = 100
SIZED = 5_000
NEEDED_NS = 1_000_000


def figures() -> Iterator[Figure]:
    """Measure the journal."""
    with tempfile.TemporaryDirectory() as folder:
        yield _commit(Path(folder))
        yield _bytes_a_frame(Path(folder))


def _header() -> Header:
    return Header(fold=1, software="bench", incident="0" * 32, use="exercise", opened_wall_ns=0)


def _writer(path: Path) -> JournalWriter:
    writer = JournalWriter.create(path, _header())
    stamp = Clock().stamp()
    writer.begin_session("bench", stamp.boot_ns, stamp.wall_ns, "bench")
    return writer


def _plain(path: Path) -> sqlite3.Connection:
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=NORMAL")
    connection.execute("CREATE TABLE rows(id INTEGER PRIMARY KEY, t INTEGER, data BLOB)")
    return connection


def _commit(folder: Path) -> Figure:
    """Peer: the same bytes in three columns, one executemany a transaction."""
    made = frames(BATCH)
    clock = Clock()
    writer = _writer(folder / "ours.journal")
    horizon = 0

    def ours() -> None:
        nonlocal horizon
        rows = [
            Row(horizon + number, RowKind.FRAME, frame, 1) for number, frame in enumerate(made, 1)
        ]
        horizon += NEEDED_NS
        writer.commit(rows, horizon, clock.stamp())

    with closing(_plain(folder / "peer.db")) as connection:

        def peers() -> None:
            connection.execute("BEGIN")
            connection.executemany("INSERT INTO rows(t,data) VALUES(1,?)", [(f,) for f in made])
            connection.execute("COMMIT")

        figure = compare(
            "journal: a row, in commits of 100", "sqlite3 executemany", ours, peers, BATCH
        )
    writer.close(final=False)
    return figure


def _bytes_a_frame(folder: Path) -> Figure:
    """Peer: the frames themselves."""
    made = frames(SIZED)
    path = folder / "sized.journal"
    writer = _writer(path)
    for start in range(0, SIZED, BATCH):
        batch = made[start : start + BATCH]
        t = (start + 1) * NEEDED_NS
        rows = [Row(t + n, RowKind.FRAME, frame, 1, 1_200_000) for n, frame in enumerate(batch)]
        writer.commit(rows, t + BATCH, Clock().stamp())
    writer.close(final=True)
    ours = path.stat().st_size / SIZED
    return Figure(
        "journal: bytes a frame, 5,000 frames", ours, "B", 80, 70, len(made[0]), "the frame"
    )
