"""Journals to try things on."""

from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

import pytest

from monitor.clock import Stamp
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter

MS = 1_000_000
Writing = Callable[..., JournalWriter]
Filling = Callable[..., list[Row]]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "kiln lane #1.outby"


@pytest.fixture
def header() -> Header:
    return Header(
        fold=1, software="outby test", incident="0" * 32, use="exercise", opened_wall_ns=1_000
    )


@pytest.fixture
def begin(path: Path, header: Header) -> Iterator[Writing]:
    """Make a journal with a session begun; closed at the end if the test has not."""
    made: list[JournalWriter] = []

    def make(key: bytes = b"") -> JournalWriter:
        writer = JournalWriter.create(path, header, key)
        writer.begin_session("boot one", 500, 1_000, "outby test")
        made.append(writer)
        return writer

    yield make
    for writer in made:
        writer.close(final=False)


@pytest.fixture
def frames() -> Callable[..., list[Row]]:
    """Rows of random 46-byte frames, 1 ms apart."""

    def make(count: int, first_t: int = 0, rng: Random | None = None) -> list[Row]:
        rng = rng or Random(1)
        return [
            Row(first_t + i * MS, RowKind.FRAME, rng.randbytes(46), link=1) for i in range(count)
        ]

    return make


@pytest.fixture
def fill() -> Filling:
    """Commit rows in batches of ``size``, each with its horizon at its last row."""

    def commit(writer: JournalWriter, rows: list[Row], size: int = 100) -> list[Row]:
        for first in range(0, len(rows), size):
            batch = rows[first : first + size]
            writer.commit(batch, batch[-1].t, Stamp(500 + batch[-1].t, 1_000 + batch[-1].t))
        return rows

    return commit
