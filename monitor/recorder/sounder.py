"""The recorder's sound: the ladder says what is to be heard, a player plays it.

The files that a player is given are made at the start, in the folder of sockets. Then a notice is
played, so that everybody hears that there is sound, and a player that cannot play is found out
before the first alarm.

The evacuation tone is heard at the base only where it was asked for, once an order, and an alarm
that is due takes its place, and while all sound is silenced it is not heard.

Nothing here waits: not for a player, not for a disk.
"""

import os
from collections.abc import Callable
from pathlib import Path

from monitor.incident.events import SoundState
from monitor.incident.picture import Sounding
from monitor.recorder.player import PLAYERS, Command, File, Player
from monitor.sound.ladder import Ladder
from monitor.sound.tones import CAUTION, DANGER, NOTICE, Tone
from monitor.sound.wav import wav

TONES = (DANGER, CAUTION, NOTICE)
MS_PER_S = 1000


def write_tones(folder: Path, *more: Tone) -> dict[Tone, File]:
    """Make the files, each whole or not at all. Raises OSError."""
    files = {}
    for tone in (*TONES, *more):
        path = folder / f"{tone.name}.wav"
        half = folder / f"{tone.name}.{os.getpid()}"
        half.write_bytes(wav(tone))
        half.replace(path)
        files[tone] = File(path, tone.length_ms / MS_PER_S)
    return files


class Sounder:
    """Silent until ``start``. All calls are the loop's."""

    def __init__(
        self,
        setting: str,
        found: list[Command],
        files: dict[Tone, File],
        evacuation: Tone | None = None,
    ) -> None:
        """``setting``: as the user said it; ``found``: the players for it that there are.

        ``evacuation``: what is heard here when an evacuation is given; None: nothing.
        """
        self._setting = setting
        self._found = found
        self._files = files
        self._evacuation = evacuation
        self._evacuate_ns = -1
        """Of the newest evacuation known; an older one that still stands is not given again."""
        self._ladder = Ladder()
        self._player: Player | None = None
        self._tell: Callable[[SoundState], None] = _nobody_listens
        self._state = SoundState(state="off")

    def start(self, tell: Callable[[SoundState], None], stands: Sounding | None = None) -> None:
        """Say how alarms are sounded, now and whenever that changes, and let a notice be heard.

        ``stands``: what stood before; an evacuation of then is not given a second time.
        """
        self._tell = tell
        if stands is not None and stands.evacuate_ns is not None:
            self._evacuate_ns = stands.evacuate_ns
        state = _first_state(self._setting, self._found)
        self._state = state
        tell(state)
        if state.state == "player":
            self._player = Player(self._found, self._told)
            self._player.play(self._files[NOTICE])

    def look(self, now_ns: int, waits: Sounding) -> None:
        """Sound what is due. ``now_ns``: of any one clock that never goes back."""
        if self._player is None:
            return
        cue = self._ladder.look(now_ns, waits)
        if cue == "stop":
            self._player.stop()
        elif cue is not None:
            self._player.play(self._files[cue])
        elif self._evacuation and waits.evacuate_ns is not None:
            newer = waits.evacuate_ns > self._evacuate_ns
            self._evacuate_ns = max(self._evacuate_ns, waits.evacuate_ns)
            if newer and not waits.silenced_ns:
                self._player.play(self._files[self._evacuation])

    async def close(self) -> None:
        """Be quiet for good."""
        if self._player is not None:
            await self._player.close()

    def _told(self, well: bool, detail: str) -> None:  # noqa: FBT001 - a call-back's shape
        state = SoundState(state="player" if well else "failing", detail=detail)
        if state.state != self._state.state:
            self._state = state
            self._tell(state)


def _first_state(setting: str, found: list[Command]) -> SoundState:
    if setting == "off":
        return SoundState(state="off", detail="as it was asked for")
    if setting == "bell":
        return SoundState(state="bell", detail="as it was asked for")
    if found:
        return SoundState(state="player", detail=found[0][0])
    wanted = ", ".join(PLAYERS) if setting == "auto" else setting.split(maxsplit=1)[0]
    return SoundState(state="missing", detail=f"not found: {wanted}")


def _nobody_listens(_: SoundState) -> None:
    """Before ``start`` nothing is told."""
