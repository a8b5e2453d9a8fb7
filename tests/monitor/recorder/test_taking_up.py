"""Taken up again by somebody who knows nothing of it: the journal tells what it was."""

import asyncio
import socket
from pathlib import Path

import pytest

from monitor import keyfile
from monitor.clock import Clock
from monitor.errors import BadFile
from monitor.follower import Follower
from monitor.incident.events import DiskState, Setup
from monitor.incident.picture import Picture
from monitor.journal.reader import JournalReader
from monitor.journal.verify import examine
from monitor.recorder.launch import Launch
from monitor.recorder.reading_back import recalled
from monitor.settings import Settings

WAIT_S = 10
STRANGER = Settings(sound="off")
"""Whoever takes it up: other links, another folder, no key."""


@pytest.fixture(autouse=True)
def runtime_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    # What a base remembers is kept there by whoever names no other place.
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "of nobody"))


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "kiln.journal"


@pytest.fixture
def links() -> tuple[str, str]:
    """Two ports that nobody has now."""
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other,
    ):
        names = []
        for held in (one, other):
            held.bind(("127.0.0.1", 0))
            names.append(f"udp:127.0.0.1:{held.getsockname()[1]}")
    return names[0], names[1]


@pytest.fixture
def key(tmp_path: Path) -> Path:
    path = tmp_path / "fleet.key"
    keyfile.create(path, "exercise")
    return path


@pytest.fixture
def settings(tmp_path: Path, links: tuple[str, str], key: Path) -> Settings:
    return Settings(
        name="Kiln Lane", officer="R. Harrow", procedure="plain", use="exercise", sound="bell",
        evacuation_tone=2, links=links, key=str(key), incidents_folder=str(tmp_path),
    )  # fmt: skip


def record(journal: Path, settings: Settings, *said: str) -> Launch:
    """Record until it is ready, then stop."""
    with Launch(journal, settings, Clock(), said=said) as launch:
        recorder = launch.resume() if journal.exists() else launch.begin()
        asyncio.run(asyncio.wait_for(recorder.run(recorder.stop), WAIT_S))
    return launch


def now(journal: Path) -> tuple[Picture, Setup]:
    with Follower(journal) as follower:
        while follower.poll() and follower.catching_up:
            pass
        picture = follower.picture()
    with JournalReader(journal) as reader:
        setup = recalled(reader, None).setup
    assert setup is not None
    return picture, setup


def alarms(picture: Picture) -> set[str]:
    """Those whose condition holds; one that is over waits to be taken."""
    return {alarm.kind for alarm in picture.alarms if "returned" not in alarm.state}


def names(picture: Picture) -> list[str]:
    return [link.name for link in picture.links]


def test_all_that_a_successor_needs_is_in_the_journal_but_no_key(
    journal: Path, settings: Settings, links: tuple[str, str], key: Path, tmp_path: Path
) -> None:
    record(journal, settings)
    _, setup = now(journal)
    assert setup == Setup(
        links=links, key=str(key), sound="bell", evacuation_tone=2, incidents_folder=str(tmp_path)
    )
    secrets = [word for word in key.read_text().split() if len(word.strip('"')) == 64]
    assert len(secrets) == 2
    raw = journal.read_bytes() + journal.with_name(journal.name + "-wal").read_bytes()
    assert not any(word.strip('"').encode() in raw for word in secrets)


def test_a_stranger_goes_on_with_what_it_was(
    journal: Path, settings: Settings, links: tuple[str, str], tmp_path: Path
) -> None:
    record(journal, settings)
    before, setup = now(journal)
    launch = record(journal, STRANGER)
    after, again = now(journal)
    assert names(after) == names(before) == [f"udp {link.removeprefix('udp:')}" for link in links]
    assert all(link.up for link in after.links)
    assert again == setup
    assert launch._settings.sound == "bell"
    assert launch._settings.evacuation_tone == 2
    assert "keys_lost" not in alarms(after)
    assert not (tmp_path / "of nobody").exists()
    assert examine(journal, keyfile.journal_key(Path(settings.key))).fault is None


