"""Packets by UDP: one frame a datagram, IPv4 and IPv6.

A reading thread drains the socket in bursts. Where an event loop reads one datagram a turn, 5,000
that arrive while it is busy are cut to the 256 that the usual receive buffer holds; so this asks
for a larger one, says what was granted, and does not wait for the loop.
"""

import contextlib
import errno
import os
import select
import selectors
import socket
import struct
import sys
import threading
from collections.abc import Callable
from typing import Final

from monitor.clock import Clock
from monitor.errors import LinkFailed
from monitor.links.chunk import Address, Chunk, LinkDown
from monitor.links.guard import (
    FORGED_A_SECOND,
    LOOK_NS,
    SOURCES_MAX,
    WHOLE,
    Guard,
    Known,
    attach,
    detach,
    frame_in,
    kind_of,
    program,
)
from monitor.links.inbox import Inbox
from monitor.links.spec import UdpSpec
from protocol.freshness import NS_PER_S

RECEIVE_BUFFER_BYTES = 4 * 1024 * 1024
"""Asked of the system: about 10,000 small datagrams, 2 s of 5,000 a second."""
DATAGRAM_BYTES_MAX = 512
"""Twice the longest frame. A longer datagram is cut here, and then refused as too long."""
BURST_MAX = 32
"""Datagrams handed over together and stamped alike: some 50 microseconds' reading. The stamp is
taken before the first is read, which is nearer to when the waiting ones came than after each."""
GATHER_S = 0.002
"""In a flood, datagrams gather for so long: to wake up for each costs more than to read it. About
a hundred of them wait then, and the usual receive buffer holds 256."""
STOP_WAIT_S = 2.0

_SO_MEMINFO: Final = 55
_MEMINFO_FIELDS: Final = struct.Struct("9I")
"""Linux: a socket's memory figures; the last of nine is the number of datagrams thrown away."""


def _addresses(spec: UdpSpec) -> list[tuple[socket.AddressFamily, Address]]:
    """Where to listen, best first. No host: both families on one socket, else IPv4 alone."""
    if not spec.host:
        return [
            (socket.AF_INET6, ("::", spec.port, 0, 0)),
            (socket.AF_INET, ("0.0.0.0", spec.port)),  # noqa: S104 - packs are on other machines
        ]
    try:
        found = socket.getaddrinfo(spec.host, spec.port, type=socket.SOCK_DGRAM)
    except OSError as error:
        raise LinkFailed(
            f"the host is not known ({error.strerror})",
            spec.name,
            "name an address of this machine",
        ) from error
    return [(family, address) for family, _, _, _, address in found]  # type: ignore[misc]


def _bind(spec: UdpSpec) -> socket.socket:
    """Return a bound socket. Raises LinkFailed: busy, not allowed, not an address of ours."""
    failure: OSError | None = None
    for family, address in _addresses(spec):
        opened: socket.socket | None = None
        try:
            opened = socket.socket(family, socket.SOCK_DGRAM)
            if family == socket.AF_INET6:
                # With no host named, IPv4 comes in by the same socket.
                opened.setsockopt(socket.IPPROTO_IPV6, socket.IPV6_V6ONLY, bool(spec.host))
            opened.bind(address)
        except OSError as error:
            failure = failure or error
            if opened is not None:
                opened.close()
        else:
            return opened
    assert failure is not None
    raise _plain(failure, spec)


_PLAIN = {
    errno.EADDRINUSE: ("the port is in use", "stop what listens there, or name another port"),
    errno.EACCES: ("the port may not be opened", "name a port above 1023"),
    errno.EADDRNOTAVAIL: ("that is no address of this machine", "name one, or leave the host out"),
}


def _plain(error: OSError, spec: UdpSpec) -> LinkFailed:
    what, to_do = _PLAIN.get(
        error.errno or 0, (f"the port cannot be opened ({error.strerror})", "check the link")
    )
    return LinkFailed(what, spec.name, to_do)


