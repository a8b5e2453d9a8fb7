"""``outby drill --doors``: three doors of one operation, a broker, and the command post's board.

Everything runs on this machine: a broker of its own, three drills with plain boards that nobody
looks at, a relay beside each, one mirror, and the overview in the terminal. Leaving it, or
closing the terminal, ends all.
"""

import argparse
import contextlib
import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from threading import Event
from typing import IO, TYPE_CHECKING, Self

from monitor import children
from monitor.cli.options import settings_of
from monitor.errors import BadUsage, NotAnswered

if TYPE_CHECKING:
    from monitor.settings import Settings

OPERATION = "Three doors"
SCENARIOS = ("kiln-lane", "madder-row", "wherry-wharf")
"""Trouble within two minutes, within six, after seven."""
ENTRIES = "ABC"
LOOK_S = 0.1
START_S = 30.0
END_S = 5.0
SERVER = "nats-server"


def run(args: argparse.Namespace) -> int:
    """Start everything, be the overview, end everything. Raises BadUsage, NotAnswered."""
    from monitor.cli import build_parser
    from monitor.mirror.replica import folder_of

    server = shutil.which(SERVER)
    if server is None:
        raise BadUsage("the broker is not installed", SERVER, "Debian: apt install nats-server")
    settings = settings_of(args)
    os.umask(0o077)
    folder = settings.incidents_path
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    with Everything(folder) as all_of_it:
        url = all_of_it.broker(server)
        before = set(folder.glob("*.journal"))
        for scenario, entry in zip(SCENARIOS, ENTRIES, strict=True):
            all_of_it.door(scenario, entry, settings)
        journals = all_of_it.journals(before)
        for journal in journals:
            all_of_it.start("relay", str(journal), "--broker", url)
        replicas = folder_of(folder)
        replicas.mkdir(mode=0o700, parents=True, exist_ok=True)
        line = ["mirror", str(replicas), "--broker", url, "--operation", OPERATION, "--unproved"]
        all_of_it.start(*line)
        of_this = [f"{replicas}", "--operation", OPERATION]
        _word_folder(replicas).mkdir(mode=0o700, exist_ok=True)
        overview = build_parser().parse_args(["overview", "--replicas", *of_this])
        return int(overview.func(overview))


def _word_folder(replicas: Path) -> Path:
    from monitor.mirror.replica import of_operation
    from monitor.relay.subjects import word

    return of_operation(replicas, word(OPERATION))


def _leave(number: int, _frame: object) -> None:
    for one in (signal.SIGTERM, getattr(signal, "SIGHUP", signal.SIGTERM)):
        signal.signal(one, signal.SIG_IGN)  # it is being done
    raise SystemExit(128 + number)


class Everything:
    """All processes of one run, and their log."""

    def __init__(self, folder: Path) -> None:
        """Logs go to ``doors.log`` in that folder."""
        self._folder = folder
        self._log: IO[bytes] = (folder / "doors.log").open("ab")
        self._processes: list[subprocess.Popen[bytes]] = []
        self._journals: list[Path] = []
        self._stores = contextlib.ExitStack()

    def __enter__(self) -> Self:
        # A terminal that is closed, or a word from the system, ends everything too.
        for number in (signal.SIGTERM, getattr(signal, "SIGHUP", signal.SIGTERM)):
            signal.signal(number, _leave)
        return self

    def __exit__(self, *_: object) -> None:
        from monitor.journal import lock

        for journal in self._journals:
            holder = lock.holder(journal)
            if holder is not None and not lock.is_free(journal):
                with contextlib.suppress(OSError):
                    os.kill(holder, signal.SIGTERM)
        # Relays first: what they have not sent yet is in the journals.
        for process in reversed(self._processes):
            process.terminate()
        for process in self._processes:
            try:
                process.wait(END_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
        self._stores.close()
        self._log.close()

    def start(self, *words: str, silent: bool = False) -> None:
        """Run ``outby`` beside; with ``silent`` it has a keyboard on which nobody types."""
        self._run(children.line("monitor.cli", *words), silent=silent)

    def _run(self, line: tuple[str, ...], *, silent: bool = False) -> None:
        self._processes.append(
            subprocess.Popen(  # noqa: S603 - our own program, or the broker that was found
                line,
                stdin=subprocess.PIPE if silent else subprocess.DEVNULL,
                stdout=self._log,
                stderr=self._log,
            )
        )

    def broker(self, server: str) -> str:
        """Start one on a port of its own; its store is gone with it."""
        import tempfile

        store = self._stores.enter_context(tempfile.TemporaryDirectory(prefix="outby-broker-"))
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        self._run((server, "-a", "127.0.0.1", "-p", str(port), "-js", "-sd", store))
        return f"nats://127.0.0.1:{port}"

    def door(self, scenario: str, entry: str, settings: "Settings") -> None:
        """A drill whose board nobody looks at."""
        self.start(
            "drill", scenario, "--plain", "--sound", "off", "--entry-point", entry,
            "--operation", OPERATION, "--incidents-folder", str(settings.incidents_path),
            silent=True,
        )  # fmt: skip

    def journals(self, before: set[Path]) -> list[Path]:
        """Their journals, once each is recorded. Raises NotAnswered."""
        for found in self._found(before):
            if len(found) == len(SCENARIOS):
                self._journals = found
                return found
        what, to_do = "the doors have not opened", f"see {self._log.name}"
        raise NotAnswered(what, str(self._folder), to_do)

    def _found(self, before: set[Path]) -> Iterator[list[Path]]:
        from monitor.journal import lock

        pause = Event()
        for _ in range(round(START_S / LOOK_S)):
            found = sorted(set(self._folder.glob("*.journal")) - before)
            yield [path for path in found if lock.is_recorded(path)]
            pause.wait(LOOK_S)
            print(".", end="", file=sys.stderr, flush=True)
