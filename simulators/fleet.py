"""A whole scenario in virtual time: every unit and the radio, in one order, from one seed.

``step(to_ns)`` gives what the base's radio hears up to then; ``hear`` lets the packs hear the
base. No clock, no socket, no file: a shell plays it in real time, a test as fast as it likes.
The same scenario, seed, keys and boots give the same bytes, as long as the base says the same at
the same times. With one pack more the others' bytes are the same, and so is what arrives of them;
only on a shared channel does another pack make more collisions.
"""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import Order
from simulators.agenda import seconds
from simulators.air import Air, Counts, Passage, base_sender, count_lines
from simulators.channel import Heading, bases_of
from simulators.injects import (
    ORDERS,
    FloorShadow,
    ForgedOrder,
    Inject,
    ReceiverPulled,
    SameNumber,
    Trouble,
)
from simulators.randoms import child
from simulators.scenario import ActPlan, PackPlan, Scenario
from simulators.tone import Tone
from simulators.troubles import Troubles
from simulators.unit import NEVER_NS, Unit, World, simple, truth_line

NOTES_MAX = 1_000_000
"""Lines of truth held until somebody takes them; beyond it the oldest half is let go."""
COUNTS_NS = 60_000_000_000
"""How often the truth says what the radio has done."""
FORGED_NUMBER = 60_000
"""Of a forged order: above any that a base has come to."""
KEY_BYTES = 32
TOLD_OF_INJECT = {"name", "wearers", "deed", "shows", "shows_for", "shows_within_s"}
"""What the truth says of an inject: enough to judge one that the scenario does not have."""


@dataclass(frozen=True, slots=True)
class OnAir:
    """A frame as the base's radio hears it."""

    t_ns: int
    pack: int
    signal_dbm: int
    frame: bytes
    base: int = 1
    """Number of the base radio that hears it."""