def test_what_is_said_for_this_start_goes_before_and_holds_from_then_on(
    journal: Path, settings: Settings, links: tuple[str, str]
) -> None:
    record(journal, settings)
    record(journal, STRANGER.with_options({"links": links[1:]}), "links")
    picture, setup = now(journal)
    assert setup.links == links[1:]
    assert names(picture) == [f"udp {links[1].removeprefix('udp:')}"]
    record(journal, STRANGER)
    assert now(journal)[1].links == links[1:]


def test_links_that_were_allowed_at_the_opening_stay_so(
    journal: Path, settings: Settings, links: tuple[str, str]
) -> None:
    """Whoever changes settings meanwhile must not keep a recorder from starting."""
    record(journal, settings)
    changed = STRANGER.with_options({"real_links": links})
    record(journal, changed)
    assert names(now(journal)[0])


@pytest.mark.parametrize("count", [1, 2])
def test_a_link_of_before_that_cannot_be_opened_is_a_danger(
    journal: Path, settings: Settings, links: tuple[str, str], count: int
) -> None:
    """Also where another is left."""
    record(journal, settings.with_options({"links": links[:count]}))
    _, host, port = links[0].split(":")
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as taken:
        taken.bind((host, int(port)))
        record(journal, STRANGER)
    picture, _ = now(journal)
    (alarm,) = [alarm for alarm in picture.alarms if alarm.kind == "receiver_down"]
    assert alarm.priority.name == "DANGER"


def test_without_its_key_file_recording_goes_on_and_says_so(
    journal: Path, settings: Settings, key: Path
) -> None:
    """Deaf is worse than unproven. With the file back the alarm is over; verify tells of both."""
    record(journal, settings)
    away = key.rename(key.with_name("away.key"))
    record(journal, STRANGER)
    picture, setup = now(journal)
    (alarm,) = [alarm for alarm in picture.alarms if alarm.kind == "keys_lost"]
    assert alarm.priority.name == "DANGER"
    assert str(key) in setup.key_fault
    found = examine(journal, keyfile.journal_key(away))
    assert found.fault is None
    keyless = found.keyless
    assert keyless > 0
    away.rename(key)
    record(journal, STRANGER)
    picture, setup = now(journal)
    assert "keys_lost" not in alarms(picture)
    assert setup.key_fault == ""
    found = examine(journal, keyfile.journal_key(key))
    assert (found.fault, found.keyless) == (None, keyless)


def test_a_key_file_that_is_back_is_picked_up_while_recording(
    journal: Path, settings: Settings, key: Path
) -> None:
    record(journal, settings)
    away = key.rename(key.with_name("away.key"))
    with Launch(journal, STRANGER, Clock()) as launch:
        recorder = launch.resume()

        def ready() -> None:
            assert now(journal)[1].key_fault
            away.rename(key)
            look()

        def look() -> None:
            if now(journal)[1].key_fault:
                asyncio.get_running_loop().call_later(0.05, look)
            else:
                recorder.stop()

        asyncio.run(asyncio.wait_for(recorder.run(ready), 3 * WAIT_S))
    picture, setup = now(journal)
    assert "keys_lost" not in alarms(picture)
    assert setup.key == str(key)
    found = examine(journal, keyfile.journal_key(key))
    assert found.fault is None
    keyless = found.keyless
    assert keyless > 0
    record(journal, STRANGER)
    found = examine(journal, keyfile.journal_key(key))
    assert (found.fault, found.keyless) == (None, keyless)


def test_a_journal_does_not_choose_where_files_are_made(
    journal: Path, settings: Settings, tmp_path: Path
) -> None:
    """A stranger may have written it: only a folder that has a base's memory is believed."""
    theirs = tmp_path / "theirs"
    record(journal, settings.with_options({"incidents_folder": str(theirs)}))
    (theirs / "base-exercise.json").unlink()
    record(journal, STRANGER)
    assert list(theirs.iterdir()) == []
    assert (tmp_path / "of nobody").exists()


