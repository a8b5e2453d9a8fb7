"""Keeps replicas of every incident of an operation, or of all, from a stream.

Its only state is the replicas: what each has last says where to go on in the stream. Each incident
is followed by itself, so a stranger's messages on one subject hold up no other.
"""

import asyncio
import contextlib
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from monitor.clock import Clock
from monitor.errors import BadJournal, Busy
from monitor.mirror.replica import Replica, named
from monitor.mirror.taking import Rules, Taken, Why, begin
from monitor.relay import subjects
from monitor.relay.broker import BrokerFault, Connect, Pause, Stream
from monitor.relay.search import last_where
from monitor.relay.wire import Bad, HeaderMessage, Joiner, part_of

LOOK_S = 1.0
"""How often the stream is asked for incidents that are new."""
RETRY_S = 0.5
DOORS_MAX = 200
"""Incidents of one mirror: twice the entry points that one command post is built for."""
AGAIN_NS = 30_000_000_000
"""Commits that the stream does not have are asked for again after this long."""
QUIET_ENDS = 2
"""So many times nothing for two seconds, after the close: then a replica is one plain file."""


@dataclass(slots=True)
class _Door:
    """One incident of the stream."""

    subject: str
    place: subjects.Place
    replica: Replica | None = None
    asked_ns: int | None = None
    """When it was last asked again because of missing commits; None: it has gone on since."""
    quiet: int = 0
    joiner: Joiner = field(default_factory=Joiner)


class _Again(Exception):
    """Commits are missing: the stream is to be asked from where the replica ends."""


