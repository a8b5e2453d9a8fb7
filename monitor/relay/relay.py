"""Puts every commit of a journal, in order, into the stream of a broker.

It keeps no state: after any break it asks the stream what it has last, and goes on from there. It
reads the journal as any reader does; nothing at the door knows of it or waits for it. Each message
says behind which it belongs, so two relays of one journal do no harm: the slower one is told by the
broker, and asks again.
"""

import asyncio
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from monitor.clock import Clock
from monitor.errors import BadJournal
from monitor.journal import digest, lock
from monitor.journal.schema import Batch
from monitor.relay import subjects, wire
from monitor.relay.broker import BrokerFault, Connect, Keeping, NotNext, Pause, Stream
from monitor.relay.bundling import Bundle, is_urgent
from monitor.relay.search import last_where
from monitor.relay.source import Source, closes
from monitor.relay.wire import Bad, CommitsMessage, HeaderMessage, Joiner, Part

LOOK_S = 0.025
"""How often the journal is looked at."""
RETRY_S = 0.5
"""Between two tries to reach the broker, or to open a journal that cannot be read."""
END_WAIT_S = 10.0
"""A recorder that closes an incident makes one plain file of the journal, once readers let go."""


@dataclass(slots=True)
class _Place:
    """Up to where the stream has the journal."""

    batch: Batch
    seq: int
    """Of the newest message on the subject, whatever it is; 0: there is none."""


