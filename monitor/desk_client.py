"""A board's end of the desk: acts out, answers in, without thread and without waiting.

The owner calls ``pump`` often (the board does every 50 ms) and gets what has come. The connection
is made anew by itself, at most twice a second. An act that was asked is asked again on a new
connection until it is answered: its id makes that harmless. Of one that nobody answers in
``desk.ANSWER_NS_MAX`` it is said here that there is no answer; one may still come. All times are
the boot clock, ns.
"""

import errno
import socket
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from monitor import desk
from monitor.desk import (
    Ask,
    BoardBeat,
    DownMessage,
    Full,
    Held,
    Hello,
    NoAnswer,
    NotOnDisk,
    NotTaken,
    Role,
    Stop,
    Stopping,
    Taken,
)
from monitor.incident.events import Act

RETRY_NS = 500_000_000
"""Between two attempts to connect."""
FULL_RETRY_NS = 5_000_000_000
"""The same where there was no seat: one that falls free is found soon enough."""
TOO_MANY = "too many acts without an answer"
ASKED_MAX = 64
"""Acts without an answer; a person cannot type more in the time that an act lives."""
OUT_BYTES_MAX = 4 * desk.LINE_BYTES_MAX
"""Waiting to be sent; beyond it the recorder does not read, and the connection is given up."""
READ_BYTES = 65_536
READS_MAX = 16
"""Reads in one ``pump``: bounded, however fast the other end writes."""

TOLD_NS = 3_000_000_000
"""What the recorder says once a second holds for so long."""
FORGET_NS = 600_000_000_000
"""An answer that comes later than this is no news to anybody."""

Answer = Taken | Held | NotTaken | NoAnswer | Stopping
Connect = Callable[[], socket.socket]


def desk_connect(journal: Path) -> Connect:
    """Give a function that connects to the desk of a journal's recorder, wherever that listens.

    It raises OSError.
    """

    def connect() -> socket.socket:
        error: OSError = FileNotFoundError(errno.ENOENT, "no recorder's desk is there")
        for path in desk.socket_paths(journal):
            try:
                return unix_connect(path)()
            except OSError as failed:
                # One that a recorder left behind when it was killed refuses: the next may not.
                error = failed
        raise error

    return connect


def unix_connect(path: Path) -> Connect:
    """Give a function that connects to the desk's socket; it raises OSError."""

    def connect() -> socket.socket:
        found = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            found.settimeout(0)
            found.connect(str(path))
        except OSError:
            found.close()
            raise
        return found

    return connect