class Mirror:
    """All replicas below one folder."""

    def __init__(
        self,
        folder: Path,
        connect: Connect,
        where: str,
        tell: Callable[[str], None],
        *,
        operation: str = "",
        rules: Rules = Rules(),  # noqa: B008 - frozen
        once: bool = False,
        pause: Pause = asyncio.sleep,
    ) -> None:
        """``where``: the broker, in words. ``tell``: is told each change of state, in a line.

        ``operation``: empty for all. ``once``: end when everything that is on the stream now has
        been taken. ``pause``: how it waits, in seconds.
        """
        self._pause = pause
        self._folder = folder
        self._connect = connect
        self._from = where
        self._tell = tell
        self._clock = Clock()
        self._wanted = subjects.of_operation(operation)
        self._rules = rules
        self._once = once
        self._doors: dict[str, _Door] = {}
        self._said: dict[str, str] = {}

    async def run(self) -> None:
        """Mirror until it is cancelled, or all is there (``once``)."""
        try:
            while True:
                try:
                    broker = await self._connect()
                    try:
                        self._say("", f"mirroring from {self._from}")
                        await self._serve(broker)
                    finally:
                        await broker.close()
                except BrokerFault as error:
                    self._say("", f"{error}; trying again")
                else:
                    return
                await self._pause(RETRY_S)
        finally:
            for door in self._doors.values():
                if door.replica is not None:
                    door.replica.close()

    def _say(self, about: str, words: str) -> None:
        if self._said.get(about) != words:
            self._said[about] = words
            self._tell(f"{about}: {words}" if about else words)

    async def _serve(self, broker: Stream) -> None:
        tasks: dict[str, asyncio.Task[None]] = {}
        try:
            while True:
                for subject in await broker.subjects(self._wanted):
                    place = subjects.place_of(subject)
                    if place is None or subject in tasks:
                        continue
                    if len(tasks) >= DOORS_MAX:
                        self._say("more", f"NOT MIRRORED: incidents beyond {DOORS_MAX}")
                        continue
                    door = self._doors.setdefault(subject, _Door(subject, place))
                    tasks[subject] = asyncio.create_task(self._follow(broker, door))
                if tasks:
                    how = asyncio.ALL_COMPLETED if self._once else asyncio.FIRST_EXCEPTION
                    wait_s = None if self._once else LOOK_S
                    done, _ = await asyncio.wait(tasks.values(), timeout=wait_s, return_when=how)
                    for task in done:
                        task.result()
                else:
                    await self._pause(LOOK_S)
                if self._once:
                    return
        finally:
            for task in tasks.values():
                task.cancel()
            await asyncio.gather(*tasks.values(), return_exceptions=True)

    async def _follow(self, broker: Stream, door: _Door) -> None:
        """Keep one replica for as long as the connection holds. Raises BrokerFault."""
        while True:
            try:
                self._open(door)
                await self._take_all(broker, door)
            except _Again:
                await self._pause(RETRY_S)
            except (BadJournal, Busy, OSError) as error:
                # Its disk, or another mirror: this one waits, the others go on.
                self._say(door.place.incident, str(error))
                self._close(door)
                await self._pause(LOOK_S)
            else:
                return

    def _open(self, door: _Door) -> None:
        word, incident = door.subject.split(".")[2:4]
        path = named(self._folder, word, incident)
        if door.replica is None and path.exists():
            door.replica = Replica.open(path, door.place.operation, self._rules)

    def _close(self, door: _Door) -> None:
        if door.replica is not None:
            replica, door.replica = door.replica, None
            replica.close()

    async def _take_all(self, broker: Stream, door: _Door) -> None:
        door.joiner = Joiner()
        async with contextlib.aclosing(
            broker.follow(door.subject, await self._where(broker, door))
        ) as messages:
            async for message in messages:
                if message is None:
                    door.quiet += 1
                    if self._once or (door.quiet == QUIET_ENDS and self._has_ended(door)):
                        self._close(door)
                    if self._once:
                        return
                    continue
                door.quiet = 0
                self._take(door, message.data)
                await message.acknowledge()
        raise _Again

    @staticmethod
    def _has_ended(door: _Door) -> bool:
        return door.replica is not None and door.replica.closed

    async def _where(self, broker: Stream, door: _Door) -> int:
        """The place in the stream from which on the replica is to be filled."""
        if door.replica is None or door.asked_ns is not None:
            # Not there yet, or what the search found did not go on from it.
            return 1
        wanted = door.replica.last.batch + 1

        def before(raw: bytes) -> bool:
            part = part_of(raw)
            return not isinstance(part, Bad) and (part.first, part.part) <= (wanted, 0)

        found = await last_where(broker, door.subject, before)
        return found.seq if found is not None else 1

    # ------------------------------------------------------------ what comes

    def _take(self, door: _Door, raw: bytes) -> None:
        """Take one message; raises _Again where the stream is to be asked anew."""
        found = door.joiner.take(raw)
        if found is None:
            return
        self._open(door)
        if isinstance(found, HeaderMessage):
            self._begin(door, found)
        elif isinstance(found, Bad):
            self._refused(door, found)
        elif door.replica is None:
            self._refused(door, Why.MISSING)
        else:
            self._judged(door, door.replica, door.replica.take(found))

    def _judged(self, door: _Door, replica: Replica, taken: Taken) -> None:
        if taken.sealed:
            door.asked_ns = None
        if taken.why is None:
            self._say(door.place.incident, "closed" if replica.closed else "mirrored")
            return
        self._say(door.place.incident, f"NOT TO BE TRUSTED: {replica.said.fault}")
        now_ns = self._clock.boot_ns()
        asked = door.asked_ns
        if taken.why is Why.MISSING and (asked is None or now_ns - asked > AGAIN_NS):
            door.asked_ns = now_ns
            raise _Again

    def _refused(self, door: _Door, why: Bad | Why) -> None:
        if door.replica is not None:
            door.replica.refuse(why)
        self._say(door.place.incident, f"NOT TO BE TRUSTED: {why}")

    def _begin(self, door: _Door, message: HeaderMessage) -> None:
        begun = begin(message, door.place.incident, self._rules)
        if isinstance(begun, Why):
            self._refused(door, begun)
        elif door.replica is None:
            word, incident = door.subject.split(".")[2:4]
            path = named(self._folder, word, incident)
            door.replica = Replica.begin(path, door.place.operation, begun, self._rules)
            self._say(door.place.incident, f"mirrored to {path}")
        elif not door.replica.is_of(begun.first):
            self._refused(door, Why.FOREIGN)