class Relay:
    """One journal into one stream."""

    def __init__(
        self,
        path: Path,
        connect: Connect,
        where: str,
        tell: Callable[[str], None],
        *,
        operation: str = "",
        keeping: Keeping | None = None,
        once: bool = False,
        pause: Pause = asyncio.sleep,
    ) -> None:
        """``where``: the broker, in words. ``tell``: is told each change of state, in a line.

        ``operation``: where the journal names none. ``once``: end when all is sent.
        ``pause``: how it waits, in seconds. Raises BadJournal.
        """
        self._pause = pause
        self._path = path
        self._connect = connect
        self._to = where
        self._tell = tell
        self._operation = operation
        self._keeping = keeping or Keeping()
        self._once = once
        self._clock = Clock()
        self._source = Source(path)
        self._subject = ""
        self._said = ""
        self._closed = self._source.is_closed()

    async def run(self) -> None:
        """Send until the incident is closed and all of it is there. Raises nothing but a cancel."""
        while True:
            try:
                self._open()
                broker = await self._connect()
                try:
                    await broker.make_stream(self._keeping)
                    await self._send(broker)
                finally:
                    await broker.close()
            except (BrokerFault, BadJournal) as error:
                self._say(f"{error}; trying again")
            else:
                self._say("all of it is on the stream")
                return
            await self._pause(RETRY_S)

    def close(self) -> None:
        """Let go of the journal."""
        self._source.close()

    def _say(self, words: str) -> None:
        if words != self._said:
            self._said = words
            self._tell(words)

    def _open(self) -> None:
        """Open the journal anew, and wait until it has been opened. Raises BadJournal."""
        self._source.close()
        self._source = Source(self._path)
        named = self._source.operation()
        if named is None:
            raise BadJournal("the incident is not opened yet", str(self._path), "wait for it")
        operation = named or self._operation
        if not operation:
            what, to_do = "the journal names no operation", "say which: --operation NAME"
            raise BadJournal(what, str(self._path), to_do)
        if len(operation) > subjects.TEXT_MAX:
            what = f"the operation's name is longer than {subjects.TEXT_MAX} characters"
            raise BadJournal(what, str(self._path), "say a shorter one: --operation NAME")
        incident = self._source.header.incident
        if not subjects.is_incident(incident):
            raise BadJournal("its header names no incident", str(self._path), "verify it")
        self._subject = subjects.of_commits(operation, incident)

    # ------------------------------------------------------------ sending

    async def _send(self, broker: Stream) -> None:
        while True:
            try:
                place = await self._where(broker)
                self._say(f"sending to {self._to} behind commit {place.batch.batch}")
                await self._go_on(broker, place)
            except NotNext:
                # Another relay, or a stranger: what the stream has now is asked for anew.
                await self._pause(LOOK_S)
            else:
                return

    async def _go_on(self, broker: Stream, place: _Place) -> None:
        bundle, more = Bundle(), True
        read = place.batch
        while True:
            if not bundle.full and (self._source.changed() or more):
                read, more = self._fill(bundle, read)
            if bundle.is_due(self._clock.boot_ns()) or (bundle.commits and self._ending):
                parts = wire.commits_message(bundle.first, bundle.last, bundle.commits)
                await self._publish(broker, place, (bundle.first, bundle.last), parts)
                place.batch, bundle, more = read, Bundle(), True
            elif self._ending and not more:
                if await self._is_all(read):
                    return
                more = True
            else:
                await self._pause(LOOK_S)

    @property
    def _ending(self) -> bool:
        return self._closed or self._once

    def _fill(self, bundle: Bundle, read: Batch) -> tuple[Batch, bool]:
        """Add what is new; give the last that was read, and whether there may be more."""
        for sealed in self._source.after(read):
            now_ns, urgent = self._clock.boot_ns(), is_urgent(sealed)
            raw = wire.commit_bytes(sealed)
            bundle.add(sealed.batch.batch, raw, now_ns, urgent=urgent)
            read = sealed.batch
            self._closed = self._closed or (urgent and closes(sealed))
            if bundle.full:
                return read, True
        return read, False

    async def _is_all(self, read: Batch) -> bool:
        """Let the journal go, so that its recorder can tidy up; then look whether more came."""
        if not self._closed:
            return True
        self._source.close()
        for _ in range(round(END_WAIT_S / LOOK_S)):
            if not lock.is_recorded(self._path):
                break
            await self._pause(LOOK_S)
        self._source = Source(self._path)
        return next(self._source.after(read), None) is None

    async def _publish(
        self, broker: Stream, place: _Place, numbers: tuple[int, int], parts: list[bytes]
    ) -> None:
        first, last = numbers
        for number, raw in enumerate(parts):
            name = f"{self._source.header.incident}-{first}-{last}-{number}"
            seq, was_there = await broker.publish(self._subject, raw, name, place.seq)
            if was_there:
                found = await broker.next(self._subject, seq)
                if found is None or found.data != raw:
                    # A stranger's under the name of ours: it is sent under another.
                    name = f"{name}-{place.seq}"
                    seq, _ = await broker.publish(self._subject, raw, name, place.seq)
            place.seq = seq

    # ------------------------------------------------------------ what the stream has

    async def _where(self, broker: Stream) -> _Place:
        """Up to where the stream has this journal; its header is sent if it has nothing."""
        last = await broker.last(self._subject)
        seq = last.seq if last is not None else 0
        batch = self._known(last.data) if last is not None else None
        if last is not None and batch is None:
            # Not ours, or rows that a loss of power has taken from the journal since.
            good = await last_where(broker, self._subject, lambda raw: self._known(raw) is not None)
            batch = self._known(good.data) if good is not None else None
        if batch is not None:
            return _Place(batch, seq)
        place = _Place(self._first(), seq)
        message = wire.header_message(self._source.stored, place.batch.digest)
        await self._publish(broker, place, (0, 0), message)
        return place

    def _first(self) -> Batch:
        first = self._source.batch(0)
        if first is None:
            raise BadJournal("the journal has no batch", str(self._path), "verify it")
        return first

    def _known(self, raw: bytes) -> Batch | None:
        """The commit of this journal up to which all is there, if that message is of it."""
        part = wire.part_of(raw)
        if isinstance(part, Bad):
            return None
        if part.parts > 1:
            return self._known_part(part)
        message = Joiner().take(raw)
        if isinstance(message, HeaderMessage):
            first = self._first()
            return (
                first
                if digest.header_bytes(message.stored) == digest.header_bytes(self._source.stored)
                and message.digest == first.digest
                else None
            )
        if not isinstance(message, CommitsMessage):
            return None
        said = message.commits[-1].batch
        own = self._source.batch(said.batch)
        return own if own == said else None

    def _known_part(self, part: Part) -> Batch | None:
        """Of a message in parts: all of it once the last is there, else what came before it."""
        whole = part.part + 1 == part.parts
        return self._source.batch(part.last if whole else max(part.first - 1, 0))
