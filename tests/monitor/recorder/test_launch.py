"""What opening an incident refuses and writes: exercise and real are never mixed."""

import asyncio
import os
import socket
from pathlib import Path
from typing import Literal

import pytest

import shared
from monitor import keyfile
from monitor.clock import Clock
from monitor.errors import BadFile, BadJournal, BadUsage, Busy, NotAnswered, OutbyError
from monitor.follower import Follower
from monitor.incident.events import Opened
from monitor.journal.lock import Lock, lock_path
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.writer import JournalWriter
from monitor.recorder.launch import Launch
from monitor.recorder.sounder import Sounder
from monitor.settings import Settings

WAIT_S = 10
Use = Literal["exercise", "real"]


class Taken(Lock):
    """A lock whose journal somebody else holds."""

    def hold(self) -> bool:
        return False


class Homeless(Launch):
    """One with no folder for its socket."""

    def _desk_place(self) -> Path:
        raise NotAnswered("no folder for the desk", "here", "there")


class Unsound(Launch):
    """One that fails when all but the recorder itself is made."""

    def _sounder(self) -> Sounder:
        raise BadFile("no tones", "here", "there")


@pytest.fixture(autouse=True)
def runtime_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    """No links are said: those of the use are two ports that nobody has now."""
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other,
    ):
        links = []
        for held in (one, other):
            held.bind(("127.0.0.1", 0))
            links.append(f"udp:127.0.0.1:{held.getsockname()[1]}")
    return Settings(
        name="Kiln Lane", officer="R. Harrow", procedure="plain", sound="off",
        incidents_folder=str(tmp_path), real_links=(links[0],), exercise_links=(links[1],),
    )  # fmt: skip


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "kiln.journal"


def key_for(use: Use, folder: Path) -> str:
    path = folder / f"{use}.key"
    keyfile.create(path, use)
    return str(path)


async def run_once(launch: Launch, *, clock_checked: bool | None) -> str:
    """Record until it is ready, then stop; None for the check: go on with what is there."""
    recorder = (
        launch.resume() if clock_checked is None else launch.begin(clock_checked=clock_checked)
    )
    async with asyncio.timeout(WAIT_S):
        await recorder.run(recorder.stop)
    return launch.links.summary()


def opened(journal: Path) -> Opened:
    with Follower(journal) as follower:
        while follower.poll() and follower.catching_up:
            pass
        assert follower.incident.opened is not None
        return follower.incident.opened


def test_a_key_file_that_is_not_there_opens_nothing(journal: Path, settings: Settings) -> None:
    chosen = settings.with_options({"use": "real", "key": "no-such.key"})
    with Launch(journal, chosen, Clock()) as launch, pytest.raises(BadFile, match="key file"):
        launch.begin()
    assert not journal.exists()


@pytest.mark.parametrize(("key", "use"), [("exercise", "real"), ("real", "exercise")])
def test_a_key_file_of_the_other_use_opens_nothing(
    journal: Path, settings: Settings, tmp_path: Path, key: Use, use: Use
) -> None:
    chosen = settings.with_options({"use": use, "key": key_for(key, tmp_path)})
    with Launch(journal, chosen, Clock()) as launch, pytest.raises(BadFile) as caught:
        launch.begin()
    assert str(caught.value) == (
        f"the key is for use {key}, the incident is {use}: {chosen.key}: give the other key file"
    )
    assert not journal.exists()


@pytest.mark.parametrize(("use", "other"), [("exercise", "real"), ("real", "exercise")])
def test_a_link_of_the_other_use_opens_nothing(
    journal: Path, settings: Settings, use: Use, other: Use
) -> None:
    links = getattr(settings, f"{other}_links")
    chosen = settings.with_options({"use": use, "links": links})
    with Launch(journal, chosen, Clock()) as launch, pytest.raises(BadUsage, match="only: udp:"):
        launch.begin()
    assert not journal.exists()


async def test_an_exercise_that_is_taken_up_again_is_on_its_own_links(
    journal: Path, settings: Settings
) -> None:
    """Whoever takes it up need not say the use again: the journal tells it."""
    chosen = settings.with_options({"use": "exercise"})
    port = settings.exercise_links[0].rpartition(":")[2]
    with Launch(journal, chosen, Clock()) as launch:
        assert port in await run_once(launch, clock_checked=False)
    with Launch(journal, settings, Clock()) as launch:
        assert port in await run_once(launch, clock_checked=None)
    chosen = settings.with_options({"links": settings.real_links})
    with (
        Launch(journal, chosen, Clock(), said={"links"}) as launch,
        pytest.raises(BadUsage, match="only: udp:"),
    ):
        launch.resume()


@pytest.mark.parametrize("checked", [True, False])
async def test_whether_the_clock_was_checked_is_in_the_journal(
    journal: Path, settings: Settings, *, checked: bool
) -> None:
    chosen = settings.with_options({"use": "real"})
    with Launch(journal, chosen, Clock()) as launch:
        await run_once(launch, clock_checked=checked)
    assert opened(journal).clock_checked is checked


async def test_what_virtual_packs_are_started_from_is_in_the_header(
    journal: Path, settings: Settings
) -> None:
    chosen = settings.with_options({"use": "exercise"})
    with Launch(journal, chosen, Clock()) as launch:
        recorder = launch.begin(simulated="scenario kiln-lane, seed 7")
        async with asyncio.timeout(WAIT_S):
            await recorder.run(recorder.stop)
    with JournalReader(journal) as reader:
        assert reader.header().simulated == "scenario kiln-lane, seed 7"


