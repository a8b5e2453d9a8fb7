"""A base in virtual time whose disks hang, slow down, refuse and lose files. Run from one number.

The sequencer and the two places are the real ones; the threads that write are played here, one step
at a time, on files that are lists. A distress and an evacuation come in the middle of the fault.
What must hold is checked at every step: sounded and sent at once, boards current, TAKEN only of
what is in a file, nothing lost, all of it told.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

from monitor import procedures
from monitor.clock import Stamp
from monitor.desk import Ask, Held, Hello, NotTaken, Taken
from monitor.incident.decoding import event_of
from monitor.incident.events import (
    Act,
    Connect,
    DiskState,
    Done,
    Enter,
    JoinPack,
    LinkState,
    ListWearer,
    Note,
    Opened,
)
from monitor.incident.incident import Incident
from monitor.incident.orders.events import GiveOrder
from monitor.incident.rows import Row, RowKind
from monitor.incident.second_place import SecondPlace
from monitor.journal.schema import HORIZON_BEFORE_ALL, STANDING_OF, Batch, Session
from monitor.journal.sealing import Sealed, Sealer
from monitor.links.chunk import Chunk
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.disk_watch import DiskNow, DiskWatch
from monitor.recorder.intake import Intake
from monitor.recorder.places import Places
from monitor.recorder.recovery import opening
from monitor.recorder.sequencer import Sequencer
from monitor.recorder.writer_thread import LOOK_S, RETRY_S, SLOW_COMMITS, SLOW_NS, Seen
from protocol.codec import decode, encode
from protocol.packets import CheckResult, Kind, Motion, Order, Report

MS = 1_000_000
S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
FOR_EVER = 1 << 62
SOURCE = ("192.0.2.7", 5000)
"""A documentation address (RFC 5737)."""
SOON_NS = 100 * MS
"""Sounded and sent within, whatever the disk does."""
CURRENT_NS = 1 * S
"""A board is never further behind."""
TOLD_NS = 3 * S
"""A fault that lasts longer is told on the screen."""
WRITES_A_COMMIT = 6
"""Pages and their headers, in the write-ahead log, of a commit of a few rows."""
SLOW_MS = (1, 20, 200, 20_000)
ERRORS = ("EIO", "EDQUOT", "EROFS", "ENOSPC")
KINDS = (
    "freeze", *(f"slow {ms}" for ms in SLOW_MS), *ERRORS, "lies", "log lost", "file lost",
)  # fmt: skip


@dataclass
class Fault:
    """What the disk of one file does, from when to when."""

    kind: str
    from_ns: int
    to_ns: int

    def on(self, now_ns: int) -> bool:
        return self.from_ns <= now_ns < self.to_ns


@dataclass
class File:
    """A journal or a spill, as it is for whoever has it open."""

    base: Batch
    batches: list[Sealed] = field(default_factory=list)
    whole: int = 0
    """Batches up to here are not only in its log."""
    lost: str = ""
    found: list[Sealed] | None = None
    """What whoever opens it anew finds, once files were lost."""

    @property
    def last(self) -> Batch:
        return self.batches[-1].batch if self.batches else self.base

    def rows_after(self, row: int) -> list[Row]:
        found: list[Row] = []
        for one in self.batches:
            if one.batch.last_row <= row:
                continue
            first = one.before.last_row + 1
            columns = zip(*one.rows, strict=True)
            for number, (t, kind, link, late, signal, data) in enumerate(columns, first):
                if number > row:
                    standing = STANDING_OF[kind]
                    found.append(Row(t, RowKind(kind & 15), data, link, late, standing, signal))
        return found


class Writer:
    """What the places ask of a journal's writer."""

    def __init__(self, file: File) -> None:
        self.file = file
        self.sealer = Sealer(file.last, b"")

    @property
    def last(self) -> Batch:
        return self.file.last

    def sessions(self) -> list[Session]:
        return []