def test_somebody_elses_memory_makes_no_folder_ones_own(
    journal: Path, settings: Settings, tmp_path: Path
) -> None:
    """Whoever wrote the journal can lay a memory there too, or a link to one."""
    theirs, memory = tmp_path / "theirs", tmp_path / "theirs" / "base-exercise.json"
    record(journal, settings.with_options({"incidents_folder": str(theirs)}))
    memory.rename(tmp_path / "laid.json")
    memory.symlink_to(tmp_path / "laid.json")
    record(journal, STRANGER)
    assert (tmp_path / "of nobody").exists()
    assert [one.name for one in theirs.iterdir()] == [memory.name]
    assert memory.is_symlink()


def test_a_key_file_that_was_moved_is_found_where_settings_say(
    journal: Path, settings: Settings, key: Path
) -> None:
    record(journal, settings)
    moved = key.rename(key.with_name("moved.key"))
    record(journal, STRANGER.with_options({"key": str(moved)}))
    assert now(journal)[1].key == str(moved)
    assert "keys_lost" not in alarms(now(journal)[0])


def test_another_fleets_key_in_its_place_is_as_good_as_none(
    journal: Path, settings: Settings, key: Path
) -> None:
    record(journal, settings)
    key.unlink()
    keyfile.create(key, "exercise")
    record(journal, STRANGER)
    picture, setup = now(journal)
    assert "keys_lost" in alarms(picture)
    assert "opened with another key" in setup.key_fault


def test_a_key_file_that_is_said_must_be_right(
    journal: Path, settings: Settings, tmp_path: Path
) -> None:
    record(journal, settings)
    with pytest.raises(BadFile, match="key file"):
        record(journal, STRANGER.with_options({"key": str(tmp_path / "none")}), "key")


def test_an_open_incident_is_gone_on_with_openly(
    journal: Path, settings: Settings, key: Path
) -> None:
    """A key that settings name is for the next one; one that is said for this is an error."""
    record(journal, settings.with_options({"key": ""}))
    with_key = STRANGER.with_options({"key": str(key)})
    record(journal, with_key)
    assert now(journal)[1].key == ""
    with pytest.raises(BadFile, match="opened without a key"):
        record(journal, with_key, "key")


def test_a_journal_brings_no_command(journal: Path, settings: Settings) -> None:
    """Whoever hands over a file would else have a program of theirs run by ``outby watch``."""
    record(journal, settings.model_copy(update={"sound": "true --play"}))
    assert now(journal)[1].sound == "true --play", "who opens it says how it sounds"

    launch = record(journal, STRANGER)
    assert launch._settings.sound == "auto"
    assert now(journal)[1].sound == "auto"


def test_a_command_of_ones_own_settings_is_gone_on_with(journal: Path, settings: Settings) -> None:
    own = settings.model_copy(update={"sound": "true --play"})
    record(journal, own)
    assert record(journal, own)._settings.sound == "true --play"
    assert record(journal, STRANGER, "sound")._settings.sound == "off", "said for this very start"


def test_trouble_with_the_disk_that_is_over_is_told_as_over(
    journal: Path, settings: Settings
) -> None:
    """A recorder that died of it told it last; the next finds the disk well."""
    with Launch(journal, settings, Clock()) as launch:
        recorder = launch.begin()

        def hang() -> None:
            full = DiskState(state="waiting", detail="the disk takes nothing")
            recorder._sequencer.noticed(full, Clock().stamp())
            recorder.stop()

        asyncio.run(asyncio.wait_for(recorder.run(hang), WAIT_S))
    assert now(journal)[0].disk == "waiting"

    record(journal, settings)
    picture, _ = now(journal)
    assert picture.disk == "ok"
    assert "disk" not in alarms(picture)
