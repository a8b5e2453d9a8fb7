"""The shell around the sequencer: one loop, with the clock, the links, the desk and the journal.

For danger the order is: put in order, fold, sound, send, hand to the disk's thread, and, once that
has it in the journal, answer. Nothing on the loop waits for a disk: the journal and its folder
belong to ``places``, the log to ``log_file``, what a base remembers to ``aside``.

An error that nobody foresaw ends the process. Whoever watches starts another, which takes the
incident up from the journal: there is no state here worth saving.
"""

import asyncio
import contextlib
import logging
import signal
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from typing import Any

from monitor.clock import Clock, Stamp
from monitor.desk import Ask, BoardBeat, Hello, NotOnDisk, NotTaken, Stop, Stopping, UpMessage
from monitor.incident.alarms.engine import Announcement
from monitor.incident.base_power import BasePower
from monitor.incident.events import Fact, LinkState, SoundState
from monitor.journal.spill import Spill
from monitor.links.chunk import Chunk, Item, LinkDown, Overflow
from monitor.links.guard import PACKS_MAX, SOURCES_MAX, Known
from monitor.recorder.aside import Aside
from monitor.recorder.batch import Answer
from monitor.recorder.desk_server import DeskServer
from monitor.recorder.disk_watch import DiskNow, DiskWatch
from monitor.recorder.keys_back import KeysBack
from monitor.recorder.link_keeper import LinkKeeper
from monitor.recorder.memory import MemoryKeeper
from monitor.recorder.places import Places
from monitor.recorder.power import PowerWatch
from monitor.recorder.sequencer import Sequencer
from monitor.recorder.signing import Signing
from monitor.recorder.sounder import Sounder
from monitor.recorder.taking_up import Keys
from monitor.recorder.waiting import Waiting

SLICE_NS = 10_000_000
"""So long the loop takes frames before it looks at everything else: a sound, a board and a commit
wait no longer than this behind a flood."""
CHUNKS_AT_ONCE = 200
"""Folded between two looks at the clock: a millisecond."""
BEAT_LEAST_NS = 20_000_000
"""Between two commits, however far the frames that wait lie behind."""
LOOK_NS = 200_000_000
"""Between two looks at what waits to be heard, if nothing new is known."""
LOOK_AT_DISK_NS = 1_000_000_000
"""How often it is looked whether the disk is well."""
BLIND_NS = 1_000_000_000
"""No file has taken anything for so long: boards see nothing new."""
END_TAKE_NS = 1_000_000_000
"""So long a recorder that ends still takes what waits."""
END_WAIT_S = 1.0
"""So long a recorder that ends waits for what the disk has not taken yet."""
CLOSE_WAIT_S = 5.0
"""And so long for the file to be closed, or made one plain file: as long as readers let it wait."""
MEMORY_S = 30.0
"""How often the packs' numbers are kept for the next incident."""
KEYS_S = 2.0
"""How often it is looked whether keys that are lost are there again."""
NS_PER_S = 1_000_000_000

_log = logging.getLogger(__name__)


