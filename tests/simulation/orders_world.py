"""Orders from seeds: a whole base, virtual packs, a radio that loses, and somebody who forges.

Everything is drawn from one number: who is in, how much the radio loses each way, who is out of
range, who hears but cannot send, who never answers, which orders are given when, when the recorder
is killed and how much it had not committed. The base is the real one (sequencer, intake, sender,
fold), the packs are the simulators'. What must hold is in ``orders_checks``.
"""

import heapq
from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count
from random import Random
from typing import Any

from monitor import procedures
from monitor.clock import Stamp
from monitor.desk import Ask, Hello, NotTaken
from monitor.incident.alarms.engine import Key
from monitor.incident.alarms.entry import Kind as Alarm
from monitor.incident.decoding import event_of
from monitor.incident.events import (
    Acknowledge,
    ComeOut,
    Connect,
    Done,
    Enter,
    JoinPack,
    LinkState,
    ListWearer,
    Opened,
)
from monitor.incident.orders.answering import coming_out_ns
from monitor.incident.orders.events import (
    AnswerByVoice,
    CloseOrder,
    EmergencyCrew,
    GiveOrder,
    OrdersSent,
)
from monitor.incident.orders.order import Order as Given
from monitor.incident.rows import Row
from monitor.journal.schema import Batch as Commit
from monitor.journal.schema import Session
from monitor.links.chunk import Chunk
from monitor.recorder.batch import Batch
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.recovery import Refold, break_since, opening
from monitor.recorder.sequencer import Sequencer
from protocol.codec import encode
from protocol.integrity import Keyring, PackKeys
from protocol.packets import Kind, Order, OrderKind, Receipt, ReceiptKind
from simulators.pack import Build, Pack, Senses, equipment

S = 1_000_000_000
MS = 1_000_000
TICK_NS = 250 * MS
FIRST_NS = 12 * S
"""When the first order is given; by then every pack in range has been proven live."""
END_NS = 170 * S
LINK = 1
WALL_NS = 1_700_000_000 * S
KEYRING = Keyring({1: bytes(range(32))}, "exercise", 1)
FORGERS = Keyring({1: bytes(32)}, "exercise", 1)
PROCEDURE = procedures.load("plain")
SET = equipment(300, 6.8, 55)
"""A 6.8 L cylinder for 300 bar."""
LOSSES = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6)
KEYS: dict[int, PackKeys] = {}


def keys_of(identity: int) -> PackKeys:
    """The keys in a pack. Made once for all runs: they take longer than all the rest."""
    if identity not in KEYS:
        KEYS[identity] = KEYRING.pack_keys(identity, 1)
    return KEYS[identity]


@dataclass(frozen=True)
class Calm:
    """A plain evacuation of many."""

    packs: int
    loss: float


@dataclass
class Person:
    """Somebody who is in, with or without a pack."""

    number: int
    crew: str
    identity: int | None
    answers: bool
    """Presses the button some time after an order that asks for it."""
    deaf: tuple[int, int]
    """Out of range from when to when."""
    mute: tuple[int, int]
    """Hears, but what the pack sends is lost, from when to when."""
    pack: Pack | None = None
    boot: int = 1
    inside: bool = False
    asked_anew: int = 0
    """So often an order had to come again: went in again, or is no emergency crew any more."""
    obeyed: list[tuple[int, Order, int]] = field(default_factory=list)
    """Orders that were new to the pack: when, which, and in which boot."""
    pressed: list[tuple[int, int, int]] = field(default_factory=list)
    """When the button was pressed, in which boot, and for which number."""

    def unimpaired(self, from_ns: int, to_ns: int) -> bool:
        """Whether the radio did nothing but lose single frames in that time."""
        return self.pack is not None and all(
            until <= from_ns or since >= to_ns for since, until in (self.deaf, self.mute)
        )


@dataclass
class Said:
    """What the wearer's button said, and when the base showed it."""

    t: int
    wearer: int
    what: OrderKind
    """The confirmation that it asks for."""
    shown_ns: int | None = None
    taken_ns: int | None = None
    """When the officer took the distress; coming out is confirmed without."""
    confirmed_ns: int | None = None