class Thread:
    """A writer's thread, played: it takes what waits, and is done when its disk is."""

    def __init__(
        self,
        opened: Callable[[], Any],
        written: int,
        boot_ns: Callable[[], int],
        _ballast: Any = None,
    ) -> None:
        self._opened, self._boot_ns = opened, boot_ns
        self.writer: Writer | None = None
        self.waits: list[Sealed] = []
        self.seen = Seen(written)
        self.fault: Fault | None = None
        self.doing: tuple[list[Sealed], int] | None = None
        self.retry_ns = self.looked_ns = self.slow = 0
        self.over = self.ending = False
        self.after: Callable[[], None] | None = None
        self.lies = False
        RUNNING[-1].append(self)

    def of(self, second: "Second") -> bool:
        """Whether it writes there, or is to make a file there."""
        made: Any = self._opened
        return isinstance(made, partial) and made.args[0] is second

    def start(self, tell: Callable[[], None]) -> None:
        self.tell = tell

    def put(self, one: Sealed) -> None:
        self.waits.append(one)

    def oldest(self) -> Sealed | None:
        return self.waits[0] if self.waits else None

    def waiting(self) -> list[Sealed]:
        return list(self.waits)

    def end(self, *, final: bool, after: Callable[[], None] | None = None) -> None:
        self.ending, self.final, self.after = True, final, after

    def ended(self, _within_s: float) -> bool:
        return self.over

    def step(self, now_ns: int) -> None:
        """Live on until now."""
        if self.over:
            return
        kind = self.fault.kind if self.fault is not None and self.fault.on(now_ns) else ""
        if kind == "freeze" or now_ns < self.retry_ns:
            return
        if self.writer is None:
            self.writer = self._opened()
        file = self.writer.file
        if self.doing is not None:
            some, done_ns = self.doing
            if now_ns < done_ns:
                return
            self.doing = None
            self._done(file, some)
        if now_ns - self.looked_ns >= LOOK_S * S:
            self.looked_ns = now_ns
            file.whole = max(file.whole, file.last.batch) if not file.lost else file.whole
            self._see(replace(self.seen, gone=file.lost, whole=file.whole))
        if self.ending and not self.waits:
            self.over = True
            if self.after is not None:
                self.after()
        elif self.waits and not self.seen.gone:
            self._begin(file, kind, now_ns)

    def _begin(self, file: File, kind: str, now_ns: int) -> None:
        if kind in ERRORS or (kind == "lies" and not self.lies):
            self.lies = kind == "lies"
            if self.lies:
                self._take(file, list(self.waits))
            self.retry_ns = now_ns + int(RETRY_S * S)
            self._see(replace(self.seen, fault=kind))
            return
        slow_ms = int(kind.split()[1]) if kind.startswith("slow") else 0
        took_ns = WRITES_A_COMMIT * slow_ms * MS
        self.slow = self.slow + 1 if took_ns > SLOW_NS else 0
        self.doing = list(self.waits), now_ns + took_ns

    def _done(self, file: File, some: list[Sealed]) -> None:
        self._take(file, some)
        self.waits = [one for one in self.waits if one.batch.batch > file.last.batch]
        slow = self.slow >= SLOW_COMMITS
        self._see(replace(self.seen, written=file.last.batch, fault="", slow=slow))

    def _take(self, file: File, some: list[Sealed]) -> None:
        for one in some:
            if one.batch.batch > file.last.batch:
                assert one.before.digest == file.last.digest, "batches follow one another"
                file.batches.append(one)

    def _see(self, seen: Seen) -> None:
        if seen != self.seen:
            self.seen = seen
            self.tell()

    def disk_behind_ns(self, _now_ns: int) -> int:
        return 0

    sync_fault = ""


RUNNING: list[list[Thread]] = []
"""The threads of the incident that is being run."""


class Second:
    """The second place: a list, too."""

    path = Path("/elsewhere/one.spill")

    def __init__(self, *, lasting: bool) -> None:
        self.lasting = lasting
        self.file: File | None = None

    def make(self, writer: Writer, base: Batch, _sessions: Any, *, lost: bool) -> Writer:
        if lost and writer.file.lost == "file lost":
            # The whole of it is still held open.
            self.file = File(writer.file.base, list(writer.file.batches))
        else:
            self.file = File(base)
        return Writer(self.file)

    def remove(self) -> None:
        self.file = None