class Recorder:
    """Records one incident until it is closed or told to stop."""

    def __init__(
        self,
        sequencer: Sequencer,
        places: Places,
        links: LinkKeeper,
        desk: DeskServer,
        clock: Clock,
        memory: MemoryKeeper,
        sounder: Sounder,
        keys_back: KeysBack | None = None,
    ) -> None:
        """Put the parts together; nothing runs before ``run``."""
        self._sequencer = sequencer
        self._places = places
        self._sealer = places.sealer
        self._batches_before = places.written
        """Batches in the journal before the first of this sequencer."""
        self._disk_seen = self._places.journal.seen
        self._aside = Aside("memory")
        self._power = PowerWatch()
        self._links = links
        links.inbox.known, links.inbox.forged = sequencer.known, sequencer.forged
        self._waiting = Waiting()
        self._goes_on = False
        """What waits has its turn already."""
        self._beat_ns = 0
        """When the last commit was made, by the clock and not by what was folded."""
        self._desk = desk
        self._clock = clock
        self._memory = memory
        self._sounder = sounder
        self._keys_back = keys_back
        """Looks for keys that are lost; None: none are."""
        self.signing: Signing | None = None
        """Signs what is written; None: it is not signed."""
        self._looked_at_sound_ns = 0
        self._disk = DiskWatch(sequencer.incident.disk)
        self._loop: asyncio.AbstractEventLoop | None = None
        self._done: asyncio.Future[None] | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._timer_due_ns = 0
        self._looked_at_disk_ns = 0
        self._kept_ns = 0
        """When a file last took something, or nothing waited for one."""
        self._answered = asyncio.Event()
        """Set whenever the disk has taken something."""
        self._ending = False

    @property
    def closed(self) -> bool:
        """The incident has ended; all of it is in the journal once ``run`` has returned."""
        return self._sequencer.incident.closed

    def wake(self) -> None:
        """Have the loop take what the links have read. Called from their threads."""
        loop = self._loop
        if loop is not None:
            # The loop may close while a link's thread still reads its last packet.
            with contextlib.suppress(RuntimeError):
                loop.call_soon_threadsafe(self._read)

    def _wake_for_disk(self) -> None:
        """Have the loop look at what the disk has taken. Called from its thread."""
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):
                loop.call_soon_threadsafe(self._disk_told)

    def _wake_for_power(self, power: BasePower) -> None:
        """Have the loop record what the machine runs on. Called from the thread that looked."""
        loop = self._loop
        if loop is not None:
            with contextlib.suppress(RuntimeError):
                loop.call_soon_threadsafe(self._base_power, power)

    async def run(self, ready: Callable[[], None]) -> None:
        """Record. ``ready`` is called once the desk is open and the first commit is made.

        Returns when the incident is closed, or after ``stop``; raises what nobody foresaw.
        """
        loop = self._loop = asyncio.get_running_loop()
        self._done = loop.create_future()
        loop.set_exception_handler(self._unforeseen)
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, self.stop)
        tasks = [loop.create_task(self._keep_remembering())]
        if self._keys_back is not None:
            tasks.append(loop.create_task(self._look_for_keys(self._keys_back)))
        try:
            self._places.start(self._wake_for_disk)
            await self._desk.open(self._said, self._left)
            self._links.start(self._link_state)
            self._sounder.start(self._sound_state, self._sequencer.incident.sounding())
            self._drain()
            self._beat(self._clock.stamp())
            await self._wait_for_disk(CLOSE_WAIT_S)
            ready()
            await self._done
        finally:
            for task in tasks:
                task.cancel()
            await self._end()

    def stop(self) -> None:
        """End the process in good order. The incident stays open."""
        if self._done is not None and not self._done.done():
            _log.info("stopping; the incident stays open")
            # Every board, so that none takes this for a death and starts a recorder again.
            self._desk.tell_all(Stopping())
            self._done.set_result(None)

    # ------------------------------------------------------------ links

    def _drain(self) -> None:
        """Take what the links have read, for the length of a slice; the rest at the next turn.

        So whatever comes, timers, boards and the disk are looked at every few milliseconds.
        """
        loop = self._loop
        assert loop is not None, "only while running"
        self._waiting.add(*self._links.inbox.take_both())
        end_ns = self._clock.boot_ns() + SLICE_NS
        self._take_waiting(end_ns)
        if self._waiting and not self._goes_on:
            self._goes_on = True
            loop.call_soon(self._go_on)
        self._arm()

    def _read(self) -> None:
        """The links have read something: take it, unless its turn is coming anyway."""
        if self._loop is not None and not self._goes_on:
            self._drain()

    def _go_on(self) -> None:
        self._goes_on = False
        if self._loop is not None:
            self._drain()

    def _take_waiting(self, end_ns: int) -> None:
        """Take some of what waits after another, until then or until nothing waits."""
        while self._waiting:
            some = self._waiting.next(CHUNKS_AT_ONCE)
            self._take(some, self._now())
            if self._clock.boot_ns() >= end_ns:
                return

    def _now(self) -> Stamp:
        """The present, or, while frames of known packs wait, when the first of them was read."""
        return self._waiting.now(self._clock.stamp())

    def _take(self, items: Sequence[Item], stamp: Stamp) -> None:
        chunks = [item for item in items if isinstance(item, Chunk)]
        if chunks:
            self._sequencer.heard(chunks, stamp)
            self._sound()
        if len(chunks) == len(items):
            return
        for item in items:
            if isinstance(item, LinkDown):
                self._links.went_down(item)
            elif isinstance(item, Overflow):
                self._links.lost(item.link, item.chunks)

    def _link_state(self, state: LinkState, wire: bool) -> None:  # noqa: FBT001 - a call-back's shape
        _log.info("link %d %s: %s", state.link, "up" if state.up else "down", state.detail)
        self._sequencer.link_state(state, self._clock.stamp(), wire=wire)
        self._arm()

    # ------------------------------------------------------------ the desk

    def _said(self, seat: int, message: UpMessage) -> None:
        stamp = self._clock.stamp()
        match message:
            case Hello():
                self._sequencer.hello(seat, message, stamp)
            case Ask():
                self._sequencer.asked(seat, message, stamp)
                # What has been taken is quiet at once.
                self._sound(at_once=True)
            case BoardBeat():
                self._sequencer.board_beat(seat, stamp)
            case Stop() if self._sequencer.holds(seat):
                self.stop()
            case Stop():
                _log.warning("desk: %s may not stop the recorder", message.by)
        self._arm()

    def _left(self, seat: int) -> None:
        if self._ending:
            return
        self._sequencer.left(seat, self._clock.stamp())
        self._arm()

    # ------------------------------------------------------------ the beat

    def _arm(self) -> None:
        """Set the timer for the next commit, if it is due earlier than it stands."""
        assert self._loop is not None, "only while running"
        due_ns = max(self._sequencer.due_boot_ns(), self._beat_ns + BEAT_LEAST_NS)
        if self._timer is not None:
            if self._timer_due_ns <= due_ns:
                return
            self._timer.cancel()
        self._timer_due_ns = due_ns
        wait_ns = max(0, due_ns - self._clock.boot_ns())
        self._timer = self._loop.call_later(wait_ns / NS_PER_S, self._on_time)

    def _on_time(self) -> None:
        self._timer = None
        self._drain()
        self._beat(self._now())

    def _expected(self, link: int) -> Known:
        return Known(*self._sequencer.expected(link, SOURCES_MAX, PACKS_MAX))

    def _beat(self, stamp: Stamp, *, end: bool = False) -> None:
        """Move the horizon to ``stamp``, sound, send, have it committed. ``end``: and signed."""
        self._beat_ns = self._clock.boot_ns()
        for link, count in self._links.turn_away(self._beat_ns, self._expected).items():
            self._sequencer.turned_away(link, count)
        batch = self._sequencer.next_batch(stamp)
        if batch is None:
            if self._sequencer.done:
                self._finish()
            return
        self._sound()
        for send in batch.sends:
            self._links.send(send)
        self._answer(batch.at_once)
        self._answer(self._sequencer.held(stamp))
        sealed = self._sealer.seal(batch.rows, batch.horizon, batch.stamp)
        self._places.put(sealed)
        if self.signing and (signed := self.signing.sealed(sealed, end=end or batch.closes)):
            self._sequencer.noticed(signed, stamp)
        self._places.look(self._clock.boot_ns())
        self._look_at_disk(stamp)
        self._arm()

    def _disk_told(self) -> None:
        """Answer what is in the journal now; tell at once how the disk is if that is new."""
        if self._ending:
            return
        seen, before = self._places.journal.seen, self._disk_seen
        self._disk_seen = seen
        if replace(before, written=seen.written, whole=seen.whole) != seen:
            self._looked_at_disk_ns = 0
            self._look_at_disk(self._clock.stamp())
            self._arm()
        written = self._places.written - self._batches_before
        if written >= self._sequencer.oldest_in_flight or not self._sequencer.in_flight:
            self._kept_ns = self._clock.boot_ns()
        lasting = self._places.lasting - self._batches_before
        self._answer(self._sequencer.committed(written, lasting))
        self._answered.set()
        if self._sequencer.done:
            self._finish()

    def _answer(self, answers: list[Answer]) -> None:
        for answer in answers:
            if isinstance(answer.message, NotTaken):
                _log.warning("act %s not taken: %s", answer.message.id, answer.message.why)
            self._desk.send(answer.to, answer.message)

    def _sound(self, *, at_once: bool = False) -> None:
        """Say and sound what has become an alarm, and now and then what still waits."""
        said = self._sequencer.take_sounds()
        now_ns = self._clock.boot_ns()
        if said or at_once or now_ns - self._looked_at_sound_ns >= LOOK_NS:
            self._looked_at_sound_ns = now_ns
            self._sounder.look(now_ns, self._sequencer.incident.sounding())
        for one in said:
            _log.warning("%s", _in_words(one))
        for no in self._sequencer.incident.take_refusals():
            what = (no.number, no.kind, no.what, no.state, no.t)
            _log.error("alarm %d, %s: '%s' refused while '%s', t %d", *what)

    def _sound_state(self, state: SoundState) -> None:
        _log.info("sound: %s, %s", state.state, state.detail)
        if not self._ending:
            self._sequencer.noticed(state, self._clock.stamp())
            self._arm()

    def _base_power(self, power: BasePower) -> None:
        _log.info("power: %s, %s %%", power.state, power.percent)
        if not self._ending:
            self._sequencer.noticed(power, self._clock.stamp())
            self._arm()

    def _look_at_disk(self, stamp: Stamp) -> None:
        """Once a second, see whether the disk is well."""
        if stamp.boot_ns - self._looked_at_disk_ns < LOOK_AT_DISK_NS:
            return
        self._looked_at_disk_ns = stamp.boot_ns
        journal = self._places.journal
        seen, oldest = journal.seen, journal.oldest()
        now = DiskNow(
            fault=seen.fault or journal.sync_fault,
            gone=seen.gone,
            waits_ns=0 if oldest is None else stamp.boot_ns - oldest.batch.boot_ns,
            second=_where(self._places.spilling),
            t=self._sequencer.horizon,
            behind_ns=journal.disk_behind_ns(stamp.boot_ns),
            reserve=seen.reserve,
            thinned=self._sequencer.thinned,
        )
        if stamp.boot_ns - self._kept_ns > BLIND_NS:
            self._desk.tell_all(NotOnDisk())
        self._power.due(stamp.boot_ns, self._wake_for_power)
        changed = self._disk.look(now, was_full=seen.was_full)
        news: list[Fact] = [*self._places.take_news(), *([changed] if changed else [])]
        for fact in news:
            _log.warning("%s", fact)
            self._sequencer.noticed(fact, stamp)
        if news:
            self._sound()

    # ------------------------------------------------------------ the end

    def _finish(self) -> None:
        if self._done is not None and not self._done.done():
            _log.info("the incident is closed")
            self._done.set_result(None)

    def _unforeseen(self, _loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        error = context.get("exception") or RuntimeError(context["message"])
        _log.critical("unforeseen: %s", context["message"], exc_info=error)
        if self._done is not None and not self._done.done():
            self._done.set_exception(error)

    async def _end(self) -> None:
        done = self._done
        well = done is not None and done.done() and not done.cancelled() and not done.exception()
        if well and not self._sequencer.incident.closed:
            self._waiting.add(*self._links.inbox.take_both())
            self._take_waiting(self._clock.boot_ns() + END_TAKE_NS)
            self._beat(self._clock.stamp(), end=True)
            if self.signing:
                self._beat(self._clock.stamp())
            await self._wait_for_disk(END_WAIT_S)
            if self._sequencer.in_flight:
                self._places.begin()
                await self._wait_for_disk(END_WAIT_S)
        self._ending = True
        self._loop = None
        if self._timer is not None:
            self._timer.cancel()
        await self._sounder.close()
        await self._desk.close()
        self._links.close()
        self._aside.do(partial(self._memory.keep, self._memory.snapshot()))
        self._places.end(final=well and self._sequencer.incident.closed)
        if not self._places.ended(CLOSE_WAIT_S):
            _log.error("the disk does not answer: rows are left in a second place")
        self._aside.end(END_WAIT_S)
        self._power.end(END_WAIT_S)

    async def _wait_for_disk(self, within_s: float) -> None:
        """Wait until the journal has what there is by now, and its answers are out."""
        made = self._sequencer.made
        with contextlib.suppress(TimeoutError):
            async with asyncio.timeout(within_s):
                while self._sequencer.oldest_in_flight <= made:
                    self._answered.clear()
                    await self._answered.wait()

    async def _look_for_keys(self, back: KeysBack) -> None:
        """Go on with the keys once they are there again."""
        found: asyncio.Queue[Keys] = asyncio.Queue()
        aside = Aside("keys")
        loop = asyncio.get_running_loop()

        def look() -> None:
            keys = back.look()
            if keys.keyring is not None and not keys.fault:
                with contextlib.suppress(RuntimeError):
                    loop.call_soon_threadsafe(found.put_nowait, keys)

        while found.empty():
            aside.do(look)
            await asyncio.sleep(KEYS_S)
        _log.warning("the keys are there again")
        setup = back.take(found.get_nowait())
        self._sequencer.noticed(setup, self._clock.stamp())
        self._arm()

    async def _keep_remembering(self) -> None:
        while True:
            await asyncio.sleep(MEMORY_S)
            self._aside.do(partial(self._memory.keep, self._memory.snapshot()))


def _where(second: Spill | None) -> str:
    """A second place for people; the journal has its full path."""
    if second is None:
        return ""
    return str(second.path.parent) if second.lasting else "memory alone"


def _in_words(said: Announcement) -> str:
    wearers = ", ".join(str(number) for number in said.wearers) or "-"
    again = " again" if said.again else ""
    return f"alarm {said.number}{again}: {said.word}, wearers {wearers}, t {said.t}"