class World:
    """One run, in ns from 0. The boot clock is the same."""

    def __init__(self, seed: int, calm: "Calm | None" = None) -> None:
        """``calm``: everybody in range, one evacuation, nothing else."""
        self.random = random = Random(seed)
        self.calm = calm
        self.now = 0
        self.loss = random.choice(LOSSES), random.choice(LOSSES)
        """Up, down."""
        if random.random() < 0.1:
            self.loss = 0.0, 0.0
        self.kills = random.random() < 0.3
        self.counts: dict[str, int] = {}
        size = random.randint(2, 6)
        if calm is not None:
            self.loss, self.kills, size = (calm.loss, calm.loss), False, calm.packs
        self.people = [self._person(n) for n in range(1, size + 1)]
        self.on_air = {p.identity: p for p in self.people if p.identity is not None}
        self.said: list[Said] = []
        self.downs: list[bytes] = []
        self.ups: list[tuple[int, bytes]] = []
        self.acts_of: dict[tuple[int, int], set[str]] = {}
        """By pack and number on the air: the acts whose orders were sent under it."""
        self.given: dict[str, GiveOrder] = {}
        self.given_ns: dict[str, int] = {}
        self.closed: dict[str, tuple[int, str]] = {}
        """By act: when its order was seen closed, and by which override."""
        self.sent: list[tuple[int, int, int]] = []
        """Every copy: when, pack, number."""
        self.air: list[tuple[int, Kind, int]] = []
        """Every frame on the air, lost or not: when, what, how many bytes."""
        self._queue: list[Chunk] = []
        self._due: list[tuple[int, int, Callable[[], None]]] = []
        self._ids = count(1)
        self._puts = count(1)
        self.rows: list[Row] = []
        self.in_flight: list[Batch] = []
        self.commits: list[Commit] = []
        self.sessions: list[Session] = []
        self.waiting: dict[str, Ask] = {}
        """Asked and not answered: boards ask again after a break."""
        self._begin()
        self._plan()

    def _person(self, number: int) -> Person:
        random = self.random
        if self.calm is not None:
            never = (END_NS, END_NS)
            return Person(number, "Alpha 1", 100 + number, answers=True, deaf=never, mute=never)
        draw = random.random()
        spell = (random.randint(5, 90) * S, END_NS if draw < 0.05 else random.randint(60, 120) * S)
        never = (END_NS, END_NS)
        identity = None if random.random() < 0.08 else 100 + number
        return Person(
            number, f"Alpha {(number + 1) // 2}", identity, answers=random.random() < 0.85,
            deaf=spell if draw < 0.12 else never, mute=spell if 0.12 <= draw < 0.2 else never,
        )  # fmt: skip

    # ------------------------------------------------------------ the base

    @property
    def stamp(self) -> Stamp:
        return Stamp(self.now, WALL_NS + self.now)

    def _parts(self) -> tuple[Intake, BeaconSender]:
        session = len(self.sessions) + 1
        beacons = BeaconSender(7, session, KEYRING, Random(self.random.random()))
        return Intake(KEYRING, beacons), beacons

    def _begin(self) -> None:
        opened = Opened(
            incident="cd" * 16, name="Kiln Lane", officer="R. Harrow", use="exercise",
            procedure=PROCEDURE, keyed=True, base=7, wall_ns=WALL_NS, software="outby 0", fold=1,
        )  # fmt: skip
        intake, beacons = self._parts()
        start = opening(opened, (), self.stamp)
        self._run(Sequencer(start, intake, beacons, self.stamp))
        for person in self.people:
            self.ask(ListWearer, wearer=person.number, name=f"W{person.number}", crew=person.crew)
            self.ask(JoinPack, wearer=person.number, pack=person.identity)
            self.go_in(person)

    def _run(self, sequencer: Sequencer) -> None:
        self.sequencer = sequencer
        self.in_flight.clear()
        number = len(self.sessions) + 1
        self.sessions.append(Session(number, "boot", 0, WALL_NS, "outby 0"))
        sequencer.link_state(LinkState(link=LINK, name="udp", up=True), self.stamp, wire=False)
        sequencer.hello(1, Hello(board="board", by="R. Harrow"), self.stamp)
        for ask in tuple(self.waiting.values()):
            sequencer.asked(1, ask, self.stamp)

    def kill(self) -> None:
        """The recorder is gone with what it had not committed; a second later there is another."""
        self.note("kill")
        self.now += self.random.choice((1, 1, 20)) * S
        self._queue.clear()
        intake, beacons = self._parts()
        gap = break_since(self.commits[-1], self.sessions[-1], "boot", self.stamp)
        refold = Refold(gap, intake, self.stamp)
        refold.take(self.rows)
        self._run(Sequencer(refold.start(), intake, beacons, self.stamp))

    def ask(self, act: Any, **fields: Any) -> str | None:
        """An officer's act at this instant; gives why not, if the base said so at once."""
        made = act(id=f"act-{next(self._ids):06}", by="R. Harrow", **fields)
        why = self.sequencer.incident.would_refuse(made, self.now)
        ask = Ask(act=made, asked_boot_ns=self.now)
        self.waiting[made.id] = ask
        self.sequencer.asked(1, ask, self.stamp)
        if isinstance(made, GiveOrder):
            self.given[made.id], self.given_ns[made.id] = made, self.now
        return why

    @property
    def orders(self) -> dict[int, Given]:
        """The orders as the base's fold has them."""
        situation = self.sequencer.incident._s
        assert situation is not None
        return situation.orders.orders

    # ------------------------------------------------------------ the plan

    def at(self, t: int, what: Callable[[], None]) -> None:
        heapq.heappush(self._due, (t, next(self._puts), what))

    def note(self, what: str) -> None:
        self.counts[what] = self.counts.get(what, 0) + 1

    def _plan(self) -> None:
        random = self.random
        for person in self.people:
            if person.identity is not None:
                self.at(random.randint(0, 2_000) * MS, lambda p=person: self._switch_on(p))  # type: ignore[misc]
        if self.calm is not None:
            self.at(FIRST_NS, self._evacuate)
            return
        self.at(FIRST_NS, self._give)
        for _ in range(random.randint(0, 3)):
            self.at(random.randint(12, 70) * S, self._give)
        for _ in range(random.randint(1, 4)):
            self.at(random.randint(8_000, 90_000) * MS, self._something)
        for _ in range(random.randint(2, 8)):
            self.at(random.randint(8_000, 160_000) * MS, self._forge)

    def _give(self) -> None:
        random = self.random
        order = random.choice(("evacuate", "evacuate", "come out", "roll call", "test"))
        inside = [p.number for p in self.people if p.inside]
        if random.random() < 0.5 or not inside:
            self.ask(GiveOrder, order=order, everybody=True, scope="everybody")
        else:
            some = tuple(random.sample(inside, random.randint(1, len(inside))))
            self.ask(GiveOrder, order=order, wearers=some, scope="some")

    def _evacuate(self) -> None:
        self.ask(GiveOrder, order="evacuate", everybody=True, scope="everybody")

    def _something(self) -> None:
        person = self.random.choice(self.people)
        what = self.random.choice(
            (self._distress, self._coming_out, self._commit_crew, self._reboot, self._close_order)
        )
        what(person)

    def _distress(self, person: Person) -> None:
        if person.pack and person.pack.on and not person.pack.distress:
            person.pack.press_distress(self.now, on=True)
            self.said.append(Said(self.now, person.number, OrderKind.DISTRESS_CONFIRMED))
            self.at(self.now + self.random.randint(6, 12) * S, self._take_distress)

    def _take_distress(self) -> None:
        for alarm in self.sequencer.incident.picture().alarms:
            if alarm.kind == "distress" and not alarm.acknowledged:
                self.ask(Acknowledge, alarms=(alarm.number,))
                for said in self.said:
                    if (said.wearer,) == alarm.wearers and said.taken_ns is None:
                        said.taken_ns = self.now
        if any(s.taken_ns is None and s.what is OrderKind.DISTRESS_CONFIRMED for s in self.said):
            self.at(self.now + 10 * S, self._take_distress)

    def _coming_out(self, person: Person) -> None:
        if person.pack and person.pack.on and person.inside and not person.pack.coming_out:
            person.pack.say_coming_out(self.now)
            self.said.append(Said(self.now, person.number, OrderKind.COMING_OUT_CONFIRMED))

    def _commit_crew(self, person: Person) -> None:
        state = self.random.choice(("ready", "committed", "stood down"))
        if self.ask(EmergencyCrew, crew=person.crew, state=state) is None and state != "committed":
            for mate in self.people:
                mate.asked_anew += mate.crew == person.crew

    def _reboot(self, person: Person) -> None:
        if person.pack and person.pack.on:
            self.note("reboot")
            person.boot += 1
            self._switch_on(person)

    def _close_order(self, _person: Person) -> None:
        """Try to end each without saying why: only where nobody is in any more may that go."""
        for number, order in tuple(self.orders.items()):
            if order.is_open:
                self.ask(CloseOrder, order=number)

    def go_in(self, person: Person) -> None:
        self.ask(Connect, wearers=(person.number,))
        self.ask(Enter, wearers=(person.number,))
        person.inside = True

    def _go_out(self, person: Person) -> None:
        if person.inside and self.ask(ComeOut, wearers=(person.number,)) is None:
            person.inside = False
            if not self.calm and self.random.random() < 0.1:
                self.at(self.now + 5 * S, lambda: self._go_back_in(person))

    def _go_back_in(self, person: Person) -> None:
        if self.ask(Enter, wearers=(person.number,)) is None:
            self.note("back in")
            person.inside = True
            person.asked_anew += 1
            self.at(self.now + 30 * S, lambda: self._go_out(person))

    # ------------------------------------------------------------ packs

    def _switch_on(self, person: Person) -> None:
        assert person.identity is not None
        build = Build(person.identity, person.boot, 5, SET, 90, keys_of(person.identity))
        senses = Senses(2900, 20, self.now)
        person.pack = Pack(build, Random(self.random.random()), senses, self.now)

    def _obey(self, person: Person, order: Order) -> None:
        """What somebody does upon an order that is new to the pack."""
        pack = person.pack
        assert pack is not None
        person.obeyed.append((self.now, order, person.boot))
        for said in self.said:
            if said.wearer == person.number and said.what is order.what and not said.confirmed_ns:
                said.confirmed_ns = self.now
        if order.what in (OrderKind.DISTRESS_CONFIRMED, OrderKind.COMING_OUT_CONFIRMED):
            return
        random = self.random
        if person.answers:
            self.at(self.now + random.randint(3_000, 20_000) * MS, lambda: self._press(person))
        elif random.random() < 0.5:
            self.at(self.now + random.randint(20, 60) * S, lambda: self._by_voice(person))
        if order.what in (OrderKind.EVACUATE, OrderKind.COME_OUT) and random.random() < 0.8:
            if random.random() < 0.6:
                wait_ns = random.randint(5_000, 25_000) * MS
                self.at(self.now + wait_ns, lambda: self._coming_out(person))
            self.at(self.now + random.randint(25, 110) * S, lambda: self._go_out(person))

    def _press(self, person: Person) -> None:
        pack = person.pack
        if pack is not None and pack.on:
            before = pack.order_acknowledged
            pack.acknowledge(self.now)
            if pack.order_acknowledged != before:
                person.pressed.append((self.now, person.boot, pack.order_acknowledged))

    def _by_voice(self, person: Person) -> None:
        for number, order in tuple(self.orders.items()):
            line = order.lines.get(person.number) if order.is_open else None
            if line is not None and line.answered_ns is None:
                self.ask(AnswerByVoice, order=number, wearers=(person.number,))

    # ------------------------------------------------------------ the radio

    def _up(self, person: Person, frame: bytes) -> None:
        self.air.append((self.now, Kind(frame[1]), len(frame)))
        since, until = person.mute
        if since <= self.now < until or self._out_of_range(person):
            return
        if self.random.random() >= self.loss[0]:
            source = ("192.0.2.7", person.identity or 0)
            self._queue.append(Chunk(LINK, self.stamp, source, frame))
            self.ups.append((person.identity or 0, frame))

    def _out_of_range(self, person: Person) -> bool:
        since, until = person.deaf
        return since <= self.now < until

    def _down(self, identity: int, frame: bytes) -> None:
        person = self.on_air.get(identity)
        self.air.append((self.now, Kind(frame[1]), len(frame)))
        self.downs.append(frame)
        # Whoever plays what the base has never heard is answered too, and gets nothing from it.
        if person is None or person.pack is None or self._out_of_range(person):
            return
        if self.random.random() >= self.loss[1]:
            order = person.pack.hear(self.now, frame)
            if order is not None:
                self._obey(person, order)

    def _forge(self) -> None:
        """Replay what was on the air, or make something up under a key that is not the base's."""
        random = self.random
        person = random.choice(self.people)
        if person.pack is None or person.identity is None:
            return
        identity = person.identity
        pack = person.pack
        number = random.randint(1, 5)
        if random.random() < 0.5:
            self.note("forged down")
            key = FORGERS.pack_key(identity, 1, up=False)
            order = Order(identity, person.boot, pack.sequence, 1, True, 7, number, OrderKind.TEST)
            frames = [encode(order, key)]
            if self.downs:
                frames += random.choices(self.downs, k=3)
            for frame in frames:
                found = pack.hear(self.now, frame)
                if found is not None:
                    # Only what the base sent and the radio lost can be new: like a late copy.
                    assert frame in self.downs
                    self._obey(person, found)
        else:
            self.note("forged up")
            key = FORGERS.pack_key(identity, 1, up=True)
            said = Receipt(
                identity, person.boot, pack.sequence + 1, 1, True, ReceiptKind.ACKNOWLEDGED,
                number, 1_000, pack.beacon_heard,
            )  # fmt: skip
            frames = [encode(said, key)]
            if self.ups:
                frames += [frame for _, frame in random.choices(self.ups, k=3)]
            source = ("192.0.2.66", 6)
            self._queue += [Chunk(LINK, self.stamp, source, frame) for frame in frames]

    # ------------------------------------------------------------ time

    def run(self) -> "World":
        next_kill_ns = self.random.randint(13_000, 60_000) * MS if self.kills else 2 * END_NS
        while self.now < END_NS:
            self._until(self.now + TICK_NS)
            self._tick()
            if self.now >= next_kill_ns:
                self.kill()
                next_kill_ns = 2 * END_NS if self.random.random() < 0.7 else self.now + 15 * S
        return self

    def _until(self, end_ns: int) -> None:
        """Let packs send and people do what they do, in the order of time."""
        while True:
            sender, at_ns = None, end_ns
            for person in self.people:
                due = person.pack.due_ns if person.pack else None
                if due is not None and due < at_ns:
                    sender, at_ns = person, due
            if self._due and self._due[0][0] <= at_ns:
                t, _, what = heapq.heappop(self._due)
                self.now = max(self.now, t)
                what()
            elif sender is not None and sender.pack is not None:
                self.now = max(self.now, at_ns)
                for out in sender.pack.send(self.now):
                    self._up(sender, out.frame)
            else:
                break
        self.now = max(self.now, end_ns)

    def _tick(self) -> None:
        """One beat of the recorder; what it sends goes out before anything is committed."""
        sequencer = self.sequencer
        queue, self._queue = self._queue, []
        sequencer.heard(queue, self.stamp)
        sequencer.board_beat(1, self.stamp)
        batch = sequencer.next_batch(self.stamp)
        assert batch is not None, "nobody closes this incident"
        self._look(batch.rows)
        for send in batch.sends:
            assert send.address is not None
            self._down(send.address[1], send.frame)
        self.in_flight.append(batch)
        if self.kills and self.random.random() < 0.15:
            return
        told = [answer for one in self.in_flight for answer in one.at_once]
        for one in self.in_flight:
            self.rows += one.rows
            stamp = (one.horizon, *one.stamp, b"")
            commit = Commit(len(self.commits), len(self.sessions), len(self.rows), *stamp)
            self.commits.append(commit)
        self.in_flight.clear()
        for answer in [*told, *sequencer.committed(batch.number)]:
            self.waiting.pop(getattr(answer.message, "id", ""), None)
            if isinstance(answer.message, NotTaken):
                self.note("refused")

    def _look(self, rows: list[Row]) -> None:
        """Note what was sent under which number, and what the base shows."""
        for row in rows:
            if b'"orders_sent"' not in row.data:
                continue
            event = event_of(row)
            assert isinstance(event, Done)
            assert isinstance(event.what, OrdersSent)
            for number, pack, on_air in event.what.sent:
                act = self.orders[number].given.id if number else "confirmation"
                self.acts_of.setdefault((pack, on_air), set()).add(act)
                self.sent.append((event.t, pack, on_air))
        for order in self.orders.values():
            if not order.is_open:
                self.closed.setdefault(order.given.id, (self.now, order.override))
        if any(said.shown_ns is None for said in self.said):
            self._look_for_said()

    def _look_for_said(self) -> None:
        situation = self.sequencer.incident._s
        assert situation is not None
        for said in self.said:
            if said.shown_ns is None:
                if said.what is OrderKind.DISTRESS_CONFIRMED:
                    shown = Key(Alarm.DISTRESS, wearer=said.wearer) in situation.engine.by_key
                else:
                    shown = coming_out_ns(situation, situation.wearers[said.wearer]) is not None
                said.shown_ns = self.now if shown else None
