"""Real processes, real ptys, a real terminal: started in a home of their own, ended for sure.

Nothing here waits a fixed time to be on the safe side: see ``patience``.
"""

import contextlib
import os
import shlex
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import SystemRandom

import pytest

from monitor.errors import BadJournal
from monitor.follower import Follower
from monitor.incident.picture import Picture
from monitor.incident.rows import RowKind
from monitor.journal.lock import holder, is_free
from monitor.journal.reader import JournalReader
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, Watch, wait_until

OPENING = (
    *("--name", "Kiln Lane", "--officer", "R. Harrow", "--entry-point", "A"),
    *("--exercise", "--procedure", "plain", "--roster", "kiln-lane"),
)
"""What opens the invented incident of all these tests."""
OUTBY = Path(sys.executable).with_name("outby")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Everything in this folder is a functional test."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.functional)


def processes(words: str) -> list[int]:
    """Process ids whose command line holds ``words``."""
    listed = subprocess.run(
        ["ps", "-axww", "-o", "pid=,args="], capture_output=True, text=True, check=True
    ).stdout
    lines = (line.strip().split(maxsplit=1) for line in listed.splitlines())
    return [int(line[0]) for line in lines if len(line) > 1 and words in line[1]]


@dataclass
class Home:
    """A person's home folder for one test, and the programs that run in it."""

    folder: Path
    runtime: Path
    running: list[subprocess.Popen[str]] = field(default_factory=list)

    @property
    def incidents(self) -> Path:
        return self.folder / "incidents"

    @property
    def environ(self) -> dict[str, str]:
        """What the programs see: nothing of the person who runs the tests."""
        return {
            "PATH": os.environ["PATH"],
            "HOME": str(self.folder),
            "XDG_CONFIG_HOME": str(self.folder / "config"),
            "XDG_DATA_HOME": str(self.folder / "data"),
            "XDG_RUNTIME_DIR": str(self.runtime),
            "OUTBY_INCIDENTS_FOLDER": str(self.incidents),
            # Nobody who runs the tests wants to hear them.
            "OUTBY_SOUND": "off",
            "LANG": "C.UTF-8",
            "TERM": "xterm-256color",
        }

    def run(self, *argv: str, within_s: float = PATIENCE_S) -> subprocess.CompletedProcess[str]:
        """Run ``outby`` to its end."""
        return subprocess.run(
            [str(OUTBY), *argv],
            env=self.environ,
            cwd=self.folder,
            capture_output=True,
            text=True,
            timeout=within_s,
            check=False,
        )

    def start(self, *argv: str, **environ: str) -> subprocess.Popen[str]:
        """Start ``outby`` and go on; its output goes to files named in ``log_of``."""
        number = len(self.running)
        with (self.folder / f"run-{number}.log").open("w") as log:
            process = subprocess.Popen(
                [str(OUTBY), *argv],
                env={**self.environ, **environ},
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                text=True,
            )
        self.running.append(process)
        return process

    def log_of(self, process: subprocess.Popen[str]) -> str:
        return (self.folder / f"run-{self.running.index(process)}.log").read_text("utf-8")

    def recorders(self, journal: Path) -> list[int]:
        """Process ids of who records into ``journal``: nothing on a command line tells."""
        pid = None if is_free(journal) else holder(journal)
        return [] if pid is None else [pid]

    def journals(self) -> list[Path]:
        return sorted(self.incidents.glob("*.journal"))

    def end(self) -> None:
        """End everything that was started here, whatever state it is in."""
        pids = [process.pid for process in self.running if process.poll() is None]
        for pid in {*pids, *processes(str(self.folder)), *self.at_home()} - {os.getpid()}:
            kill(pid, signal.SIGKILL)
        for process in self.running:
            process.wait(timeout=PATIENCE_S)

    def at_home(self) -> list[int]:
        """Process ids of those that were started with this home, as Linux tells it."""
        here, found = f"HOME={self.folder}".encode(), []
        for environ in Path("/proc").glob("[0-9]*/environ"):
            with contextlib.suppress(OSError):
                if here in environ.read_bytes().split(b"\0"):
                    found.append(int(environ.parent.name))
        return found

    @contextlib.contextmanager
    def promised(self, within_s: float) -> Iterator[None]:
        """What is done in here is promised within so long, on a machine that lets it run."""
        watch = Watch(self.at_home)
        yield
        took_s = watch.took_s()
        print(f"{took_s:.2f} s of {within_s} s")
        assert took_s <= within_s

    def tell(self) -> None:
        """Print every log: pytest shows it beside a test that failed."""
        for log in sorted([*self.folder.glob("run-*.log"), *self.incidents.glob("*.log")]):
            print(f"--- {log.name}\n{log.read_text('utf-8')}")


