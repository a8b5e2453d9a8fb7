"""``outby watch`` before any screen: which incident, which board, what a dead recorder said."""

import argparse
import sys
from pathlib import Path

import pytest

from monitor.board.session.recorder_process import RecorderProcess, Told
from monitor.cli import build_parser, watch
from monitor.errors import BadJournal, BadUsage, Exit, OutbyError
from monitor.journal.lock import Lock, lock_path
from monitor.settings import Settings

NOTHING = Told(journal="never")


def parsed(*words: str) -> argparse.Namespace:
    return build_parser().parse_args(["watch", *words])


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(name="Kiln Lane", incidents_folder=str(tmp_path))


def test_the_incident_that_is_recorded_is_found(settings: Settings, tmp_path: Path) -> None:
    for name in ("old", "live"):
        (tmp_path / f"{name}.journal").touch()
    with Lock.take(tmp_path / "live.journal") or pytest.fail("the lock was not free"):
        assert watch._find(settings, parsed()) == tmp_path / "live.journal"


def test_a_neighbour_whose_lock_cannot_be_looked_at_hides_no_other(
    settings: Settings, tmp_path: Path
) -> None:
    """Another user's, or a link in a circle."""
    for name in ("bad", "live"):
        (tmp_path / f"{name}.journal").touch()
    lock_path(tmp_path / "bad.journal").symlink_to("bad.journal.lock")
    with Lock.take(tmp_path / "live.journal") or pytest.fail("the lock was not free"):
        assert watch._find(settings, parsed()) == tmp_path / "live.journal"


def test_several_that_are_recorded_must_be_told_apart(settings: Settings, tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / f"{name}.journal").touch()
    one = Lock.take(tmp_path / "one.journal") or pytest.fail("the lock was not free")
    two = Lock.take(tmp_path / "two.journal") or pytest.fail("the lock was not free")
    with one, two, pytest.raises(BadUsage, match=r"one\.journal, two\.journal"):
        watch._find(settings, parsed())


def test_a_name_opens_a_new_one_beside(settings: Settings, tmp_path: Path) -> None:
    (tmp_path / "live.journal").touch()
    with Lock.take(tmp_path / "live.journal") or pytest.fail("the lock was not free"):
        found = watch._find(settings, parsed("--name", "Kiln Lane"))
    assert found.parent == tmp_path
    assert found.name.endswith("kiln-lane.journal")


def test_looking_on_needs_something_to_look_at(settings: Settings) -> None:
    with pytest.raises(BadUsage, match="no incident is being recorded"):
        watch._find(settings, parsed("--view"))


def test_a_new_incident_needs_all_that_opens_it(settings: Settings, tmp_path: Path) -> None:
    recorder = RecorderProcess(NOTHING, lambda: True)
    with pytest.raises(BadUsage, match="--officer"):
        watch._record_if_need_be(tmp_path / "new.journal", settings, recorder)
    assert not recorder.started


def test_a_living_recorder_is_not_started_again(settings: Settings, tmp_path: Path) -> None:
    recorder = RecorderProcess(NOTHING, lambda: False)
    watch._record_if_need_be(tmp_path / "new.journal", settings, recorder)
    assert not recorder.started


def test_what_the_recorder_said_comes_out_with_its_code(tmp_path: Path) -> None:
    code = "import sys; print('outby: the port is in use: udp', file=sys.stderr); sys.exit(4)"
    recorder = RecorderProcess(NOTHING, lambda: True, (sys.executable, "-c", code))
    recorder.start()
    with pytest.raises(OutbyError, match="the port is in use: udp") as caught:
        watch._follow(tmp_path / "never.journal", recorder, checkpoints=False)
    assert caught.value.exit_code is Exit.LINK
    recorder.forget()


def test_a_journal_that_is_not_there(tmp_path: Path) -> None:
    recorder = RecorderProcess(NOTHING, lambda: True)
    with pytest.raises(BadJournal):
        watch._follow(tmp_path / "never.journal", recorder, checkpoints=False)
