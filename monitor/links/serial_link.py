"""Packets by a serial line: a base radio or a gateway on a port, 8N1.

Two threads, so that neither a quiet line nor a stuck one ever holds up the loop: one waits for a
byte and then takes all that is there; one writes what is to be sent.
"""

import contextlib
import errno
import glob
import os
import queue
import select
import threading
from collections.abc import Callable

import serial

from monitor.clock import Clock
from monitor.errors import LinkFailed
from monitor.links.chunk import Address, Chunk, LinkDown
from monitor.links.guard import Known
from monitor.links.inbox import Inbox
from monitor.links.spec import SerialSpec

CHUNK_BYTES_MAX = 4096
"""A third of a second at 115,200 baud; a pty hands over as much at once."""
SENDS_WAITING_MAX = 64
"""Frames that wait for the line; beyond that a send is refused, never late."""
WRITE_WAIT_S = 1.0
"""A frame that the line has not taken by then is given up, and what waits behind it: an order or a
beacon is made anew, never sent late."""
STOP_WAIT_S = 3.0
DEVICES_MAX = 32
"""Of those that fit a pattern, so many are tried."""

_PLAIN = {
    errno.ENOENT: ("there is no such port", "plug it in, or name another"),
    errno.ENXIO: ("there is no device at that port", "plug it in, or name another"),
    errno.ENODEV: ("there is no device at that port", "plug it in, or name another"),
    errno.EACCES: ("the port may not be opened", "join the group that owns it, such as dialout"),
    errno.EPERM: ("the port may not be opened", "join the group that owns it, such as dialout"),
    errno.EBUSY: ("the port is in use", "stop what uses it"),
    errno.EWOULDBLOCK: ("the port is in use", "stop what uses it"),
    errno.ENOTTY: ("that is no serial port", "name the device of one"),
}


def _plain(error: OSError | ValueError, spec: SerialSpec) -> LinkFailed:
    # pyserial wraps some of the system's errors without handing on their number.
    causes = (error, error.__context__)
    numbers = [arg for cause in causes if cause for arg in cause.args[:1]]
    known = next((_PLAIN[number] for number in numbers if number in _PLAIN), None)
    if known is None:
        known = (f"the port cannot be opened ({error})", "check the device and its baud rate")
    return LinkFailed(known[0], spec.name, known[1])


def _open(spec: SerialSpec, write_wait_s: float) -> serial.Serial:
    """Open the device, or the first that opens of those whose name fits the pattern.

    An adapter that is pulled and put back may come back under another name; a pattern such as
    ``/dev/ttyUSB*``, or a name below ``/dev/serial/by-id``, finds it again.
    """
    found = sorted(glob.glob(spec.device))[:DEVICES_MAX]  # noqa: PTH207 - an absolute pattern
    failed: LinkFailed | None = None
    for device in found or [spec.device]:
        try:
            return serial.Serial(
                device, spec.baud, timeout=None, write_timeout=write_wait_s, exclusive=True
            )
        except (OSError, ValueError) as error:
            failed = failed or _plain(error, spec)
    assert failed is not None, "at least one was tried"
    raise failed


class SerialLink:
    """An open port and its two threads. ``close`` ends all three."""

    granted_bytes: int | None = None

    def __init__(
        self,
        number: int,
        spec: SerialSpec,
        clock: Clock,
        inbox: Inbox,
        write_wait_s: float = WRITE_WAIT_S,
    ) -> None:
        """Open and begin to read. Raises LinkFailed with what, where and what to do."""
        self.number = number
        self.name = spec.name
        self._clock = clock
        self._inbox = inbox
        self._sends: queue.Queue[bytes | None] = queue.Queue(SENDS_WAITING_MAX)
        self._stopping = threading.Event()
        self._told = threading.Lock()
        self.sends_given_up = 0
        """Frames that the line did not take in time."""
        self._down = False
        self._write_wait_s = write_wait_s
        self._port = _open(spec, write_wait_s)
        self.detail = f"8N1, {self._port.name}"
        self._threads = [
            threading.Thread(target=run, name=f"link {number} {what}", daemon=True)
            for what, run in (("read", self._read), ("write", self._write))
        ]
        for thread in self._threads:
            thread.start()

    def send(self, data: bytes, address: Address | None = None) -> bool:
        """Queue bytes for the line; False if the link is down or too much waits already.

        Never blocks and never raises. ``address`` is not used: everybody on the line hears it.
        """
        del address
        if self._down or self._stopping.is_set():
            return False
        try:
            self._sends.put_nowait(data)
        except queue.Full:
            return False
        return True

    def system_drops(self) -> int | None:
        """A serial port does not tell what was lost in the system."""
        return None

    def turn_away(self, now_ns: int, known: Callable[[], Known]) -> int:
        """A line brings no more than its speed: nothing is kept back."""
        del now_ns, known
        return 0

    def close(self) -> None:
        """Stop both threads and let go of the port. Doing it twice is harmless."""
        if self._stopping.is_set():
            return
        self._stopping.set()
        with contextlib.suppress(queue.Full):
            self._sends.put_nowait(None)
        with contextlib.suppress(OSError):
            self._port.cancel_read()
            self._port.cancel_write()
        for thread in self._threads:
            thread.join(STOP_WAIT_S)
        with contextlib.suppress(OSError):
            self._port.close()

    def _read(self) -> None:
        port, number = self._port, self.number
        try:
            while not self._stopping.is_set():
                data = port.read(1)
                stamp = self._clock.stamp()
                if not data:
                    # Only cancel_read ends a wait without a byte; a hang-up raises.
                    continue
                data += port.read(min(port.in_waiting, CHUNK_BYTES_MAX - 1))
                self._inbox.put(number, [Chunk(number, stamp, None, data)])
        except OSError as error:
            self._fail(error)

    def _write(self) -> None:
        try:
            while (data := self._sends.get()) is not None and not self._stopping.is_set():
                try:
                    self._wait_writable()
                    self._port.write(data)
                except serial.SerialTimeoutException:
                    self._give_up_waiting()
        except OSError as error:
            self._fail(error)

    def _wait_writable(self) -> None:
        """Wait here and not in ``write``, which turns in circles while the line is full."""
        if os.name == "posix":
            poll = select.poll()
            poll.register(self._port.fileno(), select.POLLOUT)
            if not poll.poll(self._write_wait_s * 1000):
                raise serial.SerialTimeoutException

    def _give_up_waiting(self) -> None:
        self.sends_given_up += 1
        with contextlib.suppress(queue.Empty):
            while (data := self._sends.get_nowait()) is not None:
                self.sends_given_up += 1
            self._sends.put_nowait(data)

    def _fail(self, error: OSError) -> None:
        """Tell of the failure, once, whichever thread met it first; then end the other one."""
        with self._told:
            if self._down or self._stopping.is_set():
                return
            self._down = True
        self._inbox.put_down(LinkDown(self.number, self._clock.stamp(), str(error)))
        with contextlib.suppress(OSError):
            self._port.cancel_read()
        with contextlib.suppress(queue.Full):
            self._sends.put_nowait(None)
