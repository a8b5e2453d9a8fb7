"""Journals like the golden one, with something else in them and digests that are right."""

from collections.abc import Callable
from pathlib import Path

import pytest

import shared
from monitor.clock import Stamp
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter

Change = Callable[[list[Row]], list[Row]]
Remade = Callable[..., Path]
GOLDEN = shared.path("journals", "kiln-lane.journal")


@pytest.fixture(scope="session")
def golden_rows() -> list[Row]:
    with JournalReader(GOLDEN) as reader:
        return [row for step in reader.steps(reader.last_batch().last_row) for row in step]


@pytest.fixture
def remade(tmp_path: Path, golden_rows: list[Row]) -> Remade:
    """Write the golden journal again, changed, as somebody would who can make digests."""

    def make(change: Change = list, *, final: bool = True, **header: object) -> Path:
        path = tmp_path / "again.journal"
        with JournalReader(GOLDEN) as reader:
            stored: Header = reader.header().model_copy(update=header)
            last = reader.last_batch()
        writer = JournalWriter.create(path, stored)
        writer.begin_session("golden", 0, stored.opened_wall_ns, stored.software)
        rows = change(golden_rows)
        for row in rows:
            stamp = Stamp(row.t, stored.opened_wall_ns + row.t)
            if row.t == writer.last.horizon:
                continue
            same = [other for other in rows if other.t == row.t]
            writer.commit(same, row.t, stamp)
        end = max(last.horizon, writer.last.horizon)
        writer.commit([], end, Stamp(end, stored.opened_wall_ns + end))
        writer.close(final=final)
        return path

    return make
