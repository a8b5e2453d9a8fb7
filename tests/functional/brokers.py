"""A real broker on loopback, a link to it that can be cut, and a journal that grows as told."""

import contextlib
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor.journal import connection as files
from monitor.journal.commits import commits
from monitor.journal.lock import Lock
from monitor.journal.sealing import Sealed
from monitor.journal.writer import JournalWriter

SHARED = Path(__file__).parents[2] / "shared/journals/kiln-lane.journal"
INCIDENT = "601d" * 8
OPERATION = "Kiln works"
START_S = 10.0


def free_port() -> int:
    with closing(socket.socket()) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@dataclass
class Server:
    """``nats-server`` with a store of its own; what was kept is there again after a kill."""

    folder: Path
    port: int = field(default_factory=free_port)
    config: str = ""
    name: str = ""
    process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"nats://127.0.0.1:{self.port}"

    def start(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        config = self.folder / "server.conf"
        store = self.folder / "store"
        config.write_text(
            f'listen: "127.0.0.1:{self.port}"\njetstream {{ store_dir: "{store}" }}\n{self.config}'
            + (f"server_name: {self.name}\n" if self.name else "")
        )
        with (self.folder / "server.log").open("ab") as log:
            self.process = subprocess.Popen(
                ["nats-server", "-c", str(config)], stdout=log, stderr=log
            )
        deadline = time.monotonic() + START_S
        while not self._answers():
            if time.monotonic() > deadline:
                pytest.fail((self.folder / "server.log").read_text()[-2_000:])
            time.sleep(0.01)

    def _answers(self) -> bool:
        with (
            contextlib.suppress(OSError),
            closing(socket.create_connection(("127.0.0.1", self.port), 1)) as probe,
        ):
            return probe.recv(4) == b"INFO"
        return False

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.wait(10)
            self.process = None


def cluster(folder: Path, count: int = 3) -> list[Server]:
    """So many brokers that keep everything three times."""
    routes = [free_port() for _ in range(count)]
    listed = ", ".join(f'"nats://127.0.0.1:{port}"' for port in routes)
    return [
        Server(
            folder / f"node-{n}",
            name=f"node-{n}",
            config=f'cluster {{ name: region, listen: "127.0.0.1:{port}", '
            f"routes: [ {listed} ] }}\n",
        )
        for n, port in enumerate(routes)
    ]


class Link:
    """A TCP connection in between that can stall, be cut, and be slow."""

    def __init__(self, target: int) -> None:
        self._target = target
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._open: list[socket.socket] = []
        self._flows = threading.Event()
        self._flows.set()
        self.delay_s = 0.0
        self.cut = False
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def url(self) -> str:
        return f"nats://127.0.0.1:{self.port}"

    def stall(self) -> None:
        """Take bytes, hand none on, close nothing."""
        self._flows.clear()

    def flow(self) -> None:
        self.cut = False
        self._flows.set()

    def drop(self) -> None:
        """Close every connection, and refuse new ones until it flows again."""
        self.cut = True
        for one in self._open:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
        self._open.clear()

    def close(self) -> None:
        self.drop()
        self._flows.set()
        self._listener.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                try:
                    far = socket.create_connection(("127.0.0.1", self._target), 2)
                except OSError:
                    near.close()
                    continue
                if self.cut:
                    near.close()
                    far.close()
                    continue
                self._open += [near, far]
                for source, sink in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=(source, sink), daemon=True).start()

    def _carry(self, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65_536):
                self._flows.wait()
                if self.delay_s:
                    time.sleep(self.delay_s)
                sink.sendall(data)
        for one in (source, sink):
            with contextlib.suppress(OSError):
                one.close()


class Growing:
    """The recorded incident of the golden capture, written again as its recorder did."""

    def __init__(self, path: Path) -> None:
        path.parent.mkdir(parents=True, exist_ok=True)
        self.path = path
        self._lock = Lock.take(path)
        source = files.connect(SHARED, "ro")
        first, last = files.batch(source, 0), files.last_batch(source)
        assert first is not None
        assert last is not None
        self._writer = JournalWriter.begin_replica(path, files.read_header(source), first)
        self._left: Iterator[Sealed] = commits(source, first, last)
        self.last = last

    def grow(self, count: int = 10_000) -> None:
        for _ in range(count):
            one = next(self._left, None)
            if one is None:
                return
            self._writer.write((one,))

    @property
    def batch(self) -> int:
        return self._writer.last.batch

    def end(self) -> None:
        self._writer.close(final=True)
        if self._lock is not None:
            self._lock.release()
