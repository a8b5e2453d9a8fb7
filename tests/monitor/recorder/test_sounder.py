"""From what waits to a player that is a script, and what the boards are told of it."""

import asyncio
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.incident.events import SoundState
from monitor.incident.picture import Sounding
from monitor.recorder.player import Command
from monitor.recorder.sounder import Sounder, write_tones
from monitor.sound.tones import CAUTION, DANGER, NOTICE, evacuation
from monitor.sound.wav import wav

WAIT_S = 10.0
S = 1_000_000_000


@pytest.fixture
def player(tmp_path: Path) -> Callable[[str], list[Command]]:
    """Make a player that notes what it plays and then does something."""

    def make(then: str) -> list[Command]:
        path = tmp_path / "player"
        path.write_text(f'#!/bin/sh\nbasename "$1" >> "$0.log"\n{then}\n')
        path.chmod(0o700)
        return [(str(path),)]

    return make


@pytest.fixture
def told() -> "asyncio.Queue[SoundState]":
    return asyncio.Queue()


def played(folder: Path) -> list[str]:
    log = folder / "player.log"
    return log.read_text().split() if log.exists() else []


def test_the_tones_are_written_whole(tmp_path: Path) -> None:
    files = write_tones(tmp_path)
    assert {path.name for path in tmp_path.iterdir()} == {"danger.wav", "caution.wav", "notice.wav"}
    assert files[DANGER].path.read_bytes() == wav(DANGER)
    assert [files[tone].length_s for tone in (DANGER, CAUTION, NOTICE)] == [2.75, 1.0, 0.6]


@pytest.mark.parametrize(
    ("setting", "state", "detail"),
    [
        ("off", "off", "as it was asked for"),
        ("bell", "bell", "as it was asked for"),
        ("auto", "missing", "not found: paplay, pw-play, aplay"),
        ("horn --loud", "missing", "not found: horn"),
    ],
)
async def test_without_a_player_it_says_so_and_does_nothing(
    setting: str, state: str, detail: str, told: "asyncio.Queue[SoundState]"
) -> None:
    sounder = Sounder(setting, [], {})
    sounder.start(told.put_nowait)
    assert told.get_nowait() == SoundState.model_validate({"state": state, "detail": detail})
    sounder.look(0, Sounding(danger_ns=0))
    await sounder.close()
    assert told.empty()


async def test_a_notice_at_the_start_then_what_waits(
    player: Callable[[str], list[Command]], tmp_path: Path, told: "asyncio.Queue[SoundState]"
) -> None:
    async with asyncio.timeout(WAIT_S):
        # It fails at all but the notice, so that we hear of it.
        found = player('case "$1" in *notice.wav) ;; *) exit 3 ;; esac')
        sounder = Sounder("auto", found, write_tones(tmp_path))
        sounder.start(told.put_nowait)
        assert await told.get() == SoundState(state="player", detail=found[0][0])
        assert sounder._player is not None
        while sounder._player._task is not None:
            await asyncio.wait([sounder._player._task])
        sounder.look(0, Sounding(caution_ns=0))
        assert (await told.get()).detail == "player ended with 3"
        await sounder.close()
    assert played(tmp_path) == ["notice.wav", "caution.wav"]


async def test_a_player_that_dies_is_told_once_and_one_that_recovers_too(
    player: Callable[[str], list[Command]], tmp_path: Path, told: "asyncio.Queue[SoundState]"
) -> None:
    broken = tmp_path / "broken"
    broken.write_text("")
    async with asyncio.timeout(WAIT_S):
        sounder = Sounder("auto", player(f'[ ! -e "{broken}" ]'), write_tones(tmp_path))
        sounder.start(told.put_nowait)
        assert [(await told.get()).state, (await told.get()).state] == ["player", "failing"]
        broken.unlink()
        sounder.look(0, Sounding(danger_ns=0))
        assert (await told.get()).state == "player"
        await sounder.close()
    assert told.empty()
    assert played(tmp_path) == ["notice.wav", "danger.wav"]


async def test_the_evacuation_tone_is_heard_once_an_order_and_an_alarm_goes_before(
    player: Callable[[str], list[Command]], tmp_path: Path, told: "asyncio.Queue[SoundState]"
) -> None:
    tone = evacuation(2)

    async def finish() -> None:
        assert sounder._player is not None
        while sounder._player._task is not None:
            await asyncio.wait([sounder._player._task])

    async with asyncio.timeout(WAIT_S):
        sounder = Sounder("auto", player("exit 0"), write_tones(tmp_path, tone), tone)
        sounder.start(told.put_nowait, Sounding(evacuate_ns=1))
        await finish()
        for now_ns, waits in enumerate(
            (
                Sounding(evacuate_ns=1),  # given before this recorder began
                Sounding(evacuate_ns=2),
                Sounding(evacuate_ns=2),
                Sounding(evacuate_ns=3, danger_ns=3),
                Sounding(evacuate_ns=3, danger_ns=3),
                Sounding(),
                Sounding(evacuate_ns=2),  # the newer one has ended, the older one still stands
                Sounding(evacuate_ns=4, silenced_ns=1),
                Sounding(evacuate_ns=4),
            )
        ):
            sounder.look(now_ns, waits)
            await finish()
        await sounder.close()
    assert played(tmp_path) == ["notice.wav", "evacuation.wav", "danger.wav", "evacuation.wav"]


async def test_what_is_taken_is_quiet(
    player: Callable[[str], list[Command]], tmp_path: Path, told: "asyncio.Queue[SoundState]"
) -> None:
    async with asyncio.timeout(WAIT_S):
        sounder = Sounder("auto", player("exit 0"), write_tones(tmp_path))
        sounder.start(told.put_nowait)
        sounder.look(0, Sounding(danger_ns=0))
        sounder.look(S, Sounding())
        assert sounder._player is not None
        assert sounder._player._wanted is None
        await sounder.close()


async def test_a_look_costs_nothing_while_a_player_hangs(
    player: Callable[[str], list[Command]], tmp_path: Path, told: "asyncio.Queue[SoundState]"
) -> None:
    """Ten minutes of looks at a made-up time, with a player that never ends: no second one."""
    sounder = Sounder("auto", player("exec sleep 60"), write_tones(tmp_path))
    sounder.start(told.put_nowait)
    for now_ns in range(0, 600 * S, S // 5):
        sounder.look(now_ns, Sounding(danger_ns=now_ns // (30 * S) * 30 * S))
    await sounder.close()
    assert told.qsize() == 1
    assert len(played(tmp_path)) <= 1
