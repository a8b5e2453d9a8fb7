"""The shell around the sequencer: one loop, with the clock, the links, the desk and the journal.

For danger the order is: put in order, fold, sound, send, commit, answer. Neither a sound nor a
frame waits for a disk. Commits are made on the loop itself, since they take 0.3 ms in WAL mode with
synchronous NORMAL; what syncs the disk runs in threads. While a checkpoint has the journal's one
connection, the beat goes on without its commit: rows wait in memory, as when a commit fails.

An error that nobody foresaw ends the process. Whoever watches starts another, which takes the
incident up from the journal: there is no state here worth saving.
"""

import asyncio
import contextlib
import logging
import signal
from collections.abc import Callable, Sequence
from typing import Any

from monitor.clock import Clock, Stamp
from monitor.desk import Ask, BoardBeat, Hello, NotTaken, Stop, Stopping, UpMessage
from monitor.errors import BadJournal
from monitor.incident.alarms.engine import Announcement
from monitor.incident.events import LinkState, SoundState
from monitor.journal.ballast import Ballast
from monitor.journal.connection import DiskFull
from monitor.journal.writer import CHECKPOINT_BYTES_MIN, WAL_BYTES_MAX, JournalWriter
from monitor.links.chunk import Chunk, Item, LinkDown, Overflow
from monitor.recorder.batch import Answer, Batch
from monitor.recorder.desk_server import DeskServer
from monitor.recorder.disk_watch import DiskNow, DiskWatch
from monitor.recorder.link_keeper import LinkKeeper
from monitor.recorder.memory import MemoryKeeper
from monitor.recorder.sequencer import Sequencer
from monitor.recorder.sounder import Sounder

CHUNKS_A_SLICE = 2_000
"""Folded in one go, 10 ms: a sound waits no longer than this behind a flood."""
LOOK_NS = 200_000_000
"""Between two looks at what waits to be heard, if nothing new is known."""
CHECKPOINT_NS = 1_000_000_000
"""How often it is looked whether the write-ahead log should go into the journal."""
MEMORY_S = 30.0
"""How often the packs' numbers are kept for the next incident."""
NS_PER_S = 1_000_000_000

_log = logging.getLogger(__name__)


