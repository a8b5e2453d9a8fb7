"""The recorder as a process of its own, started by a board; it outlives the board.

It runs in its own session, so that neither the terminal's keys nor the terminal's end reach it.
What it says before it dies is kept, to be told in one line.
"""

import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

from monitor.settings import Settings

START = "from monitor.cli import main; raise SystemExit(main())"
SAID_BYTES_MAX = 4_000
"""Of what a recorder that could not start has said."""
_TEXTS = (
    "name", "place", "entry_point", "stage", "officer", "procedure", "roster", "cylinders", "key",
    "sound",
)  # fmt: skip


def command(journal: Path, settings: Settings, *, clock_checked: bool = False) -> list[str]:
    """Give the command line of the recorder: the settings in force, said in full."""
    line = [sys.executable, "-c", START, "record", str(journal)]
    for name in (*_TEXTS, "incidents_folder"):
        if value := getattr(settings, name):
            line += [f"--{name.replace('_', '-')}", value]
    if settings.evacuation_tone:
        line += ["--evacuation-tone", str(settings.evacuation_tone)]
    if settings.use:
        line.append(f"--{settings.use}")
    if clock_checked:
        line.append("--clock-checked")
    for link in settings.links:
        line += ["--link", link]
    return line


@dataclass(slots=True)
class RecorderProcess:
    """Starts the recorder as often as needed; knows only the one it started last."""

    line: list[str]
    is_free: Callable[[], bool]
    """Whether nobody records into the journal."""
    _process: subprocess.Popen[bytes] | None = field(default=None)
    _said: IO[bytes] | None = field(default=None)

    def start(self) -> None:
        """Start one. Raises OSError."""
        self.forget()
        self._said = tempfile.TemporaryFile()  # noqa: SIM115 - it lives as long as the process
        self._process = subprocess.Popen(  # noqa: S603 - our own program, its own arguments
            self.line,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=self._said,
            start_new_session=True,
        )

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