def kill(pid: int, how: signal.Signals) -> None:
    """Send a signal; a process that has gone already is no error."""
    try:
        os.kill(pid, how)
    except ProcessLookupError:
        return


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Builds one of the libraries beside this file that stand in front of the C library."""
    folder = tmp_path_factory.mktemp("shim")

    def build(name: str) -> Path:
        compiler = shutil.which("cc") or shutil.which("gcc")
        if compiler is None:
            pytest.fail("cc is missing: install it (Debian: apt-get install gcc libc6-dev)")
        made, source = folder / f"{name}.so", Path(__file__).with_name(f"{name}.c")
        command = [compiler, "-shared", "-fPIC", "-O1", "-o", str(made), str(source), "-ldl"]
        subprocess.run(command, check=True)
        return made

    return build


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Home]:
    # Paths of sockets have about a hundred bytes: the runtime folder is a short one.
    runtime = Path(tempfile.mkdtemp(prefix="ob-"))
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(runtime))
    made = Home(tmp_path, runtime)
    yield made
    made.end()
    made.tell()
    shutil.rmtree(runtime, ignore_errors=True)


@pytest.fixture
def port() -> int:
    """A UDP port nobody uses now, of those that the system gives to nobody by itself."""
    while True:
        one = SystemRandom().randrange(10_000, 32_000)
        with (
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe,
            contextlib.suppress(OSError),
        ):
            probe.bind(("127.0.0.1", one))
            return one


@pytest.fixture
def journal(home: Home) -> Path:
    """Where this test's journal will be; nothing is there yet."""
    home.incidents.mkdir()
    return home.incidents / "one.journal"


@pytest.fixture
def packs(port: int) -> Iterator[Packs]:
    made = Packs(port)
    yield made
    made.close()


def prove(packs: Packs, identity: int) -> None:
    """Have a pack heard and answered by the base's beacon: from now on its frames are live."""
    packs.send(identity)
    wait_until(packs.listen, "a beacon of the base")
    packs.send(identity)


def horizon(journal: Path) -> int:
    """Up to when everything is in the journal, ns of incident time; 0 while there is none."""
    if not journal.exists():
        return 0
    try:
        with JournalReader(journal) as reader:
            return reader.last_batch().horizon
    except BadJournal:
        # In use for the moment in which it is opened for writing; who waits looks again.
        return 0


def wait_recording(journal: Path, within_s: float = PATIENCE_S) -> None:
    """Wait until the horizon moves: a recorder is up and commits."""
    before = horizon(journal)
    wait_until(lambda: horizon(journal) > before, f"{journal.name} is recorded", within_s)


def data_of(journal: Path, kind: RowKind) -> list[bytes]:
    """The data of all rows of a kind that are committed, in their order."""
    with closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as connection, connection:
        asked = "SELECT data FROM rows WHERE kind & 15 = ? ORDER BY id"
        return [bytes(data) for (data,) in connection.execute(asked, (kind,))]


def folded(journal: Path) -> Picture:
    """The incident as any reader sees it now."""
    follower = Follower(journal)
    while follower.poll() or follower.catching_up:
        pass
    picture = follower.picture()
    follower.close()
    return picture


