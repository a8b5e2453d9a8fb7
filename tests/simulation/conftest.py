"""A whole base in virtual time, run from one number: packs, air, links, desk, disk and clocks.

Everything that can go wrong is drawn from one seeded generator: frames lost, doubled, delayed or
damaged, a disk that refuses, a wall clock that is set, a recorder that is stopped, killed at any
point, or rebooted with its machine. In each run some faults are switched fully off, so that what
must hold without them is seen too. Nothing here sleeps or reads a clock.

The invariants are checked at every step, by ``Journal.commit`` and ``World``.
"""

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from random import Random

import pytest

from monitor import procedures
from monitor.checkpoint import graph
from monitor.checkpoint.classes import CLASSES
from monitor.checkpoint.recalled import Recalled
from monitor.clock import Stamp
from monitor.desk import Ask, Hello, Taken
from monitor.incident.decoding import event_of
from monitor.incident.events import (
    Act,
    Connect,
    Enter,
    Heard,
    JoinPack,
    LinkState,
    ListWearer,
    Note,
    Opened,
    Silence,
    SoundState,
)
from monitor.incident.incident import Incident
from monitor.incident.rows import Row, RowKind, Standing
from monitor.journal.schema import Batch as Commit
from monitor.journal.schema import Session
from monitor.links.chunk import Chunk
from monitor.recorder.batch import Batch
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.recovery import Refold, break_since, opening
from monitor.recorder.seats import UNWATCHED_NS
from monitor.recorder.sequencer import BEAT_URGENT_NS, Sequencer
from monitor.sound.ladder import DANGER_AGAIN_NS, Ladder
from monitor.sound.tones import DANGER
from protocol.codec import encode, receive_down
from protocol.framing import Splitter, wrap
from protocol.integrity import Keyring
from protocol.packets import Beacon, CheckResult, Envelope, Kind, Motion, Report
from protocol.rejects import Reject

MS = 1_000_000
S = 1_000_000_000
RUN_NS = 90 * S
KEY = bytes(range(32))
UDP, WIRE = 1, 2
FAULTS = (
    "loss", "copies", "delay", "damage", "disk", "clock", "stall", "kill", "reboot", "rubbish",
)  # fmt: skip
LATER = ("player", "board")
"""Faults drawn from a generator of their own, so that older seeds stay as they were."""
SILENT = frozenset({"no_signal", "several_silent", "still_then_silent"})
"""Alarms that say a pack was not heard."""
HEARING = frozenset((*FAULTS, *LATER)) - {"loss", "delay"}
"""Faults that keep no pack from being heard within its limit (damage is of copies only)."""


@dataclass
class Journal:
    """Committed rows, and what must hold of them."""

    rows: list[Row] = field(default_factory=list)
    commits: list[Commit] = field(default_factory=list)
    sessions: list[Session] = field(default_factory=list)
    act_ids: set[str] = field(default_factory=set)
    frames: set[tuple[int, int, int]] = field(default_factory=set)
    announced: list[bytes] = field(default_factory=list)
    follower: Incident = field(default_factory=Incident)
    """Folds what is committed, up to the horizon: any reader."""

    @property
    def horizon(self) -> int:
        return self.commits[-1].horizon if self.commits else -1

    def commit(self, batch: Batch) -> None:
        before = self.horizon
        times = [row.t for row in batch.rows]
        assert times == sorted(times), "row times never go back"
        assert not times or before < times[0] <= times[-1] <= batch.horizon, "between horizons"
        assert batch.horizon >= before, "the horizon never goes back"
        for row in batch.rows:
            self._check_new(row)
            event = event_of(row)
            if event is not None:
                self.follower.apply(event)
        self.follower.advance(batch.horizon)
        self.rows += batch.rows
        session = self.sessions[-1].session
        self.commits.append(
            Commit(len(self.commits), session, len(self.rows), batch.horizon, *batch.stamp, b"")
        )

    def _check_new(self, row: Row) -> None:
        event = event_of(row)
        if row.kind is RowKind.ACT:
            act_id = event.what.id  # type: ignore[union-attr]
            assert act_id not in self.act_ids, "no act is committed twice"
            self.act_ids.add(act_id)
        elif isinstance(event, Heard) and row.standing is not Standing.OLD:
            number = (event.packet.identity, event.packet.boot, event.packet.sequence)
            assert number not in self.frames, "no frame is accepted twice"
            self.frames.add(number)
        elif row.kind is RowKind.ANNOUNCED:
            self.announced.append(row.data)


