"""Plays a file through a program of the system, its child: one at a time, never waited for.

Whoever asks for a sound goes on at once. A tone asked for while another plays takes its place. A
player that does not end in time is killed, with everything it has started; one that cannot even be
killed is waited for, and nothing is played meanwhile: there are never two.

Which program: the first found of ``PLAYERS``, or a command that was named; the file's path is put
behind it. One that fails gives way to the next of them.
"""

import asyncio
import contextlib
import os
import shlex
import shutil
import signal
from collections import deque
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

from monitor.errors import BadUsage

PLAYERS = ("paplay", "pw-play", "aplay")
"""Looked for in this order."""
OVER_S = 2.0
"""A player may take so much longer than its file: starting takes up to a second the first time."""
CLOSE_S = 1.0
"""At the end a killed player is waited for so long."""
NOT_COMMANDS = ("off", "bell", "auto")
"""What a setting can say in place of a command: no sound, the boards' bell, the first one found."""

Command = tuple[str, ...]
Told = Callable[[bool, str], None]
"""Gets whether sounds can be heard as far as the player says, and which player or what fault."""


class File(NamedTuple):
    """What is played, and how long it is."""

    path: Path
    length_s: float


def check(setting: str) -> None:
    """Raise BadUsage for a command that cannot be taken apart."""
    try:
        words = shlex.split(setting)
    except ValueError as error:
        raise BadUsage(f"sound: {error}", setting, "off, auto, bell or a command") from None
    if not words:
        raise BadUsage("sound: nothing is said", setting, "off, auto, bell or a command")


def commands(setting: str, which: Callable[[str], str | None] = shutil.which) -> list[Command]:
    """Give the players that there are, the first choice first; none for ``off`` and ``bell``."""
    if setting == "auto":
        wanted: list[Command] = [(name,) for name in PLAYERS]
    else:
        wanted = [] if setting in NOT_COMMANDS else [tuple(shlex.split(setting))]
    return [command for command in wanted if which(command[0]) is not None]


class Player:
    """All calls are the loop's."""

    def __init__(self, found: Sequence[Command], told: Told, over_s: float = OVER_S) -> None:
        """``found``: at least one, the first choice first."""
        assert found, "without a player there is nothing to play with"
        self._commands = deque(found)
        self._told = told
        self._over_s = over_s
        self._failed = 0
        """Players in a row that failed."""
        self._wanted: File | None = None
        self._cut = False
        """What plays now is not wanted any more."""
        self._child: asyncio.subprocess.Process | None = None
        self._task: asyncio.Task[None] | None = None

    def play(self, file: File) -> None:
        """Play it now, in place of whatever plays."""
        self._wanted = file
        self._cut_short()
        if self._task is None:
            self._task = asyncio.get_running_loop().create_task(self._run())

    def stop(self) -> None:
        """Be quiet."""
        self._wanted = None
        self._cut_short()

    async def close(self) -> None:
        """Be quiet for good."""
        self.stop()
        if self._task is not None:
            await asyncio.wait([self._task], timeout=CLOSE_S)

    # ------------------------------------------------------------ inside

    def _cut_short(self) -> None:
        self._cut = True
        self._kill()

    def _kill(self) -> None:
        child = self._child
        if child is not None and child.returncode is None:
            # Its own session: whatever it has started ends with it.
            with contextlib.suppress(ProcessLookupError):
                os.killpg(child.pid, signal.SIGKILL)

    async def _run(self) -> None:
        while self._wanted is not None:
            file, self._wanted, self._cut = self._wanted, None, False
            try:
                await self._play(file)
            except OSError as error:
                self._fails(file, f"{self._name}: {error.strerror or 'cannot be started'}")
            finally:
                self._child = None
        self._task = None

    async def _play(self, file: File) -> None:
        """Play one file, and see what comes of it. Raises OSError."""
        quiet = asyncio.subprocess.DEVNULL
        self._child = child = await asyncio.create_subprocess_exec(
            *self._commands[0], file.path,
            stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True,
        )  # fmt: skip
        if self._cut:
            self._kill()
        try:
            async with asyncio.timeout(file.length_s + self._over_s):
                code = await child.wait()
        except TimeoutError:
            self._kill()
            self._fails(file, f"{self._name} hung")
            await child.wait()
            return
        if self._cut:
            return
        if code:
            self._fails(file, f"{self._name} ended with {code}")
        else:
            self._failed = 0
            self._told(True, self._name)

    @property
    def _name(self) -> str:
        return Path(self._commands[0][0]).name

    def _fails(self, file: File, fault: str) -> None:
        """Have the next player try the same; once every one has failed, tell."""
        self._failed += 1
        self._commands.rotate(-1)
        if self._failed % len(self._commands):
            self._wanted = self._wanted or file
        else:
            self._told(False, fault)