@dataclass(slots=True)
class DeskClient:
    """One board at the desk. Not for more than one thread."""

    connect: Connect
    board: str
    """This board's own id."""
    by: str
    """Who sits at it."""
    want: Literal["act", "view", "script"] = "act"
    role: Role | None = None
    """What this board is; None until the desk has said so on this connection."""
    full: int = 0
    """So many boards are at the desk that there is no seat for this one; 0: there is, or may be."""
    not_on_disk: bool = False
    """The recorder has just said that no file takes its rows."""
    fault: str = ""
    """Why there is no connection, or what was wrong with the last line."""
    _socket: socket.socket | None = None
    _next_try_ns: int = 0
    _not_on_disk_ns: int = 0
    _asked: dict[str, Ask] = field(default_factory=dict)
    _told: set[str] = field(default_factory=set)
    """Of those asked: held, or told to have no answer."""
    _out: bytearray = field(default_factory=bytearray)
    _in: bytearray = field(default_factory=bytearray)
    _refused: list[Answer] = field(default_factory=list)

    @property
    def connected(self) -> bool:
        """Tell whether acts can be taken at all."""
        return self._socket is not None and self.role is not None

    @property
    def holds(self) -> bool:
        """Tell whether this board may act."""
        return self.role is not None and self.role.holder

    def ask(self, act: Act, now_ns: int) -> None:
        """Ask for an act; its answer comes out of ``pump``."""
        if len(self._asked) - len(self._told) >= ASKED_MAX or len(self._asked) >= 2 * ASKED_MAX:
            self._refused.append(NotTaken(id=act.id, why=TOO_MANY))
            return
        message = Ask(act=act, asked_boot_ns=now_ns)
        self._asked[act.id] = message
        self._send(desk.line(message))

    def beat(self, frame: int) -> None:
        """Say that the board has drawn a frame; dropped if there is no connection."""
        self._send(desk.line(BoardBeat(board=self.board, frame=frame)))

    def take(self) -> None:
        """Take the board from whoever holds it."""
        self.want = "act"
        self._send(desk.line(Hello(board=self.board, by=self.by, take=True)))

    def stop(self) -> None:
        """Ask the recorder to end; ``Stopping`` comes out of ``pump`` if it heeds."""
        self._send(desk.line(Stop(by=self.by)))

    def pump(self, now_ns: int) -> list[Answer]:
        """Connect if need be, send and read what there is; never waits."""
        if self._socket is None:
            self._try(now_ns)
        self._flush()
        answers = self._refused
        self._refused = []
        self.not_on_disk = self.not_on_disk and now_ns - self._not_on_disk_ns < TOLD_NS
        for message in self._read():
            if isinstance(message, Full):
                self.full = message.boards
                self._next_try_ns = now_ns + FULL_RETRY_NS
                self._drop(f"{message.boards} boards are at the desk already")
            elif isinstance(message, Role):
                self.role, self.full = message, 0
                if message.holder and message.by:
                    self.by = message.by  # the board was handed over: come back under that name
            elif isinstance(message, NotOnDisk):
                self.not_on_disk, self._not_on_disk_ns = True, now_ns
            elif isinstance(message, Stopping):
                answers.append(message)
            elif message.id in self._asked:
                answers.append(message)
                if isinstance(message, Held):
                    self._told.add(message.id)
                else:
                    self._forget(message.id)
        return answers + self._unanswered(now_ns)

    def close(self) -> None:
        """Leave the desk."""
        self._flush()
        self._drop("left")

    # ------------------------------------------------------------ inside

    def _try(self, now_ns: int) -> None:
        if now_ns < self._next_try_ns:
            return
        self._next_try_ns = now_ns + RETRY_NS
        try:
            self._socket = self.connect()
        except OSError as error:
            self.fault = error.strerror or "no connection"
            return
        self._socket.setblocking(False)
        self.fault = ""
        self._send(desk.line(Hello(board=self.board, by=self.by, want=self.want)))
        for message in self._asked.values():
            self._send(desk.line(message))

    def _send(self, data: bytes) -> None:
        if self._socket is None:
            return
        self._out += data
        if len(self._out) > OUT_BYTES_MAX:
            self._drop("the recorder does not read")
            return
        self._flush()

    def _flush(self) -> None:
        if self._socket is None or not self._out:
            return
        try:
            sent = self._socket.send(self._out)
        except BlockingIOError:
            return
        except OSError as error:
            self._drop(error.strerror or "connection lost")
            return
        del self._out[:sent]

    def _read(self) -> list[DownMessage]:
        for _ in range(READS_MAX):
            if self._socket is None:
                break
            try:
                data = self._socket.recv(READ_BYTES)
            except BlockingIOError:
                break
            except OSError as error:
                self._drop(error.strerror or "connection lost", keep_in=True)
                break
            if not data:
                self._drop("the recorder has gone", keep_in=True)
                break
            self._in += data
        return self._lines()

    def _lines(self) -> list[DownMessage]:
        *whole, rest = bytes(self._in).split(b"\n")
        self._in = bytearray(rest)
        if len(rest) > desk.LINE_BYTES_MAX:
            self._drop("a line that does not end")
        found: list[DownMessage] = []
        for data in whole:
            message = desk.read_down(data)
            if isinstance(message, str):
                self.fault = message
            else:
                found.append(message)
        if self._socket is None:
            self._in.clear()
            found = [message for message in found if not isinstance(message, Role)]
        return found

    def _drop(self, why: str, *, keep_in: bool = False) -> None:
        """Give the connection up; answers already read still count if ``keep_in``."""
        if self._socket is not None:
            self._socket.close()
        self._socket = None
        self.role = None
        self.fault = why
        self._out.clear()
        if not keep_in:
            self._in.clear()

    def _unanswered(self, now_ns: int) -> list[Answer]:
        """Tell once of each act that has waited for too long; forget those of long ago."""
        said: list[Answer] = []
        for act_id, ask in list(self._asked.items()):
            age_ns = now_ns - ask.asked_boot_ns
            if age_ns >= FORGET_NS:
                self._forget(act_id)
            elif age_ns >= desk.ANSWER_NS_MAX and act_id not in self._told:
                self._told.add(act_id)
                said.append(NoAnswer(id=act_id))
        return said

    def _forget(self, act_id: str) -> None:
        del self._asked[act_id]
        self._told.discard(act_id)