@dataclass
class Screen:
    """One terminal of a known size, with a program in it."""

    name: str
    home: Home

    def _tmux(self, *argv: str) -> str:
        return subprocess.run(
            ["tmux", "-L", self.name, "-f", os.devnull, *argv],
            env=self.home.environ,
            capture_output=True,
            text=True,
            check=True,
            timeout=PATIENCE_S,
        ).stdout

    def open(self, columns: int, rows: int, *argv: str, **environ: str) -> None:
        """Run ``outby`` with these arguments in a new terminal; it stays when the program ends."""
        extra = [f"{key}={value}" for key, value in environ.items()]
        command = shlex.join(["env", *extra, str(OUTBY), *argv])
        self._tmux(
            "new-session", "-d", "-x", str(columns), "-y", str(rows), "-c", str(self.home.folder),
            f"{command}; echo ended with $?; exec cat",
        )  # fmt: skip

    def text(self) -> str:
        """What stands on the screen now."""
        return self._tmux("capture-pane", "-p")

    def last(self) -> str:
        """The same for whoever reads a failure, also where there is no terminal any more."""
        try:
            return self.text().rstrip()
        except (subprocess.CalledProcessError, subprocess.TimeoutExpired) as gone:
            return f"no terminal: {gone}"

    def styled(self) -> str:
        """The same with its escape sequences."""
        return self._tmux("capture-pane", "-p", "-e")

    def press(self, *keys: str) -> None:
        self._tmux("send-keys", *keys)

    def resize(self, columns: int, rows: int) -> None:
        self._tmux("resize-window", "-x", str(columns), "-y", str(rows))

    def pid(self) -> int:
        """Process id of the board in this terminal."""
        shell = self._tmux("display-message", "-p", "#{pane_pid}").strip()
        children = subprocess.run(
            ["ps", "-axww", "-o", "pid=,ppid=,args="], capture_output=True, text=True, check=True
        ).stdout
        for line in children.splitlines():
            pid, parent, args = line.split(maxsplit=2)
            if parent == shell and "outby" in args:
                return int(pid)
        pytest.fail(f"no board in this terminal:\n{self.text()}")

    def close(self) -> None:
        subprocess.run(
            ["tmux", "-L", self.name, "kill-server"],
            capture_output=True,
            check=False,
            timeout=PATIENCE_S,
        )


def wait_screen(
    screen: Screen, whole: Callable[[str], bool], what: str, within_s: float = PATIENCE_S
) -> str:
    """Wait until the screen is ``whole`` as asked, and give all of it.

    A terminal can be looked at in the middle of a drawing: all that a test wants to see in one
    picture belongs into ``whole``.
    """
    return wait_until(
        lambda: text if whole(text := screen.text()) else "",
        lambda: f"{what} on the screen:\n{screen.text()}",
        within_s,
    )


def wait_shown(screen: Screen, *words: str, within_s: float = PATIENCE_S) -> str:
    """Wait until all these words stand on the screen, and give all of it."""
    return wait_screen(
        screen, lambda text: all(word in text for word in words), f"{words}", within_s
    )


def wait_taken(screen: Screen, words: str) -> str:
    """Wait until the screen says that this act is taken; of a slow recorder: after all."""
    said = (f"TAKEN: {words}", f"TAKEN AFTER ALL: {words}")
    return wait_screen(screen, lambda text: any(one in text for one in said), said[0])


def wait_gone(screen: Screen, words: str, within_s: float = PATIENCE_S) -> str:
    """Wait until they no longer do."""
    return wait_screen(screen, lambda text: words not in text, f"no {words!r}", within_s)


@pytest.fixture
def screens(home: Home) -> Iterator[Callable[[], Screen]]:
    """Makes terminals; they are closed before their home ends."""
    if not shutil.which("tmux"):
        pytest.fail("tmux is missing: install it (Debian: apt-get install tmux)")
    made: list[Screen] = []

    def make() -> Screen:
        made.append(Screen(f"{home.runtime.name}-{len(made)}", home))
        return made[-1]

    yield make
    for screen in made:
        # Shown beside a test that failed.
        print(f"--- {screen.name}\n{screen.last()}")
        screen.close()


@pytest.fixture
def screen(screens: Callable[[], Screen]) -> Screen:
    return screens()
