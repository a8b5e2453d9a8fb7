from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from monitor.report.reading import Told, read

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Raw, Tale

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S


def written(path: Path, rows: list[Row]) -> Path:
    header = Header(
        fold=1, software="outby test", incident="0" * 32, use="exercise", opened_wall_ns=WALL_NS
    )
    writer = JournalWriter.create(path, header)
    writer.begin_session("boot", 0, WALL_NS, "outby test")
    writer.commit(rows, 5 * S, Stamp(0, WALL_NS))
    writer.close(final=True)
    return path


def test_header_sessions_and_the_newest_commit(golden: Told, raw: "Raw") -> None:
    assert golden.name == "kiln-lane.journal"
    assert golden.header.use == "exercise"
    assert golden.last.horizon == golden.gathered.end_ns == raw.horizon
    assert len(golden.sessions) == 1


def test_a_journal_of_a_few_rows(tmp_path: Path, tale: "Tale") -> None:
    told = read(written(tmp_path / "a.journal", tale.rows))
    assert told.gathered.opened is not None


def test_no_incident_in_it(tmp_path: Path) -> None:
    with pytest.raises(BadJournal, match="no incident was opened"):
        read(written(tmp_path / "a.journal", []))


def test_a_row_that_cannot_be_understood(tmp_path: Path, tale: "Tale") -> None:
    tale.rows.append(Row(1 * S, RowKind.ACT, b'{"what": "fly"}'))
    with pytest.raises(BadJournal, match="not to be understood"):
        read(written(tmp_path / "a.journal", tale.rows))
