"""The desk's socket: lines in, lines out. What they mean is the sequencer's business.

Every connection has a number of its own, a seat. A board that does not read what it is told is
let go: the recorder never waits for one.
"""

import asyncio
import contextlib
import itertools
import logging
from collections.abc import Callable
from pathlib import Path

from monitor.desk import LINE_BYTES_MAX, DownMessage, Full, UpMessage, line, read_up

BOARDS_MAX = 32
"""More screens than one entry point has; whoever comes after them is told so."""
UNREAD_BYTES_MAX = 256 * 1024
"""A board that has left so much unread is hung."""
RETRY_S = 2.0
"""Between two attempts to open a desk that cannot be opened."""
LEAVE_S = 0.5
"""At the end boards are given so long to take their last answers."""

_log = logging.getLogger(__name__)


class DeskServer:
    """Listens once ``open`` has been called. All calls and call-backs are the loop's."""

    def __init__(self, path: Path, retry_s: float = RETRY_S) -> None:
        """``path``: of the socket. Whoever opens it holds the journal's lock, so none else does."""
        self.path = path
        self._retry_s = retry_s
        self._again: asyncio.Task[None] | None = None
        self._writers: dict[int, asyncio.StreamWriter] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self._turned_away = 0
        """In a row."""
        self._seats = itertools.count(1)
        self._server: asyncio.Server | None = None
        self._said: Callable[[int, UpMessage], None] = _nobody_listens
        self._left: Callable[[int], None] = _nobody_listens

    async def open(
        self, said: Callable[[int, UpMessage], None], left: Callable[[int], None]
    ) -> None:
        """Listen. ``said`` gets each message with its seat, ``left`` a seat that has gone.

        Where that cannot be it is tried again and again: a recorder without a desk still records,
        sounds, and shows by the journal.
        """
        self._said, self._left = said, left
        try:
            await self._listen_at()
        except OSError as error:
            _log.error("no desk, boards cannot act: %s: %s", self.path, error)
            self._again = asyncio.get_running_loop().create_task(self._listen_later())

    async def _listen_at(self) -> None:
        with contextlib.suppress(FileNotFoundError):
            # Left by a recorder that was killed: its lock is ours now.
            self.path.unlink()
        server = await asyncio.start_unix_server(self._serve, self.path, limit=LINE_BYTES_MAX)
        self._server = server
        with contextlib.suppress(OSError):
            self.path.chmod(0o600)

    async def _listen_later(self) -> None:
        while self._server is None:
            await asyncio.sleep(self._retry_s)
            with contextlib.suppress(OSError):
                await self._listen_at()
        _log.warning("the desk is open")

    def send(self, seat: int, message: DownMessage) -> None:
        """Tell one board; nothing happens if it has gone."""
        writer = self._writers.get(seat)
        if writer is None:
            return
        if writer.transport.get_write_buffer_size() > UNREAD_BYTES_MAX:
            _log.warning("desk: board at seat %d does not read; let go", seat)
            writer.transport.abort()
            return
        writer.write(line(message))

    def tell_all(self, message: DownMessage) -> None:
        """Tell every board."""
        for seat in list(self._writers):
            self.send(seat, message)

    async def close(self) -> None:
        """Let every board take what it was told, then leave."""
        if self._again is not None:
            self._again.cancel()
        if self._server is None:
            return
        self._server.close()
        writers = list(self._writers.values())
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(LEAVE_S):
                await asyncio.gather(*(w.drain() for w in writers), return_exceptions=True)
        for writer in writers:
            writer.close()
        if self._tasks:
            # Each ends by itself now that its connection is closed.
            await asyncio.wait(self._tasks, timeout=LEAVE_S)
        with contextlib.suppress(OSError):
            self.path.unlink()

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if len(self._writers) >= BOARDS_MAX:
            if not self._turned_away:
                _log.warning("desk: more than %d boards; who comes now is turned away", BOARDS_MAX)
            self._turned_away += 1
            writer.write(line(Full(boards=BOARDS_MAX)))
            writer.close()
            return
        self._turned_away = 0
        task = asyncio.current_task()
        assert task is not None, "the server runs this in a task"
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        seat = next(self._seats)
        self._writers[seat] = writer
        try:
            await self._listen(seat, reader)
            self._left(seat)
        except Exception as error:  # noqa: BLE001 - handed on to the loop, which ends the process
            context = {"message": "a message of the desk", "exception": error}
            asyncio.get_running_loop().call_exception_handler(context)
        finally:
            del self._writers[seat]
            writer.close()

    async def _listen(self, seat: int, reader: asyncio.StreamReader) -> None:
        while True:
            try:
                data = await reader.readline()
            except (ConnectionError, ValueError) as error:
                _log.warning("desk: seat %d: %s", seat, error)
                return
            if not data.endswith(b"\n"):
                return
            message = read_up(data)
            if isinstance(message, str):
                _log.warning("desk: seat %d said what is no message: %s", seat, message)
                return
            self._said(seat, message)


def _nobody_listens(*_: object) -> None:
    """Before ``open`` nothing can come."""
