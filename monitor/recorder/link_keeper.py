"""Keeps the links of a recorder open: opens them, and opens again what has failed.

A port that goes (a cable pulled, an adapter reset) comes back by itself, with pauses that grow to
ten seconds. Numbers are places in the list of links, from 1, and stay.
"""

import asyncio
import logging
from collections.abc import Callable, Coroutine, Sequence
from functools import partial

from monitor.clock import Clock
from monitor.errors import LinkFailed
from monitor.incident.events import LinkState
from monitor.links.chunk import LinkDown
from monitor.links.guard import Known
from monitor.links.inbox import Inbox
from monitor.links.opening import Link, open_link
from monitor.links.spec import LinkSpec, SerialSpec
from monitor.recorder.batch import Send
from protocol.framing import wrap

RETRY_S_FIRST = 0.5
RETRY_S_MAX = 10.0
LOOK_S = 2.0
"""How often the system is asked what it threw away."""

_log = logging.getLogger(__name__)

Tell = Callable[[LinkState, bool], None]
"""Gets the news of a link, and whether it is a wire."""


class LinkKeeper:
    """All links of one recorder. Everything but the reading happens on the loop."""

    def __init__(
        self,
        specs: Sequence[LinkSpec],
        clock: Clock,
        wake: Callable[[], None],
        retry_s: float = RETRY_S_FIRST,
        look_s: float = LOOK_S,
    ) -> None:
        """``wake`` is called from reading threads when there is something to take."""
        self.inbox = Inbox(wake)
        self.links: dict[int, Link] = {}
        self._specs = dict(enumerate(specs, start=1))
        self._clock = clock
        self._retry_s = retry_s
        self._tell: Tell = lambda _state, _wire: None
        self._tasks: set[asyncio.Task[None]] = set()
        self._look_s = look_s
        self._unread: dict[int, int] = {}
        """By link, since it was opened: packets that the inbox had no room for ..."""
        self._dropped: dict[int, int] = {}
        """... and those that the system threw away before."""

    def open_all(self) -> None:
        """Open every link. Raises LinkFailed if one cannot be; those open are closed again."""
        try:
            for number, spec in self._specs.items():
                self.links[number] = open_link(number, spec, self._clock, self.inbox)
        except LinkFailed:
            self.close()
            raise

    def open_what_can_be(self) -> None:
        """Open every link that can be; the others are tried again once ``start`` was called."""
        for number, spec in self._specs.items():
            try:
                self.links[number] = open_link(number, spec, self._clock, self.inbox)
            except LinkFailed as error:
                _log.warning("link %d: %s", number, error)

    def start(self, tell: Tell) -> None:
        """Tell of every link as it is, and of all that happens to them from now on."""
        self._tell = tell
        for number, spec in self._specs.items():
            link = self.links.get(number)
            if link is not None:
                self._say(number, up=True, detail=link.detail)
            else:
                self._say(number, up=False, detail="cannot be opened")
                self._later(self._open_again(number, spec))
        self._later(self._look())

    def went_down(self, down: LinkDown) -> None:
        """Tell of a link that failed, and open it again as soon as that can be."""
        _log.warning("link %d failed: %s", down.link, down.reason)
        link = self.links.pop(down.link, None)
        self._say(down.link, up=False, detail=down.reason)
        self._later(self._reopen(down.link, link))

    def lost(self, number: int, count: int) -> None:
        """Tell of packets that the base itself was too busy to take."""
        _log.warning("link %d: %d packets lost, the base was too busy", number, count)
        self._unread[number] = self._unread.get(number, 0) + count
        self._say_again(number)

    def look(self) -> None:
        """Ask the system what it threw away, and tell of each link that has lost more."""
        for number, link in self.links.items():
            drops = link.system_drops() or 0
            if drops > self._dropped.get(number, 0):
                _log.warning("link %d: the system threw away %d packets so far", number, drops)
                self._dropped[number] = drops
                self._say_again(number)

    def send(self, send: Send) -> None:
        """Send one frame. One that does not go out is lost, as on any radio."""
        link = self.links.get(send.link)
        if link is None:
            return
        wire = isinstance(self._specs[send.link], SerialSpec)
        link.send(wrap(send.frame) if wire else send.frame, send.address)

    def turn_away(self, now_ns: int, known: Callable[[int], Known]) -> dict[int, int]:
        """Have floods kept back; by link, how many datagrams were since the last time."""
        kept = {
            number: link.turn_away(now_ns, partial(known, number))
            for number, link in self.links.items()
        }
        return {number: count for number, count in kept.items() if count}

    def close(self) -> None:
        """Close all; may take some seconds if a port hangs."""
        for task in self._tasks:
            task.cancel()
        for link in self.links.values():
            link.close()
        self.links.clear()

    def summary(self) -> str:
        """All links and what each was granted, in one line."""
        said = []
        for number, spec in self._specs.items():
            link = self.links.get(number)
            said.append(f"{spec.name} ({link.detail if link else 'cannot be opened yet'})")
        return "; ".join(said)

    async def _look(self) -> None:
        while True:
            await asyncio.sleep(self._look_s)
            self.look()

    def _say_again(self, number: int) -> None:
        link = self.links.get(number)
        if link is not None:
            self._say(number, up=True, detail=link.detail)

    def _say(self, number: int, *, up: bool, detail: str) -> None:
        spec = self._specs[number]
        lost = self._unread.get(number, 0) + self._dropped.get(number, 0)
        if lost:
            detail = f"{lost} packets lost unread: this machine was too busy; {detail}"
        state = LinkState(link=number, name=spec.name, up=up, detail=detail[:400], lost=lost)
        self._tell(state, isinstance(spec, SerialSpec))

    def _later(self, work: Coroutine[None, None, None]) -> None:
        task = asyncio.get_running_loop().create_task(work)
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _reopen(self, number: int, link: Link | None) -> None:
        if link is not None:
            # A port that hangs may take seconds to let go; the loop does not wait for it.
            await asyncio.to_thread(link.close)
        await self._open_again(number, self._specs[number])

    async def _open_again(self, number: int, spec: LinkSpec) -> None:
        pause_s = self._retry_s
        while True:
            await asyncio.sleep(pause_s)
            pause_s = min(2 * pause_s, RETRY_S_MAX)
            try:
                link = self.links[number] = open_link(number, spec, self._clock, self.inbox)
            except LinkFailed as error:
                _log.info("link %d: %s", number, error)
                continue
            # The system counts anew from here.
            self._unread.pop(number, None)
            self._dropped.pop(number, None)
            self._say(number, up=True, detail=link.detail)
            return