class Recorder:
    """Records one incident until it is closed or told to stop."""

    def __init__(
        self,
        sequencer: Sequencer,
        writer: JournalWriter,
        links: LinkKeeper,
        desk: DeskServer,
        clock: Clock,
        memory: MemoryKeeper,
        ballast: Ballast,
        sounder: Sounder,
    ) -> None:
        """Put the parts together; nothing runs before ``run``."""
        self._sequencer = sequencer
        self._writer = writer
        self._links = links
        self._desk = desk
        self._clock = clock
        self._memory = memory
        self._ballast = ballast
        self._sounder = sounder
        self._looked_at_sound_ns = 0
        self._disk = DiskWatch()
        self._was_full = ballast.in_use
        self._loop: asyncio.AbstractEventLoop | None = None
        self._done: asyncio.Future[None] | None = None
        self._timer: asyncio.TimerHandle | None = None
        self._timer_due_ns = 0
        self._looked_at_log_ns = 0
        self._checkpoint: asyncio.Task[None] | None = None
        self._failing = ""
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
                loop.call_soon_threadsafe(self._drain)

    async def run(self, ready: Callable[[], None]) -> None:
        """Record. ``ready`` is called once the desk is open and the first commit is made.

        Returns when the incident is closed, or after ``stop``; raises what nobody foresaw.
        """
        loop = self._loop = asyncio.get_running_loop()
        self._done = loop.create_future()
        loop.set_exception_handler(self._unforeseen)
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, self.stop)
        keeping = loop.create_task(self._keep_remembering())
        try:
            await self._desk.open(self._said, self._left)
            self._links.start(self._link_state)
            self._sounder.start(self._sound_state, self._sequencer.incident.sounding())
            self._drain()
            self._beat(self._clock.stamp())
            ready()
            await self._done
        finally:
            keeping.cancel()
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
        """Take everything the links have read, in slices, and sound what it raises.

        While more waits than one slice, "now" is when the slice's last packet was read: the
        horizon then moves with what has been folded, and never ahead of what still waits.
        """
        items = self._links.inbox.take()
        while len(items) > CHUNKS_A_SLICE:
            some, items = items[:CHUNKS_A_SLICE], items[CHUNKS_A_SLICE:]
            read_at = next((i.stamp for i in reversed(some) if isinstance(i, Chunk)), None)
            stamp = read_at or self._clock.stamp()
            self._take(some, stamp)
            if self._sequencer.due_boot_ns() <= stamp.boot_ns:
                self._beat(stamp)
        self._take(items, self._clock.stamp())
        self._arm()

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
        due_ns = self._sequencer.due_boot_ns()
        if self._timer is not None:
            if self._timer_due_ns <= due_ns:
                return
            self._timer.cancel()
        self._timer_due_ns = due_ns
        wait_ns = max(0, due_ns - self._clock.boot_ns())
        self._timer = self._loop.call_later(wait_ns / NS_PER_S, self._on_time)

    def _beat_soon(self) -> None:
        """Commit at once what has waited."""
        if self._loop is not None:
            if self._timer is not None:
                self._timer.cancel()
            self._timer_due_ns = 0
            self._timer = self._loop.call_later(0, self._on_time)

    def _on_time(self) -> None:
        self._timer = None
        self._drain()
        self._beat(self._clock.stamp())

    def _beat(self, stamp: Stamp) -> None:
        """Move the horizon to ``stamp``, sound, send, commit, answer."""
        batch = self._sequencer.next_batch(stamp)
        if batch is None:
            self._finish()
            return
        self._sound()
        for send in batch.sends:
            self._links.send(send)
        answers = self._commit(batch)
        for answer in answers or ():
            if isinstance(answer.message, NotTaken):
                _log.warning("act %s not taken: %s", answer.message.id, answer.message.why)
            self._desk.send(answer.to, answer.message)
        if batch.closes and answers is not None:
            self._finish()
            return
        self._look_at_disk(stamp)
        self._arm()

    def _commit(self, batch: Batch) -> list[Answer] | None:
        """Answers that may now be sent; None if the batch is not in the journal yet."""
        if self._checkpoint is not None:
            self._sequencer.commit_failed(batch)
            return None
        try:
            self._writer.commit(batch.rows, batch.horizon, batch.stamp)
        except BadJournal as error:
            if isinstance(error, DiskFull) and self._ballast.held:
                _log.error("the disk is full: the reserve is given back")
                self._was_full = True
                self._ballast.give_back()
                return self._commit(batch)
            if str(error) != self._failing:
                self._failing = str(error)
                _log.error("commit failed, rows wait in memory: %s", error)
            self._sequencer.commit_failed(batch)
            return None
        if self._failing:
            _log.warning("commits work again")
            self._failing = ""
        return self._sequencer.committed(batch)

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

    def _look_at_disk(self, stamp: Stamp) -> None:
        """Once a second, see whether the disk is well and whether the log should be emptied."""
        if stamp.boot_ns - self._looked_at_log_ns < CHECKPOINT_NS:
            return
        self._looked_at_log_ns = stamp.boot_ns
        now = DiskNow(
            fault=self._failing or self._writer.sync_fault,
            gone=self._writer.gone(),
            behind_ns=self._writer.disk_behind_ns(stamp.boot_ns),
            reserve=self._has_reserve(),
            dropped=self._sequencer.dropped,
        )
        changed = self._disk.look(now, was_full=self._was_full)
        if changed is not None:
            _log.warning("disk %s: %s", changed.state, changed.detail)
            self._sequencer.noticed(changed, stamp)
            self._sound()
        if self._checkpoint is None and not self._failing:
            self._look_at_log()

    def _has_reserve(self) -> bool:
        try:
            held = self._ballast.take_again()
        except OSError as error:
            _log.error("the reserve cannot be taken: %s", error.strerror)
            return False
        self._was_full = self._was_full and not held
        return held

    def _look_at_log(self) -> None:
        if self._writer.wal_bytes() > WAL_BYTES_MAX:
            _log.error("the write-ahead log has grown over %d bytes", WAL_BYTES_MAX)
        if self._writer.sync_fault:
            _log.error("the disk cannot be synced: %s", self._writer.sync_fault)
        if self._writer.wal_bytes() >= CHECKPOINT_BYTES_MIN:
            assert self._loop is not None, "only while running"
            self._checkpoint = self._loop.create_task(self._run_checkpoint())

    async def _run_checkpoint(self) -> None:
        try:
            await asyncio.to_thread(self._writer.checkpoint_if_quiet)
        except BadJournal as error:
            _log.error("checkpoint failed: %s", error)
        finally:
            self._checkpoint = None
            self._beat_soon()

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
        if self._checkpoint is not None:
            await asyncio.wait([self._checkpoint])
        done = self._done
        well = done is not None and done.done() and not done.cancelled() and not done.exception()
        if well and not self._sequencer.incident.closed:
            self._drain()
            self._beat(self._clock.stamp())
        self._ending = True
        self._loop = None
        if self._timer is not None:
            self._timer.cancel()
        await self._sounder.close()
        await self._desk.close()
        self._links.close()
        self._writer.close(final=well and self._sequencer.incident.closed)
        self._ballast.give_back()
        self._memory.keep(self._memory.snapshot())

    async def _keep_remembering(self) -> None:
        while True:
            await asyncio.sleep(MEMORY_S)
            await asyncio.to_thread(self._memory.keep, self._memory.snapshot())


def _in_words(said: Announcement) -> str:
    wearers = ", ".join(str(number) for number in said.wearers) or "-"
    again = " again" if said.again else ""
    return f"alarm {said.number}{again}: {said.word}, wearers {wearers}, t {said.t}"