@dataclass
class Board:
    """Reads both files as a screen does: rows by number, from whichever has them."""

    incident: Incident = field(default_factory=Incident)
    row: int = 0
    horizon: int = HORIZON_BEFORE_ALL
    batch: Batch | None = None

    def poll(self, *files: File | None) -> None:
        for file in files:
            if file is None or file.base.last_row > self.row or file.last.horizon <= self.horizon:
                continue
            for row in file.rows_after(self.row):
                event = event_of(row)
                if event is not None:
                    self.incident.apply(event)
                self.row += 1
            self.horizon, self.batch = file.last.horizon, file.last
            self.incident.advance(self.horizon)


class DiskIncident:
    """One incident with one fault of the journal's disk, and perhaps one of the second place's."""

    def __init__(self, seed: int) -> None:
        random = self.random = Random(seed)
        self.kind = random.choice(KINDS)
        length_ns = random.choices((1, 20, 600), (10, 10, 1))[0] * S
        begins_ns = random.randint(1_000, 3_000) * MS
        self.fault = Fault(self.kind, begins_ns, begins_ns + length_ns)
        self.second_too = random.random() < 0.15
        self.killed = random.random() < 0.2
        self.now_ns = 0
        self.packs = [101 + n for n in range(random.randint(1, 3))]
        self.sequences = dict.fromkeys(self.packs, 0)
        self.next_ns = {pack: random.randint(0, 900) * MS for pack in self.packs}
        middle_ns = begins_ns + min(length_ns, 20 * S) // 2
        self.distress_ns = middle_ns
        self.evacuate_ns = middle_ns + random.randint(100, 400) * MS
        self.note_ns = begins_ns + random.randint(0, 900) * MS
        self.end_ns = self.fault.to_ns + 9 * S
        self.threads: list[Thread] = []
        RUNNING.append(self.threads)
        self.answered: dict[str, list[str]] = {}
        self.sounded_ns = self.ordered_ns = FOR_EVER
        self.behind_ns = 0
        self.cried = False
        self.told: set[str] = set()
        self.made: list[Sealed] = []
        self._begin()

    def _begin(self) -> None:
        opened = Opened(
            incident="cd" * 16, name="Kiln Lane", officer="R. Harrow", use="exercise",
            procedure=procedures.load("plain"), keyed=False, base=7, wall_ns=WALL_NS,
            software="outby 0", fold=1,
        )  # fmt: skip
        acts: list[Act] = []
        for number, pack in enumerate(self.packs, start=1):
            by = {"by": "R. Harrow", "wearer": number}
            inside = {"by": "R. Harrow", "wearers": (number,)}
            acts += [
                ListWearer.model_validate(by | {"id": f"list-{number:04}", "name": f"W{number}"}),
                JoinPack.model_validate(by | {"id": f"join-{number:04}", "pack": pack}),
                Connect.model_validate(inside | {"id": f"connect-{number:04}"}),
                Enter.model_validate(inside | {"id": f"enter-{number:04}"}),
            ]
        self.beacons = BeaconSender(7, 1, None, Random(self.random.random()))
        start = opening(opened, tuple(acts), self.stamp)
        self.sequencer = Sequencer(start, Intake(None, self.beacons), self.beacons, self.stamp)
        first = Batch(0, 0, 0, HORIZON_BEFORE_ALL, 0, WALL_NS, b"first")
        self.file = File(first)
        self.second, self.memory = Second(lasting=True), Second(lasting=False)
        writer = Writer(self.file)
        writer.sealer.begin_session("boot", 0, WALL_NS, "outby 0")
        seconds = [self.second, self.memory]
        parts: Any = (writer, None, seconds, lambda: self.now_ns, Thread)
        self.places = Places(*parts)
        self.places.start(lambda: None)
        self.threads[0].fault = self.fault
        self.watch = DiskWatch()
        self.board = Board()
        self.looked_ns = 0
        state = LinkState(link=1, name="udp", up=True)
        self.sequencer.link_state(state, self.stamp, wire=False)
        self.sequencer.hello(1, Hello(board="board", by="R. Harrow"), self.stamp)

    @property
    def stamp(self) -> Stamp:
        return Stamp(self.now_ns, WALL_NS + self.now_ns)

    # ------------------------------------------------------------ one step

    def run(self) -> None:
        """Run to the end and look at the whole."""
        dies_ns = self.random.randint(0, self.end_ns) if self.killed else FOR_EVER
        while self.now_ns < min(self.end_ns, dies_ns):
            self.now_ns += 25 * MS
            self._hear()
            self._ask()
            self._disk()
            if self.now_ns >= self.sequencer.due_boot_ns():
                self._beat()
            self._answers()
            self.board.poll(self.file, self.second.file, self.memory.file)
            if self.now_ns > 2 * S:
                self.behind_ns = max(self.behind_ns, self.sequencer.horizon - self.board.horizon)
                assert self.behind_ns <= CURRENT_NS, "a board is current"
        if not self.killed:
            # At the end the threads are given a second, as the recorder gives them.
            for _ in range(40):
                self.now_ns += 25 * MS
                self._disk()
                self._answers()
            self.board.poll(self.file, self.second.file, self.memory.file)
        RUNNING.pop()
        self._check(died=self.killed)

    def _hear(self) -> None:
        chunks = []
        for pack, due_ns in self.next_ns.items():
            cries = not self.cried and pack == self.packs[0] and self.now_ns >= self.distress_ns
            self.cried = self.cried or cries
            if self.now_ns >= due_ns or cries:
                self.next_ns[pack] = self.now_ns + S
                self.sequences[pack] += 1
                frame = self._frame(pack, distress=cries)
                chunks.append(Chunk(1, self.stamp, SOURCE, frame))
        self.sequencer.heard(chunks, self.stamp)
        if any(one.kind == "distress" for one in self.sequencer.take_sounds()):
            self.sounded_ns = min(self.sounded_ns, self.now_ns)

    def _frame(self, pack: int, *, distress: bool) -> bytes:
        sent = self.beacons.recent._sent  # what packs would have heard
        report = Report(
            kind=Kind.STATUS, identity=pack, boot=3, sequence=self.sequences[pack], epoch=0,
            keyed=False, pressure_dbar=2_800 - self.sequences[pack], gas_temperature_c=None,
            battery_percent=80, motion=Motion.MOVING, distress=distress, low_air=False,
            coming_out=False, self_test=CheckResult.PASSED, air_warning_test=CheckResult.PASSED,
            motion_warning_test=CheckResult.PASSED, interval_s=1, uptime_ms=self.now_ns // MS,
            order_received=0, order_acknowledged=0, beacon_heard=sent[-1][0] if sent else 0,
        )  # fmt: skip
        return encode(report, None)

    def _ask(self) -> None:
        acts: list[tuple[int, Act]] = [
            (self.note_ns, Note(id="note-0001", by="R. Harrow", text="radio check")),
            (
                self.evacuate_ns,
                GiveOrder(
                    id="order-001", by="R. Harrow", order="evacuate", everybody=True,
                    scope="everybody",
                ),
            ),
        ]  # fmt: skip
        for due_ns, act in acts:
            if due_ns <= self.now_ns and act.id not in self.answered:
                self.answered[act.id] = []
                self.sequencer.asked(1, Ask(act=act, asked_boot_ns=self.now_ns), self.stamp)

    def _disk(self) -> None:
        if self.fault.on(self.now_ns) and not self.file.lost:
            if self.kind == "log lost":
                self.file.lost = self.kind
                whole = self.file.whole
                self.file.found = [b for b in self.file.batches if b.batch.batch <= whole]
            elif self.kind == "file lost":
                self.file.lost, self.file.found = self.kind, []
        for thread in self.threads:
            if self.second_too and thread.of(self.second):
                thread.fault = Fault("freeze", self.fault.from_ns, self.fault.to_ns)
            thread.step(self.now_ns)

    def _beat(self) -> None:
        batch = self.sequencer.next_batch(self.stamp)
        assert batch is not None
        if any(isinstance(decode(send.frame), Order) for send in batch.sends):
            self.ordered_ns = min(self.ordered_ns, self.now_ns)
        for answer in [*batch.at_once, *self.sequencer.held(self.stamp)]:
            self._answered(answer.message)
        sealed = self.places.sealer.seal(batch.rows, batch.horizon, batch.stamp)
        self.made.append(sealed)
        self.places.put(sealed)
        self.places.look(self.now_ns)
        self.sequencer.board_beat(1, self.stamp)
        if self.now_ns - self.looked_ns >= S:
            self.looked_ns = self.now_ns
            self._look()

    def _look(self) -> None:
        journal = self.places.journal
        oldest = journal.oldest()
        now = DiskNow(
            fault=journal.seen.fault, gone=journal.seen.gone,
            second=str(self.places.spilling or ""),
            waits_ns=0 if oldest is None else self.now_ns - oldest.batch.boot_ns,
            t=self.sequencer.horizon,
        )  # fmt: skip
        changed = self.watch.look(now, was_full=False)
        facts: list[DiskState | SecondPlace] = [*self.places.take_news()]
        facts += [changed] if changed else []
        for fact in facts:
            self.told.add(fact.state)
            self.sequencer.noticed(fact, self.stamp)

    def _answers(self) -> None:
        for answer in self.sequencer.committed(self.places.written, self.places.lasting):
            self._answered(answer.message)
            if isinstance(answer.message, Taken):
                self._check_taken(answer.message.id)

    def _answered(self, message: Any) -> None:
        if isinstance(message, Taken | NotTaken | Held):
            said = self.answered[message.id]
            said.append("sent" if isinstance(message, Held) and message.sent else message.say)

    def _check_taken(self, act_id: str) -> None:
        files = [file for file in (self.file, self.second.file) if file is not None]
        data = b" ".join(d for f in files for one in f.batches for d in one.rows.data)
        assert act_id.encode() in data or self.file.lost, "taken means that a file has it"

    # ------------------------------------------------------------ the whole

    def _check(self, *, died: bool) -> None:
        found = self._merged()
        if not died:
            assert self.sounded_ns - self.distress_ns <= SOON_NS, "sounded"
            assert self.ordered_ns - self.evacuate_ns <= SOON_NS, "sent"
            assert [one.batch for one in found] == [one.batch for one in self.made], "none lost"
            assert {said[-1] for said in self.answered.values()} == {"taken"}
            assert self.board.horizon == self.made[-1].batch.horizon or not self._settled()
            long = self.fault.to_ns - self.fault.from_ns > TOLD_NS
            harmless = self.kind in {"slow 1", "lies"}
            if long and not harmless:
                # A disk whose commits take 0.1 or 1.2 s is never 2 s late: the place is told.
                states = {"waiting", "failing", "gone"}
                states |= {"in use"} if self.kind in {"slow 20", "slow 200"} else set()
                assert self.told & states, "told"
                said = [event_of(row) for row in File(found[0].before, found).rows_after(0)]
                facts = [e.what.what for e in said if isinstance(e, Done)]
                assert {"disk_state", "second_place"} & {*facts}, "told afterwards"
        assert all("not taken" not in said for said in self.answered.values()), "never untrue"
        if not found:
            assert died, "nothing was recorded yet"
            return
        before = found[0].before
        for one in found:
            assert one.before.digest == before.digest, "the digest goes on"
            before = one.batch
        again = Board()
        again.poll(File(found[0].before, found))
        mine = Incident()
        for row in File(found[0].before, self.made[: len(found)]).rows_after(0):
            event = event_of(row)
            if event is not None:
                mine.apply(event)
        mine.advance(again.horizon)
        assert again.incident.picture() == mine.picture(), "what is kept is what was folded"

    def _settled(self) -> bool:
        return not self.places.journal.waiting()

    def _merged(self) -> list[Sealed]:
        """What the next recorder finds: the journal, and behind it what the spill has more."""
        kept = list(self.file.batches if self.file.found is None else self.file.found)
        spills = [one.file for one in (self.second, self.memory) if one.file is not None]
        for spill in sorted((one for one in spills if one.batches), key=lambda f: f.last.batch):
            last = kept[-1].batch if kept else self.file.base
            assert spill.base.batch <= last.batch, "nothing is missing between"
            kept += [one for one in spill.batches if one.batch.batch > last.batch]
        return kept