@dataclass
class Pack:
    """Electronics and radio of one wearer."""

    identity: int
    keyring: Keyring | None
    interval_ns: int
    link: int
    started_ns: int
    boot: int = 1
    sequence: int = 0
    beacon: int = 0
    splitter: Splitter = field(default_factory=Splitter)

    def frame(self, now_ns: int, random: Random) -> bytes:
        self.sequence += 1
        report = Report(
            kind=Kind.STATUS, identity=self.identity, boot=self.boot, sequence=self.sequence,
            epoch=0 if self.keyring is None else 1, keyed=self.keyring is not None,
            pressure_dbar=3000 - self.sequence, gas_temperature_c=None, battery_percent=80,
            motion=random.choice((Motion.MOVING,) * 30 + (Motion.STILL, Motion.PRE_ALARM)),
            distress=random.random() < 0.005, low_air=random.random() < 0.01, coming_out=False,
            self_test=CheckResult.PASSED, air_warning_test=CheckResult.PASSED,
            motion_warning_test=CheckResult.PASSED, interval_s=self.interval_ns // S,
            uptime_ms=(now_ns - self.started_ns) // MS, order_received=0, order_acknowledged=0,
            beacon_heard=self.beacon,
        )  # fmt: skip
        key = self.keyring.pack_key(self.identity, 1, up=True) if self.keyring else None
        frame = encode(report, key)
        if random.random() < 0.3:
            frame = encode(Envelope(9, random.randint(-110, -40), now_ns // MS, frame), None)
        return frame

    def hear(self, data: bytes) -> None:
        found: Sequence[bytes | Reject] = [data] if self.link == UDP else self.splitter.feed(data)
        keys = self.keyring.pack_keys(self.identity, 1) if self.keyring else None
        for frame in found:
            if not isinstance(frame, Reject):
                packet = receive_down(frame, self.identity, keys)
                if isinstance(packet, Beacon):
                    self.beacon = packet.value


class World:
    """One run. ``true_ns`` is time as it really is; the recorder's clocks are set against it."""

    def __init__(self, number: int) -> None:
        self.random = random = Random(number)
        self.faults = {f for f in FAULTS if random.random() < 0.5}
        self.others = Random(number + 1_000_000)
        self.faults |= {f for f in LATER if self.others.random() < 0.5}
        self.keyring = Keyring({1: KEY}, "exercise", 1) if random.random() < 0.7 else None
        self.true_ns = 1_000 * S
        self.boot_less_true_ns = 0
        self.wall_less_true_ns = 1_700_000_000 * S
        self.boot_id = "boot 1"
        self.starts = 0
        self.journal = Journal()
        self.sent: list[tuple[int, int, int, bytes]] = []
        self.queue: list[Chunk] = []
        self.opened_ns = self.true_ns
        self.asked: list[Ask] = []
        self.all_asked: set[str] = set()
        self.answered: set[str] = set()
        self.listening = True
        self.counts: dict[str, int] = dict.fromkeys(
            (*FAULTS, *LATER, "taken", "commits", "dangers", "checkpoint"), 0
        )
        self.board_back_ns = 0
        self.packs = [self._pack(identity) for identity in range(101, 101 + random.randint(2, 6))]
        self.next_ns = {p.identity: self.true_ns + random.randint(0, 2 * S) for p in self.packs}
        self.in_flight: list[Batch] = []
        """Made, and not in the journal."""
        self._numbers = iter(range(1, 1 << 30))
        self.begin()

    def _pack(self, identity: int) -> Pack:
        random = self.random
        interval_ns = random.choice((1, 2, 5)) * S
        started_ns = self.true_ns - random.randint(0, 3_600) * S
        return Pack(identity, self.keyring, interval_ns, random.choice((UDP, WIRE)), started_ns)

    # ------------------------------------------------------------ the recorder

    @property
    def stamp(self) -> Stamp:
        boot_ns = self.true_ns + self.boot_less_true_ns
        return Stamp(boot_ns, self.true_ns + self.wall_less_true_ns)

    def _parts(self) -> tuple[Intake, BeaconSender]:
        self.starts += 1
        beacons = BeaconSender(7, self.starts, self.keyring, Random(self.random.random()))
        return Intake(self.keyring, beacons), beacons

    def begin(self) -> None:
        opened = Opened(
            incident="cd" * 16, name="Kiln Lane", officer="R. Harrow", use="exercise",
            procedure=procedures.load("plain"), keyed=self.keyring is not None, base=7,
            wall_ns=self.stamp.wall_ns, software="outby 0", fold=1,
        )  # fmt: skip
        acts: list[Act] = []
        for number, pack in enumerate(self.packs, start=1):
            by = {"by": "R. Harrow", "wearer": number}
            acts.append(
                ListWearer.model_validate(by | {"id": f"list-{number:05}", "name": f"W{number}"})
            )
            joined = by | {"id": f"join-{number:05}", "pack": pack.identity}
            acts.append(JoinPack.model_validate(joined))
            inside = {"by": "R. Harrow", "wearers": (number,)}
            acts.append(Connect.model_validate(inside | {"id": f"connect-{number:05}"}))
            acts.append(Enter.model_validate(inside | {"id": f"enter-{number:05}"}))
        intake, beacons = self._parts()
        start = opening(opened, tuple(acts), self.stamp)
        self._run(Sequencer(start, intake, beacons, self.stamp), start.origin_boot_ns)

    def start_again(self) -> None:
        """A new recorder process takes the incident up from the journal."""
        if not self.journal.commits:
            self.begin()
            return
        intake, beacons = self._parts()
        stamp, last = self.stamp, self.journal.commits[-1]
        gap = break_since(last, self.journal.sessions[-1], self.boot_id, stamp)
        refold = Refold(gap, intake, stamp, self._checkpoint())
        for at in range(refold.recalled.row, len(self.journal.rows), 50):
            refold.take(self.journal.rows[at : at + 50])
        start = refold.start()
        whole = Recalled()
        whole.take(self.journal.rows)
        whole.advance(gap.horizon)
        told = [graph.encode(state, CLASSES) for state in (refold.recalled, whole)]
        assert told[0] == told[1], "dropping changes nothing"
        assert start.incident.picture() == self.journal.follower.picture(), "refold equals reader"
        self._run(Sequencer(start, intake, beacons, stamp), start.origin_boot_ns)

    def _checkpoint(self) -> Recalled | None:
        """One of some commit, written down and made again; or none, which must be all the same."""
        number = self.starts * 7_919 % (len(self.journal.commits) + 1)
        if not number:
            return None
        commit = self.journal.commits[number - 1]
        state = Recalled()
        state.take(self.journal.rows[: commit.last_row])
        state.advance(commit.horizon)
        self.counts["checkpoint"] += 1
        made: Recalled = graph.decode(graph.encode(state, CLASSES), CLASSES)
        return made

    def _run(self, sequencer: Sequencer, origin_boot_ns: int) -> None:
        self.sequencer = sequencer
        self.ladder, self.danger_ns = Ladder(), -S
        self.drawn_ns: int | None = None
        number = len(self.journal.sessions) + 1
        self.journal.sessions.append(
            Session(number, self.boot_id, origin_boot_ns, self.stamp.wall_ns, "outby 0")
        )
        self.queue.clear()
        self.in_flight.clear()
        for link, wire in ((UDP, False), (WIRE, True)):
            state = LinkState(link=link, name=f"link {link}", up=True)
            sequencer.link_state(state, self.stamp, wire=wire)
        sequencer.hello(1, Hello(board="board", by="R. Harrow"), self.stamp)
        for ask in self.asked:
            sequencer.asked(1, ask, self.stamp)

    def kill(self) -> None:
        """At any point: what is not committed is gone, and nobody listens for a while."""
        self.counts["kill"] += 1
        self.listening = False
        self.pass_ns(self.random.choice((100 * MS, 2 * S, 70 * S)))
        self.listening = True
        if "reboot" in self.faults and self.random.random() < 0.4:
            self.counts["reboot"] += 1
            self.boot_id = f"boot {self.starts + 1}"
            self.boot_less_true_ns = self.random.randint(5, 50) * S - self.true_ns
            if self.random.random() < 0.5:
                self.wall_less_true_ns = -self.true_ns
        self.start_again()

    # ------------------------------------------------------------ time and radio

    def pass_ns(self, ns: int) -> None:
        """Let real time pass: packs send, frames arrive."""
        until = self.true_ns + ns
        while True:
            sender = min(self.packs, key=lambda p: self.next_ns[p.identity])
            send_ns = self.next_ns[sender.identity]
            arrive_ns = self.sent[0][0] if self.sent else until + 1
            if min(send_ns, arrive_ns) > until:
                break
            if send_ns <= arrive_ns:
                self.true_ns = max(self.true_ns, send_ns)
                self._send(sender)
            else:
                self.true_ns = max(self.true_ns, arrive_ns)
                _, _, link, data = heapq.heappop(self.sent)
                if self.listening:
                    self._arrive(link, data)
        self.true_ns = until

    def _send(self, pack: Pack) -> None:
        random = self.random
        self.next_ns[pack.identity] += pack.interval_ns + random.randint(-100, 100) * MS
        frame = pack.frame(self.true_ns, random)
        if "loss" in self.faults and random.random() < 0.2:
            self.counts["loss"] += 1
        else:
            self._on_the_way(pack.link, frame)
        if "copies" in self.faults and random.random() < 0.2:
            self.counts["copies"] += 1
            self._on_the_way(pack.link, frame, random.choice((0, 50 * MS, 8 * S)))
        if "damage" in self.faults and random.random() < 0.1:
            self.counts["damage"] += 1
            broken = bytearray(frame)
            broken[random.randrange(len(broken))] ^= 1 << random.randrange(8)
            self._on_the_way(pack.link, bytes(broken))

    def _on_the_way(self, link: int, frame: bytes, delay_ns: int = 0) -> None:
        delay_ns += self.random.randint(1, 20) * MS
        if "delay" in self.faults and self.random.random() < 0.1:
            self.counts["delay"] += 1
            delay_ns += self.random.choice((300 * MS, 3 * S, 15 * S))
        data = wrap(frame) if link == WIRE else frame
        heapq.heappush(self.sent, (self.true_ns + delay_ns, next(self._numbers), link, data))

    def _arrive(self, link: int, data: bytes) -> None:
        random = self.random
        source = ("192.0.2.7", 5000) if link == UDP else None
        if "rubbish" in self.faults and random.random() < 0.05:
            self.counts["rubbish"] += 1
            rubbish = random.randbytes(random.randint(1, 80))
            self.queue.append(Chunk(link, self.stamp, source, rubbish + b"\x00"))
        cuts = sorted(random.sample(range(len(data)), 2)) if link == WIRE else []
        for begin, end in zip([0, *cuts], [*cuts, len(data)], strict=True):
            self.queue.append(Chunk(link, self.stamp, source, data[begin:end]))

    # ------------------------------------------------------------ what the process does

    def step(self) -> None:
        """Let some time pass, take what came, and commit if it is time."""
        random = self.random
        if "stall" in self.faults and random.random() < 0.003:
            self.counts["stall"] += 1
            # Stopped as a whole, or only its loop while the links' threads go on.
            self.listening = random.random() < 0.5
            self.pass_ns(random.choice((600 * MS, 5 * S, 100 * S)))
            self.listening = True
        else:
            self.pass_ns(random.randint(1, 80) * MS)
        if "clock" in self.faults and random.random() < 0.003:
            self.counts["clock"] += 1
            self.wall_less_true_ns += random.choice((-3_600, -2, 2, 3_600)) * S
        self._drain()
        if random.random() < 0.03:
            self._ask()
        self._draw()
        self._listen()
        if self.stamp.boot_ns >= self.sequencer.due_boot_ns():
            self._commit()
        elif self._killed():
            self.kill()

    def _drain(self) -> None:
        """Now and then a reading thread is held back between its stamp and the queue."""
        held = self.random.randint(0, 3) if self.random.random() < 0.1 else 0
        keep = len(self.queue) - held
        chunks, self.queue = self.queue[: max(0, keep)], self.queue[max(0, keep) :]
        self.sequencer.heard(chunks, self.stamp)

    def _draw(self) -> None:
        """The board draws, unless it hangs."""
        if "board" in self.faults and self.others.random() < 0.002:
            self.counts["board"] += 1
            self.board_back_ns = self.true_ns + self.others.choice((1, 5, 20)) * S
        if self.true_ns >= self.board_back_ns:
            self.drawn_ns = self.stamp.boot_ns
            self.sequencer.board_beat(1, self.stamp)

    def _listen(self) -> None:
        """What the recorder does for sound, with a player that fails and comes back."""
        now, sequencer = self.stamp, self.sequencer
        if sequencer.take_sounds():
            assert sequencer.due_boot_ns() <= now.boot_ns + BEAT_URGENT_NS, "committed at once"
        if "player" in self.faults and self.others.random() < 0.01:
            self.counts["player"] += 1
            state = self.others.choice(("player", "failing"))
            sequencer.noticed(SoundState.model_validate({"state": state}), now)
        if self.others.random() < 0.01:
            act = Silence(
                id=f"silence-{next(self._numbers):06}", by="R. Harrow",
                seconds=self.others.choice((10, 60, 120, 3_600)),
            )  # fmt: skip
            sequencer.asked(1, Ask(act=act, asked_boot_ns=now.boot_ns), now)
        waits = sequencer.incident.sounding()
        cue = self.ladder.look(now.boot_ns, waits)
        assert waits.silenced_ns <= 120 * S, "never silenced for good"
        if cue is DANGER:
            assert waits.danger_ns is not None, "nothing sounds that does not wait"
            self.danger_ns = now.boot_ns
            self.counts["dangers"] += 1
        if waits.danger_ns is not None and not waits.silenced_ns:
            quiet_ns = now.boot_ns - self.danger_ns
            assert quiet_ns < DANGER.length_ns + DANGER_AGAIN_NS, "a danger that waits is heard"

    def _look_for_boards(self, stamp: Stamp) -> None:
        """The recorder says that nobody looks when nobody has drawn for 3 s, and no sooner."""
        if self.drawn_ns is None or {"stall", "kill"} & self.faults:
            return
        watched = stamp.boot_ns - self.drawn_ns <= UNWATCHED_NS
        assert self.sequencer.incident.watched is watched, "whether anybody looks is known"

    def _ask(self) -> None:
        random = self.random
        if self.asked and random.random() < 0.5:
            ask = random.choice(self.asked)
        else:
            act = Note(id=f"note-{next(self._numbers):06}", by="R. Harrow", text="radio check")
            ask = Ask(act=act, asked_boot_ns=self.stamp.boot_ns)
            self.asked = [*self.asked[-4:], ask]
            self.all_asked.add(act.id)
        self.sequencer.asked(1, ask, self.stamp)

    def _killed(self) -> bool:
        return "kill" in self.faults and self.random.random() < 0.002

    def _commit(self) -> None:
        stamp = self.stamp
        if self.random.random() < 0.1:
            # Read just before the links' threads read and stamped what came last.
            stamp = Stamp(stamp.boot_ns - 5 * MS, stamp.wall_ns - 5 * MS)
        batch = self.sequencer.next_batch(stamp)
        assert batch is not None
        self._look_for_boards(stamp)
        self.sequencer.take_sounds()
        self.in_flight.append(batch)
        self.answered |= {getattr(answer.message, "id", "") for answer in batch.at_once}
        for send in batch.sends:
            data = wrap(send.frame) if send.link == WIRE else send.frame
            for pack in self.packs:
                if pack.link == send.link:
                    pack.hear(data)
        if self._killed():
            self.kill()
            return
        if "disk" in self.faults and self.random.random() < 0.1:
            self.counts["disk"] += 1
            return
        for one in self.in_flight:
            self.journal.commit(one)
        self.in_flight.clear()
        self.counts["commits"] += 1
        if self._killed():
            self.kill()
            return
        for answer in self.sequencer.committed(batch.number):
            self.answered.add(getattr(answer.message, "id", ""))
            if isinstance(answer.message, Taken):
                assert answer.message.id in self.journal.act_ids, "taken means committed"
                self.counts["taken"] += 1
        if self.counts["commits"] % 20 == 0:
            mine, readers = self.sequencer.incident, self.journal.follower
            assert mine.picture() == readers.picture(), "recorder and reader agree"

    def run(self) -> None:
        """Run to the end and look at the whole once more."""
        end_ns = self.true_ns + RUN_NS
        while self.true_ns < end_ns:
            self.step()
        had = self._finish()
        self.start_again()
        if had <= HEARING:
            said = b" ".join(self.journal.announced).decode()
            assert not [kind for kind in SILENT if f'"{kind}"' in said], "nobody was silent"

    def _finish(self) -> frozenset[str]:
        """One last commit that goes well; then nothing has been forgotten. Gives the faults."""
        had = frozenset(self.faults)
        self.faults -= {"disk", "kill"}
        self._commit()
        if "kill" not in had:
            assert self.all_asked <= self.answered, "every act is answered in the end"
        if "reboot" not in had:
            late_ns = self.journal.horizon - (self.true_ns - self.opened_ns)
            assert abs(late_ns) <= 10 * MS, "incident time is real time"
        return had


@pytest.fixture
def world() -> Callable[[int], World]:
    return World
