"""Where a run's frames go: datagrams to a base, a serial line that is a pseudo-terminal, or a port.

Both send without ever waiting, count what could not be sent, and wait for the base's frames no
longer than asked.
"""

import errno
import ipaddress
import os
import select
import socket
import tty
from pathlib import Path
from typing import Protocol

import serial

from protocol.fields import FRAME_BYTES_MAX
from protocol.framing import Splitter, wrap

READ_BYTES_MAX = 4096
FRAMES_A_WAIT_MAX = 64
"""So that a flood of frames cannot keep a run from sending."""
UDP_PORT_MAX = 65_535


class OutletFault(Exception):
    """An outlet cannot be opened: what is wrong, where, and what to do."""

    def __init__(self, what: str, where: str, to_do: str = "") -> None:
        """Hold the three parts."""
        super().__init__(what, where, to_do)
        self.what = what
        self.where = where
        self.to_do = to_do


class Outlet(Protocol):
    """What a run needs of one."""

    name: str
    """As a person types it at the base: ``udp:41900``, ``serial:/tmp/packs``."""
    dropped: int
    """Frames that could not be sent."""

    def send(self, frame: bytes) -> None:
        """Send without waiting."""

    def wait(self, timeout_s: float) -> list[bytes]:
        """Wait for frames of the base, at most so long; give what came."""

    def close(self) -> None:
        """Let go of it."""


class UdpOutlet:
    """A frame a datagram, to one address; the base answers to where they came from."""

    def __init__(self, host: str, port: int, *, beyond_this_machine: bool = False) -> None:
        """Open it. Raises OutletFault, also for an address of another machine unless allowed."""
        where = f"udp:{host}:{port}"
        if not 0 < port <= UDP_PORT_MAX:
            raise OutletFault("no such port", where, "1 to 65535")
        try:
            family, kind, proto, _, address = socket.getaddrinfo(
                host, port, type=socket.SOCK_DGRAM
            )[0]
        except OSError as error:
            raise OutletFault(error.strerror or "no such host", where) from None
        if not ipaddress.ip_address(str(address[0]).partition("%")[0]).is_loopback and (
            not beyond_this_machine
        ):
            raise OutletFault(
                "virtual packs are kept on this machine", where, "say --beyond-this-machine to send"
            )
        self.name = where
        self.dropped = 0
        self._socket = socket.socket(family, kind, proto)
        try:
            self._socket.connect(address)
        except OSError as error:
            self._socket.close()
            raise OutletFault(error.strerror or "cannot be reached", where) from None
        self._socket.setblocking(False)

    def send(self, frame: bytes) -> None:
        """Send one datagram; a base that is not there yet is one that does not hear."""
        try:
            self._socket.send(frame)
        except OSError:
            self.dropped += 1

    def wait(self, timeout_s: float) -> list[bytes]:
        """Wait for datagrams of the base."""
        select.select([self._socket], [], [], timeout_s)
        frames: list[bytes] = []
        while len(frames) < FRAMES_A_WAIT_MAX:
            try:
                frames.append(self._socket.recv(FRAME_BYTES_MAX + 1))
            except BlockingIOError:
                break
            except OSError:
                # Nobody listened when something was sent: told here, and no fault of ours.
                continue
        return frames

    def close(self) -> None:
        """Close the socket."""
        self._socket.close()


class SerialOutlet:
    """A pseudo-terminal that the base opens as a serial port.

    What is sent while nobody has the port open is lost, as on a cable that is not plugged in.
    """

    def __init__(self, link: Path | None = None) -> None:
        """Make the pair; ``link`` becomes a lasting name of the port. Raises OutletFault."""
        self._ours, theirs = os.openpty()
        tty.setraw(theirs)
        device = os.ttyname(theirs)
        os.close(theirs)
        os.set_blocking(self._ours, False)
        self.dropped = 0
        self._link = link
        self._splitter = Splitter()
        if link is not None:
            self._name_it(link, device)
        self.name = f"serial:{link or device}"

    def send(self, frame: bytes) -> None:
        """Write one frame with its line framing; all of it or none."""
        try:
            if self._plugged_in(0.0) and os.write(self._ours, wrap(frame)):
                return
        except OSError as error:
            if error.errno not in (errno.EAGAIN, errno.EIO):
                raise
        self.dropped += 1

    def wait(self, timeout_s: float) -> list[bytes]:
        """Wait for frames of the base; what is damaged is passed over, as a pack does."""
        if not self._plugged_in(timeout_s):
            # An unplugged line is always ready to say so: wait on nothing instead.
            select.select([], [], [], timeout_s)
            return []
        try:
            data = os.read(self._ours, READ_BYTES_MAX)
        except OSError:
            return []
        return [found for found in self._splitter.feed(data) if isinstance(found, bytes)]

    def close(self) -> None:
        """Take the port away."""
        os.close(self._ours)
        if self._link is not None:
            self._link.unlink(missing_ok=True)

    def _plugged_in(self, timeout_s: float) -> bool:
        poll = select.poll()
        poll.register(self._ours, select.POLLIN)
        events = poll.poll(timeout_s * 1000)
        return not any(event & select.POLLHUP for _, event in events)

    def _name_it(self, link: Path, device: str) -> None:
        if link.is_symlink() and not link.exists():
            link.unlink()  # left behind by a run that was killed
        try:
            link.symlink_to(device)
        except OSError as error:
            os.close(self._ours)
            raise OutletFault(
                error.strerror or "cannot be made", str(link), "give another name for the port"
            ) from None


class PortOutlet:
    """A serial port of this machine with a cable in it, to try a base that is not a program."""

    def __init__(self, device: str, baud: int) -> None:
        """Open it, 8N1. Raises OutletFault."""
        self.name = f"serial:{device}@{baud}"
        self.dropped = 0
        self._splitter = Splitter()
        try:
            self._port = serial.Serial(device, baud, timeout=0, write_timeout=0)
        except (OSError, ValueError) as error:
            raise OutletFault(
                "the port cannot be opened", self.name, f"check the device ({error})"
            ) from None

    def send(self, frame: bytes) -> None:
        """Write one frame with its line framing; a port that has gone or is full loses it."""
        line = wrap(frame)
        try:
            if self._port.write(line) == len(line):
                return
        except OSError:
            pass
        self.dropped += 1

    def wait(self, timeout_s: float) -> list[bytes]:
        """Wait for frames of the base; what is damaged is passed over, as a pack does."""
        try:
            select.select([self._port], [], [], timeout_s)
            data = self._port.read(READ_BYTES_MAX)
        except (OSError, TypeError):
            # Pulled out, and pyserial has closed it or not: nothing comes any more.
            select.select([], [], [], timeout_s)
            return []
        return [found for found in self._splitter.feed(data) if isinstance(found, bytes)]

    def close(self) -> None:
        """Let go of it."""
        self._port.close()