class Fleet:
    """All the packs of a scenario."""

    def __init__(
        self,
        scenario: Scenario,
        seed: int,
        keyring: Keyring | None = None,
        *,
        boots_before: int = 0,
        truth: bool = False,
    ) -> None:
        """``keyring`` None: open packs. ``boots_before`` is added to every boot counter.

        With ``truth``, what really was is noted for ``take_notes``.
        """
        self.now_ns = 0
        self.end_ns = seconds(scenario.length_s)
        self._truth = truth
        self._notes: list[dict[str, object]] = []
        self._next_counts_ns = COUNTS_NS
        self._air = Air(scenario.radio.shared)
        self._seed, self._keyring = seed, keyring
        places = {place.name: place for place in scenario.places}
        points = {name: place.point for name, place in places.items()}
        bases = bases_of(scenario.radio, points, seed)
        self.bases = len(bases)
        """How many base radios there are."""
        self._world = World(seed, scenario.radio, bases, places, scenario.answers, boots_before)
        self._pulled_to_ns = [0] * self.bases
        self._troubles = Troubles(scenario.injects)
        self._heard_orders: dict[int, bytes] = {}
        self._units: list[Unit] = []
        self._of_pack: dict[int, list[int]] = {}
        self._of_wearer: dict[int, int] = {}
        self._due: list[tuple[int, int]] = []
        for plan in scenario.plans():
            self._of_wearer[plan.wearer] = self._join(plan, keyring, "pack")

    @property
    def due_ns(self) -> int | None:
        """When something will happen next; None once nothing ever will."""
        first = min(self._unit_due_ns(), self._air.due_ns, self._troubles.due_ns)
        return None if first >= NEVER_NS else first

    @property
    def counts(self) -> dict[Heading, Counts]:
        """What the radio has done so far, each way."""
        return self._air.counts

    def step(self, to_ns: int) -> list[OnAir]:
        """Live on to a time, which never goes back; what the base's radio heard, in order."""
        heard: list[OnAir] = []
        while True:
            unit_ns, air_ns = self._unit_due_ns(), self._air.due_ns
            trouble_ns = self._troubles.due_ns
            first_ns = min(unit_ns, air_ns, trouble_ns)
            if first_ns > to_ns:
                break
            # What ends at an instant has ended before anything begins at it.
            if air_ns == first_ns:
                self._pass(air_ns, heard)
            elif trouble_ns == first_ns:
                self._befall(trouble_ns, self._troubles.take())
            else:
                self._live(unit_ns)
        self.now_ns = max(self.now_ns, to_ns)
        return heard

    def hear(self, frame: bytes, base: int = 1) -> None:
        """Let a base radio send a frame, now. Packs pass over an order to another pack."""
        if not self.plugged(base, self.now_ns):
            return
        packet = codec.decode(frame)
        if isinstance(packet, Order):
            hearers: Sequence[int] = self._of_pack.get(packet.identity, ())
            self._heard_orders[packet.identity] = frame
        else:
            hearers = range(len(self._units))
        place = base - 1
        start_ns, end_ns = self._air.slot(base_sender(place), self.now_ns, frame)
        passages = []
        for number in hearers:
            unit = self._units[number]
            if unit.on:
                where = unit.person.where.at(start_ns)
                fate = unit.channel.down(place, start_ns, end_ns, frame, where)
                passages.append(Passage(Heading.DOWN, number, place, start_ns, fate))
        self._air.send(start_ns, end_ns, passages)

    def plugged(self, base: int, now_ns: int) -> bool:
        """Whether a base radio is on its line to the base."""
        return now_ns >= self._pulled_to_ns[base - 1]

    def befall(self, inject: Inject) -> str:
        """Let something go wrong now, as by an instructor's hand; why not, if it cannot."""
        missing = {*inject.wearers} - self._of_wearer.keys()
        if missing:
            return f"there is no wearer {min(missing)}"
        deed = inject.deed
        if isinstance(deed, SameNumber) and deed.pack not in self._of_pack:
            return f"there is no pack {deed.pack}"
        if isinstance(deed, ReceiverPulled) and deed.base > self.bases:
            return f"there is no base radio {deed.base}"
        self._troubles.put(self.now_ns, inject)
        return ""

    def sooner(self, name: str) -> str:
        """Let an inject of the scenario come now; why not, if it cannot."""
        return "" if self._troubles.sooner(self.now_ns, name) else f"{name} is not to come any more"

    def unit_of(self, wearer: int) -> Unit:
        """A wearer with their set. KeyError for one that the scenario does not have."""
        return self._units[self._of_wearer[wearer]]

    def is_so(self, act: ActPlan) -> bool:
        """Whether what the officer would write down has come true; else they wait for it."""
        people = [self.unit_of(wearer).person for wearer in act.wearers]
        match act.what:
            case "connect":
                return all(person.on_air for person in people)
            case "enter":
                return all(person.on_air and not person.at_door for person in people)
            case "reach_objective":
                return all(person.place and not person.at_door for person in people)
            case "start_back":
                return all(person.where.homeward for person in people)
            case "come_out":
                return all(person.out for person in people)
            case "off_air":
                return not any(person.on_air for person in people)
            case _:
                return True

    def gauge_bar(self, wearers: Sequence[int]) -> int:
        """The lowest of the wearers' own gauges, in whole bar, as they would read it out."""
        return min(int(self.unit_of(wearer).person.gauge_bar) for wearer in wearers)

    def take_notes(self) -> list[dict[str, object]]:
        """Lines for the truth file since the last call."""
        notes, self._notes = self._notes, []
        return notes

    def last_notes(self) -> list[dict[str, object]]:
        """Lines for the end of the truth file: tones that still sound, and the radio's counts."""
        sounding = [(unit, tone) for unit in self._units if (tone := unit.sounding) is not None]
        tones = [_tone_line(unit, tone, self.now_ns) for unit, tone in sounding]
        return [*self.take_notes(), *tones, self._channel_line()]

    def _channel_line(self) -> dict[str, object]:
        return {"what": "channel", "t_ns": self.now_ns, **count_lines(self.counts)}

    def _join(self, plan: PackPlan, keyring: Keyring | None, name: str) -> int:
        """Add one more; gives its place."""
        keys = None
        if keyring and plan.pack is not None:
            keys = keyring.pack_keys(plan.pack, keyring.current_epoch)
        number, unit = len(self._units), Unit(plan, self._world, keys, name=name)
        self._units.append(unit)
        if plan.pack is not None:
            self._of_pack.setdefault(plan.pack, []).append(number)
        heapq.heappush(self._due, (unit.due_ns, number))
        return number

    def _live(self, now_ns: int) -> None:
        """Let the unit that is due now do what it has to, and send."""
        number = heapq.heappop(self._due)[1]
        unit = self._units[number]
        frames, done = unit.step(now_ns)
        for out in frames:
            start_ns, end_ns = self._air.slot(number, now_ns, out.frame)
            where = unit.person.where.at(start_ns)
            passages = []
            for base in range(self.bases):
                fate = unit.channel.up(base, start_ns, end_ns, out.frame, where)
                passages.append(Passage(Heading.UP, number, base, start_ns, fate, out))
            self._air.send(start_ns, end_ns, passages)
        if self._truth:
            for deed in done:
                self._note(now_ns, unit, "deed", **deed.model_dump(mode="json"))
            if any(not out.copy for out in frames) or (
                unit.plan.pack is None and unit.person.on_air
            ):
                self._keep(truth_line(unit.truth()))
        self._after(now_ns, unit)
        heapq.heappush(self._due, (unit.due_ns, number))

    def _after(self, now_ns: int, unit: Unit) -> None:
        """See what has come of what a unit did or heard."""
        self._troubles.look(now_ns, unit)
        for tone, to_ns in unit.tones:
            if self._truth:
                self._keep(_tone_line(unit, tone, to_ns))
        unit.tones.clear()

    # ------------------------------------------------------------ trouble

    def _befall(self, now_ns: int, inject: Inject) -> None:
        if self._truth:
            told = inject.model_dump(mode="json", include=TOLD_OF_INJECT)
            beyond = self._beyond(inject)
            why = {"could_not": beyond} if beyond else {}
            self._keep({"what": "inject", "t_ns": now_ns, **told, **why})
        deed = inject.deed
        if isinstance(deed, Trouble):
            self._cause(now_ns, deed, inject)
            return
        for wearer in inject.wearers:
            number = self._of_wearer[wearer]
            self._units[number].put(now_ns, deed)
            heapq.heappush(self._due, (self._units[number].due_ns, number))

    def _beyond(self, inject: Inject) -> str:
        """Why what is to befall them cannot happen to any of them any more; empty: it can."""
        whys = [self._units[self._of_wearer[wearer]].beyond() for wearer in inject.wearers]
        return whys[0] if whys and all(whys) else ""

    def _cause(self, now_ns: int, trouble: Trouble, inject: Inject) -> None:
        match trouble:
            case FloorShadow():
                for unit in self._units:
                    if trouble.floor in (None, round(unit.person.where.at(now_ns).floor)):
                        unit.channel.shade(now_ns, seconds(trouble.for_s), trouble.loss, *Heading)
            case ReceiverPulled():
                self._pulled_to_ns[trouble.base - 1] = now_ns + seconds(trouble.for_s)
            case SameNumber():
                self._switch_on_another(now_ns, trouble)
            case ForgedOrder():
                for wearer in inject.wearers:
                    self._forge(now_ns, self._of_wearer[wearer], trouble)

    def _switch_on_another(self, now_ns: int, trouble: SameNumber) -> None:
        """Switch on a pack of nobody here; it lies near the door until it is switched off."""
        first = self._units[self._of_pack[trouble.pack][0]].plan
        plan = first.model_copy(update={"wearer": 0, "crew": "", "boot": trouble.boot, "deeds": ()})
        keyring = self._keyring
        if trouble.foreign and keyring:
            keyring = self._stranger(keyring)
        number = self._join(plan, keyring, f"another {len(self._units)}")
        unit = self._units[number]
        unit.put(now_ns, simple("switch_on"))
        unit.agenda.put(now_ns + seconds(trouble.for_s), simple("switch_off"))
        heapq.heappush(self._due, (unit.due_ns, number))

    def _forge(self, now_ns: int, number: int, trouble: ForgedOrder) -> None:
        """Let a pack hear an order that the base did not send, from close by."""
        pack = self._units[number].pack
        if pack is None:
            return
        build = pack.build
        if trouble.replayed:
            frame = self._heard_orders.get(build.identity)
        else:
            keys = self._keyring and self._stranger(self._keyring).pack_keys(
                build.identity, self._keyring.current_epoch
            )
            order = Order(
                build.identity, build.boot, pack.sequence, keys.epoch if keys else 0,
                keys is not None, 1, FORGED_NUMBER, ORDERS[trouble.order],
            )  # fmt: skip
            frame = codec.encode(order, keys.down if keys else None)
        if frame is not None:
            self._reach(now_ns, number, frame)

    def _stranger(self, keyring: Keyring) -> Keyring:
        """Give the keys of somebody else."""
        key = child(self._seed, "stranger").randbytes(KEY_BYTES)
        return Keyring({keyring.current_epoch: key}, keyring.use, keyring.current_epoch)

    # ------------------------------------------------------------ the air

    def _pass(self, now_ns: int, heard: list[OnAir]) -> None:
        """Let what is in the air now come down at its hearers."""
        settled = self._air.settled(now_ns)
        if self._truth:
            for passage in settled:
                self._note_frame(passage)
            if now_ns >= self._next_counts_ns:
                self._next_counts_ns = now_ns - now_ns % COUNTS_NS + COUNTS_NS
                self._keep({**self._channel_line(), "t_ns": now_ns})
        for at_ns, passage in self._air.arrived(now_ns):
            unit, fate = self._units[passage.unit], passage.fate
            if passage.heading is Heading.UP:
                number = passage.base + 1
                if self.plugged(number, at_ns):
                    pack = unit.plan.pack or 0
                    heard.append(OnAir(at_ns, pack, fate.level_dbm, fate.frame, number))
            else:
                self._reach(at_ns, passage.unit, fate.frame)

    def _reach(self, now_ns: int, number: int, frame: bytes) -> None:
        """Let one pack hear a frame."""
        unit = self._units[number]
        before_ns = unit.due_ns
        refused = unit.refused.copy()
        order = unit.hear(now_ns, frame)
        self._after(now_ns, unit)
        if unit.due_ns < before_ns:
            heapq.heappush(self._due, (unit.due_ns, number))
        if not self._truth:
            return
        if order is not None:
            self._note(now_ns, unit, "order", order=order.order, kind=order.what.name)
        for reason in unit.refused - refused:
            self._note(now_ns, unit, "refused", reason=reason.name)

    def _note_frame(self, passage: Passage) -> None:
        """Note a frame of a pack, whose fate is certain now."""
        out, fate = passage.out, passage.fate
        if out is None:
            return
        more: dict[str, object] = {"lost": fate.lost}
        if fate.lost is None:
            more["signal_dbm"] = fate.level_dbm
            more["arrives_ns"] = fate.arrives_ns
            more["corrupted"] = fate.corrupted
        self._note(
            passage.sent_ns, self._units[passage.unit], "frame", base=passage.base + 1,
            kind=out.kind.name.lower(), sequence=out.sequence, copy=out.copy, **more,
        )  # fmt: skip

    def _note(self, t_ns: int, unit: Unit, what: str, **more: object) -> None:
        self._keep({"what": what, "t_ns": t_ns, "pack": unit.plan.pack, **more})

    def _keep(self, note: dict[str, object]) -> None:
        if len(self._notes) >= NOTES_MAX:
            del self._notes[: NOTES_MAX // 2]
        self._notes.append(note)

    def _unit_due_ns(self) -> int:
        """When a unit is due next; lets go of instants that a unit no longer waits for."""
        while self._due and self._due[0][0] != self._units[self._due[0][1]].due_ns:
            heapq.heappop(self._due)
        return self._due[0][0] if self._due else NEVER_NS


def _tone_line(unit: Unit, tone: Tone, to_ns: int) -> dict[str, object]:
    """Give an evacuation tone as one object of the truth file."""
    return {
        "what": "tone", "t_ns": to_ns, "pack": unit.plan.pack, "order": tone.order,
        "from_ns": tone.from_ns, "to_ns": to_ns,
    }  # fmt: skip
