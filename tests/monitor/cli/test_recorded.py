import shutil
from pathlib import Path

import pytest

import shared
from monitor.cli.recorded import picture_of, recorded_here, status_of, the_one
from monitor.errors import BadJournal, BadUsage, NotAnswered
from monitor.journal.lock import Lock
from monitor.settings import Settings


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    for name in ("one", "two"):
        shutil.copy(shared.path("journals", "kiln-lane.journal"), tmp_path / f"{name}.journal")
    return Settings(incidents_folder=str(tmp_path))


def test_only_what_somebody_records_into_is_found(settings: Settings, tmp_path: Path) -> None:
    with pytest.raises(NotAnswered, match="nothing is recorded here"):
        the_one(None, settings)
    lock = Lock.take(tmp_path / "one.journal")
    assert lock is not None
    with lock:
        assert recorded_here(settings) == [tmp_path / "one.journal"]
        assert the_one(None, settings) == tmp_path / "one.journal"
        assert the_one(Path("one"), settings) == tmp_path / "one.journal"
        with pytest.raises(NotAnswered, match="nobody records this incident"):
            the_one(Path("two"), settings)
        with pytest.raises(BadJournal, match="no such journal"):
            the_one(Path("three"), settings)
        other = Lock.take(tmp_path / "two.journal")
        assert other is not None
        with other, pytest.raises(BadUsage, match=r"several incidents .*: one, two: name one"):
            the_one(None, settings)


def test_what_is_in_the_journal_is_told(settings: Settings, tmp_path: Path) -> None:
    assert picture_of(tmp_path / "one.journal", settings).name == "Kiln Lane"
    found = status_of(tmp_path / "one.journal", settings)
    assert (found.incident, found.use, found.journal) == ("Kiln Lane", "exercise", "one.journal")
    assert found.pid is None
    assert any("nothing was committed" in fault for fault in found.faults)
