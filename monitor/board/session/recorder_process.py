"""The recorder as a process of its own, started by a board; it outlives the board.

It runs in its own session, so that neither the terminal's keys nor the terminal's end reach it.
What it is to record, and how, goes to it by a pipe: a command line can be read by everybody on the
machine, and these are names of people and of what has befallen them. What it says before it dies is
kept, to be told in one line.
"""

import contextlib
import subprocess
import tempfile
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, Annotated

from pydantic import BaseModel, ConfigDict, Field

from monitor import children
from monitor.incident.event_parts import Said
from monitor.settings import Settings

LINE = children.line("monitor.cli", "record", "--told")
"""The command line of every recorder that a board starts."""
SAID_BYTES_MAX = 4_000
"""Of what a recorder that could not start has said."""
TOLD_BYTES_MAX = 60_000
"""Of what one is told: all of it fits into a pipe that nobody reads yet (65,536 on Linux)."""
_TO_OPEN = (
    "name", "place", "entry_point", "operation", "stage", "officer", "use", "procedure", "roster",
    "cylinders", "key", "sound", "links", "evacuation_tone", "incidents_folder",
)  # fmt: skip
TO_GO_ON = ("links", "key", "sound", "evacuation_tone", "incidents_folder")
"""Settings of an incident that is recorded already: the journal tells those that are not said."""


class Told(BaseModel):
    """What a recorder is told by whoever starts it."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    journal: Annotated[str, Field(min_length=1)]
    options: dict[str, str | int | list[str]] = {}
    """As if said on the command line."""
    clock_checked: bool = False
    simulated: Said = ""
    """What virtual packs are started from."""


def to_open(
    journal: Path, settings: Settings, *, clock_checked: bool = False, simulated: str = ""
) -> Told:
    """Tell of a new incident: the settings in force, said in full."""
    return Told(
        journal=str(journal.absolute()),
        # Also what is empty: it must not be filled from the settings of another place.
        options=_chosen(settings, _TO_OPEN),
        clock_checked=clock_checked,
        simulated=simulated,
    )


def to_go_on(journal: Path, settings: Settings, said: Collection[str]) -> Told:
    """Tell of one that is in its journal: only what was said for it here."""
    names = [name for name in TO_GO_ON if name in said]
    return Told(journal=str(journal.absolute()), options=_chosen(settings, names))


def _chosen(settings: Settings, names: Collection[str]) -> dict[str, str | int | list[str]]:
    return {
        name: value for name, value in settings.model_dump(mode="json").items() if name in names
    }


@dataclass(slots=True)
class RecorderProcess:
    """Starts the recorder as often as needed; knows only the one it started last."""

    told: Told
    is_free: Callable[[], bool]
    """Whether nobody records into the journal."""
    line: Sequence[str] = LINE
    _process: subprocess.Popen[bytes] | None = field(default=None)
    _said: IO[bytes] | None = field(default=None)

    def start(self) -> None:
        """Start one. Raises OSError.

        Not while the one before has not ended: it may be slow to begin, or wait for a disk that
        hangs, and each more would wait beside it.
        """
        if self.started and self.exit_code() is None:
            return
        self.forget()
        self._said = tempfile.TemporaryFile()  # noqa: SIM115 - it lives as long as the process
        self._process = subprocess.Popen(  # noqa: S603 - our own program, its own arguments
            self.line,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=self._said,
            start_new_session=True,
        )
        assert self._process.stdin is not None, "asked for"
        with contextlib.suppress(BrokenPipeError), self._process.stdin as pipe:
            # One that has died already says why below.
            pipe.write(self.told.model_dump_json().encode())

    @property
    def started(self) -> bool:
        """Whether one was started from here."""
        return self._process is not None

    def exit_code(self) -> int | None:
        """How the one started last ended; None while it runs, or if none was started."""
        return None if self._process is None else self._process.poll()

    def last_words(self) -> str:
        """What the one that ended said last; empty if nothing."""
        if self._said is None:
            return ""
        self._said.seek(0)
        lines = self._said.read(SAID_BYTES_MAX).decode(errors="replace").strip().splitlines()
        return lines[-1].removeprefix("outby: ") if lines else ""

    def forget(self) -> None:
        """Let go of what the last one said; the process itself goes on."""
        if self._said is not None:
            self._said.close()
            self._said = None