class UdpLink:
    """A bound port and the thread that reads it. ``close`` ends both."""

    def __init__(self, number: int, spec: UdpSpec, clock: Clock, inbox: Inbox) -> None:
        """Open and begin to read. Raises LinkFailed with what, where and what to do."""
        self.number = number
        self.name = spec.name
        self._clock = clock
        self._inbox = inbox
        self._socket = _bind(spec)
        self._socket.setblocking(False)
        with contextlib.suppress(OSError):
            self._socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, RECEIVE_BUFFER_BYTES)
        self.granted_bytes = self._socket.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)
        """Receive buffer as the system counts it; Linux counts its own bookkeeping in, and so
        answers twice what was asked."""
        self.address: Address = self._socket.getsockname()
        self._came = 0
        """Datagrams read since opening."""
        self._guard = Guard()
        self._known: Known | None = None
        """What is expected here; None: there is no flood, and nothing is told apart."""
        self._read = [0] * len(WHOLE)
        """By kind, datagrams read in a flood since the guard last looked."""
        self._filtering = False
        """Whether the system keeps back what it was asked to."""
        self._kept_back = 0
        self._forged = 0
        """Forged frames of known packs, from their own places, since the guard last looked; ..."""
        self._forged_dropped = 0
        """... and those of them, by now, that were not handed on."""
        self._drops_seen = 0
        self._stopping = False
        self._stop_read, self._stop_write = os.pipe()
        self._thread = threading.Thread(target=self._run, name=f"link {number}", daemon=True)
        self._thread.start()

    @property
    def detail(self) -> str:
        """What to know of it, for a screen."""
        asked = RECEIVE_BUFFER_BYTES // 1024
        return f"receive buffer {self.granted_bytes // 1024} KiB granted, {asked} KiB asked"

    def send(self, data: bytes, address: Address | None) -> bool:
        """Send one datagram; say whether the system took it. Never blocks and never raises."""
        if address is None:
            return False
        try:
            return self._socket.sendto(data, address) == len(data)
        except OSError:
            return False

    def system_drops(self) -> int | None:
        """Datagrams the system threw away since opening, its buffer being full; None: not told.

        What it kept back of a flood, as it was told to, is not among them.
        """
        counted = self._counted()
        if counted is None:
            return None
        since = counted - self._drops_seen if self._filtering else 0
        return counted - self._kept_back - since

    def _counted(self) -> int | None:
        """What the system counts: thrown away or kept back."""
        if sys.platform != "linux":
            return None
        try:
            raw = self._socket.getsockopt(socket.SOL_SOCKET, _SO_MEMINFO, _MEMINFO_FIELDS.size)
            return int(_MEMINFO_FIELDS.unpack(raw)[-1])
        except (OSError, struct.error):
            return None

    def turn_away(self, now_ns: int, known: Callable[[], Known]) -> int:
        """Have the system keep a flood back; how many datagrams it has kept back since.

        What known packs say from where they are heard is never kept back.
        """
        drops = self._counted() or 0
        # Where the system takes no filter, what it threw away is lost.
        since = drops - self._drops_seen if self._filtering else 0
        self._drops_seen = drops
        self._kept_back += since
        read = self._read
        if self._guard.look(now_ns, self._came + drops, read):
            self._read = [0] * len(WHOLE)
            self._forged = 0
            self._keep_back(known() if self._guard.share is not None else None)
        dropped, self._forged_dropped = self._forged_dropped, 0
        return since + dropped

    def _keep_back(self, known: Known | None) -> None:
        share = self._guard.share
        if known is None or share is None or len(known.sources) > SOURCES_MAX:
            self._known = None
            self._filtering = False
            with contextlib.suppress(OSError):
                detach(self._socket)
        else:
            self._known = known
            self._filtering = attach(self._socket, program(known, share))

    def close(self) -> None:
        """Stop reading and let go of the port. Doing it twice is harmless."""
        if self._stopping:
            return
        self._stopping = True
        os.close(self._stop_write)
        self._thread.join(STOP_WAIT_S)
        self._socket.close()
        os.close(self._stop_read)

    def _run(self) -> None:
        with selectors.DefaultSelector() as selector:
            selector.register(self._socket, selectors.EVENT_READ)
            selector.register(self._stop_read, selectors.EVENT_READ)
            while not self._stopping:
                selector.select()
                try:
                    self._drain()
                except OSError as error:
                    down = LinkDown(self.number, self._clock.stamp(), str(error))
                    self._inbox.put_down(down)
                    return
                if self._known is not None:
                    select.select([], [], [], GATHER_S)

    def _drain(self) -> None:
        """Read until nothing is left, handing over burst by burst."""
        receive, number = self._socket.recvfrom, self.number
        while not self._stopping:
            burst: list[Chunk] = []
            came, more = 0, True
            known = self._known
            stamp = self._clock.stamp()
            try:
                for _ in range(BURST_MAX):
                    data, source = receive(DATAGRAM_BYTES_MAX)
                    came += 1
                    if known is None or self._handed_on(data, source, known):
                        burst.append(Chunk(number, stamp, source, data))
            except BlockingIOError:
                more = False
            finally:
                self._came += came
                if burst:
                    self._inbox.put(number, burst)
            if not more:
                return

    def _handed_on(self, data: bytes, source: Address, known: Known) -> bool:
        """Count a datagram of a flood; False: one too many of those that only look genuine."""
        kind = kind_of(data, source, known)
        self._read[kind] += 1
        if kind or not self._inbox.forged(frame_in(data)):
            return True
        self._forged += 1
        if self._forged <= FORGED_A_SECOND * LOOK_NS // NS_PER_S:
            return True
        self._forged_dropped += 1
        return False
