"""What is in a second place only is found, told and brought in."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.archive.elsewhere import (
    kept_aside,
    of_journal,
    of_journals_gone,
    of_strangers,
    recover,
)
from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal import spill
from monitor.journal.lock import Lock
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter

KEY = b"k" * 32
HEADER = Header(
    fold=1, software="outby test", incident="0" * 32, use="exercise", opened_wall_ns=1_000
)


class Died:
    """A recorder that wrote ten rows into its journal and ten more only into the second place."""

    def __init__(self, folder: Path, key: bytes) -> None:
        self.incidents, self.second = folder / "incidents", folder / "second"
        self.incidents.mkdir()
        self.second.mkdir()
        self.journal = self.incidents / "kiln-lane.journal"
        self.file = spill.spill_path(self.journal, self.second)
        self.writer = JournalWriter.create(self.journal, HEADER, key)
        self.writer.begin_session("boot one", 500, 1_000, "outby test")
        self.t = 0
        self.put(self.writer)

    def put(self, writer: JournalWriter) -> None:
        rows = [
            Row(self.t + n, RowKind.FRAME, f"row {self.t + n}".encode(), 1) for n in range(1, 11)
        ]
        self.t += 10
        writer.write([self.writer.sealer.seal(rows, self.t, Stamp(self.t, self.t))])

    def spill(self, *, lost: bool) -> None:
        if lost:
            self.journal.unlink()
        base, place = self.writer.last, spill.Spill(self.file)
        made = place.make(self.writer, base, self.writer.sessions(), lost=lost)
        self.put(made)
        made.close(final=False)
        if lost:
            for beside in self.incidents.iterdir():
                beside.unlink()
        else:
            self.writer.close(final=False)


@pytest.fixture(params=[b"", KEY], ids=["open", "keyed"])
def died(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Died]:
    made = Died(tmp_path, request.param)
    yield made
    made.writer.close(final=False)


def rows_of(path: Path) -> list[bytes]:
    with JournalReader(path) as reader:
        steps = reader.steps(reader.last_batch().last_row)
        return [row.data for step in steps for row in step]


def everything(died: Died) -> list[bytes]:
    return [f"row {n}".encode() for n in range(1, died.t + 1)]


def test_nothing_is_elsewhere(died: Died) -> None:
    assert of_journal(died.journal, [died.second]) is None
    assert of_journals_gone(died.incidents, [died.second, died.second / "no"]) == []
    with pytest.raises(BadJournal, match="nothing of it"):
        recover(died.journal, [died.second], died.writer.key)


def test_rows_that_wait_in_a_second_place_are_told_and_brought_in(died: Died) -> None:
    died.spill(lost=False)
    found = of_journal(died.journal, [died.second])
    assert found is not None
    assert (found.rows, found.gone, found.places) == (10, False, (died.file,))
    assert of_journals_gone(died.incidents, [died.second]) == []
    assert recover(died.journal, [died.second], died.writer.key) == 10
    assert rows_of(died.journal) == everything(died)
    assert verify_digest(died.journal, died.writer.key) is None
    assert list(died.second.iterdir()) == []
    assert of_journal(died.journal, [died.second]) is None


def test_a_journal_that_is_gone_is_found_by_its_copy_and_made_anew(died: Died) -> None:
    died.spill(lost=True)
    (found,) = of_journals_gone(died.incidents, [died.second])
    assert (found.journal, found.rows, found.gone) == (died.journal, 20, True)
    assert of_journals_gone(died.incidents.parent, [died.second]) == []
    assert recover(died.journal, [died.second], died.writer.key) == 20
    assert rows_of(died.journal) == everything(died)
    assert verify_digest(died.journal, died.writer.key) is None
    assert list(died.second.iterdir()) == []


def test_of_one_that_is_gone_the_end_alone_makes_no_journal(died: Died) -> None:
    died.spill(lost=False)
    kept = died.file.read_bytes()
    died.journal.unlink()
    with pytest.raises(BadJournal, match="only its end is kept"):
        recover(died.journal, [died.second], died.writer.key)
    assert died.file.read_bytes() == kept
    assert not died.journal.exists()


def test_without_its_key_it_is_brought_in_all_the_same(died: Died) -> None:
    died.spill(lost=False)
    assert recover(died.journal, [died.second], b"") == 10
    assert verify_digest(died.journal, died.writer.key) is None


def test_what_is_being_recorded_is_not_told_of(died: Died) -> None:
    died.spill(lost=False)
    with Lock.take(died.journal) or pytest.fail("the lock was not free"):
        assert of_journal(died.journal, [died.second]) is None


def test_whose_a_file_is_nobody_can_say_but_its_name(died: Died, tmp_path: Path) -> None:
    died.spill(lost=False)
    assert spill.journal_of(died.file) == died.journal
    other = died.second / f"{'0' * 16}.spill"
    for ending in ("", spill.OF):
        source = died.file.with_name(died.file.name + ending)
        shutil.copy(source, other.with_name(other.name + ending))
    assert spill.journal_of(other) is None
    assert spill.journal_of(tmp_path / "no.spill") is None


def test_one_that_does_not_fit_keeps_nothing_else_out(died: Died, tmp_path: Path) -> None:
    """A folder still has what is left of another incident that had the same name."""
    died.spill(lost=False)
    stranger = spill.spill_path(died.journal, tmp_path)
    header = HEADER.model_copy(update={"incident": "1" * 32})
    made = JournalWriter.create(stranger, header, b"")
    made.begin_session("boot one", 500, 1_000, "outby test")
    made.close(final=True)
    with pytest.raises(BadJournal, match=r"10 rows brought in; .*another incident"):
        recover(died.journal, [tmp_path, died.second], died.writer.key)
    assert rows_of(died.journal) == everything(died)
    assert list(died.second.iterdir()) == []
    assert stranger.exists()


def test_rows_of_another_incident_are_told_as_its_own_and_come_back_once_the_name_is_free(
    died: Died,
) -> None:
    """Its journal was moved away, and another has its name by now."""
    died.spill(lost=False)
    own = died.journal.with_name("moved.journal")
    died.journal.rename(own)
    header = HEADER.model_copy(update={"incident": "1" * 32})
    other = JournalWriter.create(died.journal, header, b"")
    other.begin_session("boot one", 500, 1_000, "outby test")
    other.close(final=True)
    for put_aside in (False, True):
        if put_aside:
            spill.put_aside(died.file)
        assert of_journal(died.journal, [died.second]) is None
        found = of_strangers(died.journal, [died.second])
        assert found is not None
        assert (found.rows, found.gone) == (20, True)
        assert kept_aside(died.journal, [died.second]) == []
    died.journal.unlink()
    own.rename(died.journal)
    assert of_strangers(died.journal, [died.second]) is None
    assert kept_aside(died.journal, [died.second]) == [Path(f"{died.file}.1")]


def test_what_was_put_aside_of_a_journal_that_is_gone_brings_it_back(died: Died) -> None:
    died.spill(lost=True)
    spill.put_aside(died.file)
    found = of_journal(died.journal, [died.second])
    assert found is not None
    assert (found.rows, found.gone) == (20, True)
    assert recover(died.journal, [died.second], died.writer.key) == 20
    assert rows_of(died.journal) == everything(died)
    assert list(died.second.iterdir()) == []


def test_of_one_that_is_gone_the_whole_copy_is_taken_though_another_goes_further(
    died: Died, tmp_path: Path
) -> None:
    """The whole copy on a disk that hung then; in memory the end of it, and ten rows more."""
    memory = tmp_path / "memory"
    memory.mkdir()
    died.journal.unlink()
    base, sessions = died.writer.last, died.writer.sessions()
    whole = spill.Spill(died.file).make(died.writer, base, sessions, lost=True)
    place = spill.Spill(spill.spill_path(died.journal, memory))
    end = place.make(died.writer, base, sessions, lost=False)
    died.put(end)
    whole.close(final=False)
    end.close(final=False)
    died.writer.close(final=False)
    for beside in died.incidents.iterdir():
        beside.unlink()
    assert recover(died.journal, [died.second, memory], died.writer.key) == 20
    assert rows_of(died.journal) == everything(died)


def test_it_is_found_however_the_journal_is_named(died: Died, tmp_path: Path) -> None:
    """A recorder was started by a path with .. in it; whoever looks goes by a link."""
    died.spill(lost=False)
    link = tmp_path / "link"
    link.symlink_to(died.incidents)
    for folder in (died.second / ".." / "incidents", link):
        found = of_journal(folder / died.journal.name, [died.second])
        assert found is not None
        assert found.rows == 10
    died.journal.unlink()
    (gone,) = of_journals_gone(link, [died.second])
    assert gone.journal == died.journal
