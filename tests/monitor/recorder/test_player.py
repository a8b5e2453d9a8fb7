"""Players that are shell scripts: one that plays, one that dies, one that hangs.

One that hangs says that it is up through a named pipe, one for each tone, and holds it open as long
as anything of it lives: the end of the pipe is the end of the player and of all it has started.
"""

import asyncio
import os
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.errors import BadUsage
from monitor.recorder.player import PLAYERS, Command, File, Player, check, commands

WAIT_S = 10.0
LONG_S = 60.0
"""Longer than any test: what hangs is not killed for its time."""
WELL = 'echo "$1" >> "$0.log"'
DIES = 'echo "$1" >> "$0.log"; exit 3'
HANGS = 'exec 3> "$0.$1.pipe"; echo up >&3; sleep 60 & wait'


class Box:
    """What the player told, in order."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.told: asyncio.Queue[tuple[bool, str]] = asyncio.Queue()

    def tell(self, well: bool, detail: str) -> None:
        self.told.put_nowait((well, detail))

    def script(self, name: str, does: str) -> Command:
        path = self.folder / name
        path.write_text(f"#!/bin/sh\n{does}\n")
        path.chmod(0o700)
        if "pipe" in does:
            for tone in ("danger", "caution"):
                os.mkfifo(f"{path}.{tone}.wav.pipe")
        return (str(path),)

    def log(self, name: str) -> list[str]:
        log = self.folder / f"{name}.log"
        return log.read_text().split() if log.exists() else []

    def up(self, tone: str) -> "Up":
        return Up(self.folder / f"hangs.{tone}.wav.pipe")


class Up:
    """One hanging player, from its being up to its end."""

    def __init__(self, pipe: Path) -> None:
        self.pipe = pipe

    async def __aenter__(self) -> None:
        self.file = await asyncio.to_thread(self.pipe.open)
        assert await asyncio.to_thread(self.file.readline) == "up\n"

    async def __aexit__(self, *_: object) -> None:
        assert await asyncio.to_thread(self.file.read) == ""
        self.file.close()


@pytest.fixture
def box(tmp_path: Path) -> Box:
    return Box(tmp_path)


def file(name: str = "danger", length_s: float = LONG_S) -> File:
    return File(Path(f"{name}.wav"), length_s)


async def test_it_plays_and_tells_by_what(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([box.script("well", WELL)], box.tell)
        player.play(file("danger"))
        assert await box.told.get() == (True, "well")
        player.play(file("caution"))
        assert await box.told.get() == (True, "well")
        await player.close()
    assert box.log("well") == ["danger.wav", "caution.wav"]


async def test_asking_for_a_tone_never_waits(box: Box) -> None:
    """``play`` and ``stop`` are plain calls: nothing is started before the loop runs again."""
    player = Player([box.script("hangs", HANGS)], box.tell)
    for _ in range(100):
        player.play(file())
        player.stop()
    assert player._child is None
    await player.close()
    assert box.told.empty()


async def test_one_that_dies_is_told(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([box.script("dies", DIES)], box.tell)
        player.play(file())
        assert await box.told.get() == (False, "dies ended with 3")
        await player.close()


async def test_one_that_cannot_be_started_is_told(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([("/no/such/player",)], box.tell)
        player.play(file())
        assert await box.told.get() == (False, "player: No such file or directory")
        await player.close()


async def test_the_next_one_plays_what_the_first_could_not(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([box.script("dies", DIES), box.script("well", WELL)], box.tell)
        player.play(file())
        assert await box.told.get() == (True, "well")
        player.play(file("caution"))
        assert await box.told.get() == (True, "well")
        await player.close()
    assert box.log("dies") == ["danger.wav"]
    assert box.log("well") == ["danger.wav", "caution.wav"]


async def test_all_that_die_are_tried_once_a_tone_and_told(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([box.script("one", DIES), box.script("two", DIES)], box.tell)
        for _ in range(2):
            player.play(file())
            assert await box.told.get() == (False, "two ended with 3")
        await player.close()
    assert box.log("one") == box.log("two") == ["danger.wav"] * 2


async def test_one_that_hangs_is_killed_with_all_it_has_started_and_told(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([box.script("hangs", HANGS)], box.tell, over_s=0.3)
        player.play(file(length_s=0.2))
        async with box.up("danger"):
            pass
        assert await box.told.get() == (False, "hangs hung")
        await player.close()


async def test_a_new_tone_takes_the_place_of_the_one_that_plays(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([box.script("hangs", HANGS)], box.tell)
        player.play(file("caution"))
        async with box.up("caution"):
            player.play(file("danger"))
        async with box.up("danger"):
            player.stop()
        await player.close()
    # What was cut short says nothing of the player.
    assert box.told.empty()


async def test_at_the_end_nothing_is_left(box: Box) -> None:
    async with asyncio.timeout(WAIT_S):
        player = Player([box.script("hangs", HANGS)], box.tell)
        player.play(file())
        async with box.up("danger"):
            await player.close()
        assert player._task is None


ONE_AT_A_TIME = """
import fcntl, sys, time
lock = open(sys.argv[1] + ".lock", "w")
try:
    fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
except OSError:
    open(sys.argv[1] + ".two", "w")
"""


async def test_there_are_never_two(box: Box) -> None:
    command = (sys.executable, "-c", ONE_AT_A_TIME, str(box.folder / "player"))
    async with asyncio.timeout(WAIT_S):
        player = Player([command], box.tell)
        for number in range(6):
            for _ in range(number):
                player.play(file())
            player.play(file())
            assert await box.told.get() == (True, Path(sys.executable).name)
        await player.close()
    assert not (box.folder / "player.two").exists()


# ---------------------------------------------------------------- which players there are


def which(*there: str) -> Callable[[str], str | None]:
    return lambda name: f"/bin/{name}" if name in there else None


def test_the_players_found_in_their_order() -> None:
    assert commands("auto", which(*reversed(PLAYERS))) == [("paplay",), ("pw-play",), ("aplay",)]
    assert commands("auto", which("aplay")) == [("aplay",)]
    assert commands("auto", which()) == []


@pytest.mark.parametrize("setting", ["off", "bell"])
def test_none_where_none_is_wanted(setting: str) -> None:
    assert commands(setting, which(*PLAYERS)) == []


def test_a_command_of_ones_own() -> None:
    assert commands("afplay -v '0.5'", which("afplay")) == [("afplay", "-v", "0.5")]
    assert commands("afplay", which("aplay")) == []


@pytest.mark.parametrize("setting", ["play '", " "])
def test_a_command_that_makes_no_sense_is_refused(setting: str) -> None:
    with pytest.raises(BadUsage, match="sound"):
        check(setting)
    check("auto")