def test_a_real_incident_has_no_virtual_packs(journal: Path, settings: Settings) -> None:
    chosen = settings.with_options({"use": "real"})
    with Launch(journal, chosen, Clock()) as launch, pytest.raises(BadUsage, match="exercise"):
        launch.begin(simulated="scenario kiln-lane, seed 7")
    assert not journal.exists()


def test_a_journal_from_before_that_question_says_that_it_was_not(settings: Settings) -> None:
    """The golden journal was written when there was no such field."""
    before = opened(shared.path("journals", "kiln-lane.journal"))
    assert before.name == settings.name
    assert not before.clock_checked


@pytest.mark.parametrize(
    "change", [{"real_links": ("udp:x",)}, {"links": ("tcp:1",)}, {"sound": "player '"}]
)
def test_what_is_not_right_is_said_before_anything_is_made(
    journal: Path, settings: Settings, change: dict[str, object]
) -> None:
    with pytest.raises(OutbyError):
        Launch(journal, settings.with_options(change), Clock())
    assert list(journal.parent.glob("kiln*")) == []


def test_a_frame_that_comes_before_there_is_a_recorder_ends_no_link(
    journal: Path, settings: Settings
) -> None:
    """Links are opened first, and their threads wake whoever takes what they read: nobody yet.

    A link whose thread ended there was deaf for as long as the recorder ran.
    """
    with Launch(journal, settings, Clock()) as launch:
        launch._wake()


def test_where_there_is_no_place_for_the_desk_nothing_is_made(
    journal: Path, settings: Settings
) -> None:
    with pytest.raises(NotAnswered, match="no folder for the desk"):
        Homeless(journal, settings, Clock())
    assert list(journal.parent.glob("kiln*")) == []


def test_an_opening_that_fails_after_the_file_was_made_leaves_none(
    journal: Path, settings: Settings
) -> None:
    chosen = settings.with_options({"use": "real"})
    with Unsound(journal, chosen, Clock()) as launch, pytest.raises(BadFile, match="no tones"):
        launch.begin()
    assert list(journal.parent.glob("kiln*")) == []


def test_a_file_that_another_recorder_holds_already_is_left_to_it(
    journal: Path, settings: Settings
) -> None:
    """Its lock file was deleted, and the other came in, in the very instant of the opening."""
    chosen = settings.with_options({"use": "real"})
    with Launch(journal, chosen, Clock()) as launch:
        launch._lock.let_go()
        launch._lock = Taken(-1, journal)
        with pytest.raises(Busy):
            launch.begin()
    assert journal.exists()


def test_a_journal_that_was_never_opened_is_told_as_that(journal: Path, settings: Settings) -> None:
    header = Header(fold=1, software="x", incident="0" * 32, use="real", opened_wall_ns=1)
    JournalWriter.create(journal, header).close(final=False)
    with (
        Launch(journal, settings, Clock()) as launch,
        pytest.raises(BadJournal, match=r"never opened.*outby incidents discard kiln"),
    ):
        launch.resume()


def test_a_folder_that_everybody_can_write_is_no_place_for_a_journal(
    tmp_path: Path, settings: Settings
) -> None:
    folder = tmp_path / "open"
    folder.mkdir()
    folder.chmod(0o777)
    chosen = settings.with_options({"use": "real"})
    with (
        Launch(folder / "kiln.journal", chosen, Clock()) as launch,
        pytest.raises(BadJournal, match="everybody can write in the folder"),
    ):
        launch.begin()
    assert list(folder.glob("*.journal")) == []


def test_a_link_in_the_locks_place_is_not_followed(journal: Path, settings: Settings) -> None:
    lock_path(journal).symlink_to(journal.with_name("elsewhere"))
    with pytest.raises(BadJournal, match="was not made by this program"):
        Launch(journal, settings, Clock())
    assert not journal.with_name("elsewhere").exists()


def test_a_folder_in_the_locks_place_is_named(journal: Path, settings: Settings) -> None:
    lock_path(journal).mkdir()
    with pytest.raises(BadJournal) as caught:
        Launch(journal, settings, Clock())
    told = f"Is a directory: {lock_path(journal)}: see whose it is; remove it"
    assert str(caught.value) == told


async def test_a_second_place_that_hangs_keeps_no_opening(
    journal: Path, settings: Settings, tmp_path: Path
) -> None:
    """A pipe keeps whoever opens it until somebody writes to it, as a dead disk does."""
    card = tmp_path / "card"
    card.mkdir()
    os.mkfifo(card / "0.spill")
    chosen = settings.with_options({"use": "exercise", "spill_folder": str(card)})
    with Launch(journal, chosen, Clock()) as launch:
        await run_once(launch, clock_checked=False)
    os.close(os.open(card / "0.spill", os.O_WRONLY))
    with JournalReader(journal) as reader:
        rows = reader.read(0).rows
    told = [row.data.decode() for row in rows if b'"what":"second_place"' in row.data]
    assert sum('"no answer"' in one and str(card) in one for one in told) == 1
    # Another was chosen, so there is one all the same.
    assert sum('"ready"' in one and str(card) not in one for one in told) == 1
    assert sorted(one.name for one in card.iterdir()) == ["0.spill"]
