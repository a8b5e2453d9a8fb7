"""One wearer with one set: person, pack and radio path, moved by what is on the agenda.

Physics moves only at the unit's own instants, which nothing outside decides. So the same seed
gives the same bytes however a run is cut into steps, and no unit can disturb another.
"""

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Literal, NamedTuple

from protocol.integrity import PackKeys
from protocol.packets import Order, OrderKind
from protocol.rejects import Reject
from simulators.agenda import Agenda, seconds
from simulators.answering import Answering, Answers
from simulators.channel import Base, Channel, Heading
from simulators.deeds import Breathe, Deed, Go, Reboot, SetWork, Shadow, Simple, Task
from simulators.movement import FOREVER_NS
from simulators.pack import ANSWERED, Build, Outgoing, Pack, Senses, equipment
from simulators.person import Person
from simulators.radio import Radio
from simulators.randoms import child
from simulators.scenario import PackPlan, Place
from simulators.tone import Tone
from simulators.wearer import Wearer

SECOND_NS = 1_000_000_000
TICK_NS = SECOND_NS
CALM_TICK_NS = 5 * SECOND_NS
CALM_BAR = 60.0
"""How often the sensors are read: each second, but each five while the cylinder is so far above
the low-air value that it cannot come to it before the next time, whatever is breathed."""
OFF_AIR_NS = 20 * SECOND_NS
SWITCH_OFF_NS = 60 * SECOND_NS
"""After the door, who came out is off air, and then the pack is switched off (invented)."""
NEVER_NS = FOREVER_NS
_WAYS = {
    "both": (Heading.UP, Heading.DOWN), "up": (Heading.UP,), "down": (Heading.DOWN,),
}  # fmt: skip
_WILL = (Breathe, SetWork, Task, Go)
_WILLED = ("off_air", "switch_off", "coming_out", "leave")
"""What a wearer does of their own will: an order to come out goes before it."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What really was, at one instant: what a forecast can be scored against."""

    t_ns: int
    pack: int | None
    wearer: int
    pressure_bar: float
    usable_l: float
    rate_l_min: float
    gas_c: float
    still_s: float
    work: str
    breathing_from_set: bool
    place: str
    """Empty on the way."""
    x_m: float
    y_m: float
    floor: float
    way_back_s: float


class World(NamedTuple):
    """What all units of a run have in common."""

    seed: int
    radio: Radio
    bases: Sequence[Base]
    places: Mapping[str, Place]
    answers: Answers
    boots_before: int = 0


class Unit:
    """One of a fleet. ``due_ns`` says when ``step`` wants to be called next."""

    def __init__(
        self, plan: PackPlan, world: World, keys: PackKeys | None, *, name: str = "pack"
    ) -> None:
        """Be switched off, at the door. ``name`` and the pack's number name the generators."""
        number = ("wearer", plan.wearer) if plan.pack is None else (name, plan.pack)
        seed = world.seed
        wearer = Wearer(
            child(seed, *number, "wearer"), 0,
            crew=child(seed, "crew", plan.crew) if plan.crew else None,
            breathing=plan.breathing,
        )  # fmt: skip
        self.plan = plan
        self.agenda = Agenda(plan.deeds)
        self.person = Person(plan, world.places, wearer, child(seed, *number, "spells"))
        self.channel = Channel(seed, number, world.radio, world.bases)
        self.pack: Pack | None = None
        self.ordered: OrderKind | None = None
        """The last order that asks for an answer."""
        self.tones: list[tuple[Tone, int]] = []
        """Evacuation tones that have ended, and when."""
        self.sounding: Tone | None = None
        """The one that sounds now."""
        self._answering = Answering(child(seed, *number, "answers"), world.answers, plan.answers)
        self._electronics = child(seed, *number, "electronics")
        self._keys = keys
        self._boot = plan.boot + world.boots_before - 1
        self._ordered_out = False
        self._battery_dead = False
        self._stuck_dbar: int | None = None
        self._now_ns = 0
        self._next_tick_ns = 0
        self.due_ns = self._due()

    @property
    def on(self) -> bool:
        """Whether the pack is switched on: it hears only then."""
        return self.pack is not None and self.pack.on

    @property
    def refused(self) -> Counter[Reject]:
        """Frames that the pack has not taken, by reason, since it was switched on."""
        return self.pack.refused if self.pack is not None else Counter()

    @property
    def _calm(self) -> bool:
        person = self.person
        return not person.leaks and person.gauge_bar > self.plan.low_air_bar + CALM_BAR

    def step(self, now_ns: int) -> tuple[list[Outgoing], list[Deed]]:
        """Do what is due now: frames for the antenna, and the deeds that were done."""
        self._now_ns = now_ns
        self.person.live(now_ns)
        done = self._deeds(now_ns)
        if self._answering.due_ns <= now_ns:
            self._answer(now_ns)
        if self.person.arrives_ns <= now_ns:
            self._arrive(now_ns)
        if done or self._next_tick_ns <= now_ns:
            self._next_tick_ns = now_ns + (CALM_TICK_NS if self._calm else TICK_NS)
        frames: list[Outgoing] = []
        if self.pack is not None:
            self.pack.sense(now_ns, self._senses(now_ns))
            frames = self.pack.send(now_ns)
        self._mind_tone(now_ns)
        self.due_ns = self._due()
        return frames, done

    def put(self, at_ns: int, deed: Deed) -> None:
        """Let something befall the wearer at an instant from now on."""
        self.agenda.put(at_ns, deed)
        self.due_ns = min(self.due_ns, at_ns)

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        """Let the pack hear a frame of the base; gives an order it had not received before."""
        if self.pack is None:
            return None
        order = self.pack.hear(now_ns, frame)
        if order is not None and order.what in ANSWERED:
            self.ordered = order.what
            self._answering.ordered(now_ns, order)
        self._mind_tone(now_ns)
        self.due_ns = max(self._due(), now_ns)
        return order

    def truth(self) -> Truth:
        """What is so now, whatever the pack says of it."""
        now_ns, person = self._now_ns, self.person
        point = person.where.at(now_ns)
        return Truth(
            t_ns=now_ns,
            pack=self.plan.pack,
            wearer=self.plan.wearer,
            pressure_bar=round(person.cylinder.pressure_bar, 3),
            usable_l=round(person.cylinder.usable_l, 3),
            rate_l_min=round(person.wearer.rate_l_min, 2),
            gas_c=round(person.cylinder.temperature_c, 2),
            still_s=(now_ns - person.movement.last_moved_ns(now_ns)) / SECOND_NS,
            work=person.wearer.work.value,
            breathing_from_set=person.on_air,
            place=person.place,
            x_m=round(point.x_m, 1),
            y_m=round(point.y_m, 1),
            floor=round(point.floor, 2),
            way_back_s=person.where.way_back_ns(now_ns) / SECOND_NS,
        )

    def _senses(self, now_ns: int) -> Senses:
        # Rounded down: a gauge that shows more air than there is would be the wrong kind of wrong.
        pressure_dbar = math.floor(self.person.gauge_bar * 10)
        if self._stuck_dbar is not None:
            pressure_dbar = self._stuck_dbar
        gas_c = None
        if self.plan.tells_gas_c:
            gas_c = math.floor(self.person.cylinder.temperature_c + 0.5)
        return Senses(pressure_dbar, gas_c, self.person.movement.last_moved_ns(now_ns))

    # ------------------------------------------------------------ what is done

    def _deeds(self, now_ns: int) -> list[Deed]:
        done: list[Deed] = []
        while self.agenda.next_ns <= now_ns:
            deed, planned = self.agenda.take()
            if planned and self._ordered_out and _willed(deed):
                continue
            self._do(deed, now_ns)
            done.append(deed)
        return done

    def _do(self, deed: Deed, now_ns: int) -> None:
        self.person.do(deed, now_ns)
        match deed:
            case Simple():
                self._do_simple(deed, now_ns)
            case Shadow():
                self.channel.shade(now_ns, seconds(deed.for_s), deed.loss, *_WAYS[deed.way])
            case Reboot() if self.pack is not None and self.pack.on:
                self.pack.die()
                self.put(now_ns + seconds(deed.off_s), simple("switch_on"))
            case _:
                """Done by the person."""

    def _do_simple(self, deed: Simple, now_ns: int) -> None:
        pack = self.pack
        match deed.does:
            case "switch_on":
                self._switch_on(now_ns)
            case "leave":
                self._leave(now_ns)
            case "gauge_stuck":
                self._stuck_dbar = self._senses(now_ns).pressure_dbar
            case "gauge_free":
                self._stuck_dbar = None
            case "move" if pack and pack.order_asked > pack.order_acknowledged:
                self._answering.wait_until(now_ns)
            case "battery_dead" if pack:
                self._battery_dead = True
                pack.die()
            case "switch_off" if pack:
                pack.switch_off(now_ns)
            case "reset_motion" if pack:
                pack.reset_motion(now_ns)
            case "distress" | "distress_off" if pack:
                pack.press_distress(now_ns, on=deed.does == "distress")
            case "coming_out" if pack:
                pack.say_coming_out(now_ns)
            case _:
                """Done by the person, or a button of a pack that is not there."""

    def beyond(self) -> str:
        """Why nothing can go wrong with this wearer now that a board would have to show."""
        if self.person.out:
            return f"wearer {self.plan.wearer} is out"
        if not self.person.on_air:
            return f"wearer {self.plan.wearer} is not on air"
        if self.plan.pack is not None and not self.on:
            return f"the pack of wearer {self.plan.wearer} is off"
        return ""

    def _switch_on(self, now_ns: int) -> None:
        plan = self.plan
        if plan.pack is None or self.on or self._battery_dead:
            return
        self._boot += 1
        build = Build(
            identity=plan.pack,
            boot=self._boot,
            interval_s=plan.interval_s,
            equipment=equipment(plan.rated_bar, plan.water_volume_l, plan.low_air_bar),
            battery_percent=plan.battery_percent,
            keys=self._keys,
        )
        self.pack = Pack(build, self._electronics, self._senses(now_ns), now_ns)

    def _leave(self, now_ns: int) -> None:
        if self.person.leave(now_ns) and self.pack is not None:
            self.pack.say_coming_out(now_ns)

    def _arrive(self, now_ns: int) -> None:
        self.person.arrive()
        if self.person.out:
            self.put(now_ns + OFF_AIR_NS, simple("off_air"))
            self.put(now_ns + SWITCH_OFF_NS, simple("switch_off"))

    def _answer(self, now_ns: int) -> None:
        """Press the button for the last order, once the wearer can."""
        movement = self.person.movement
        if movement.held(now_ns):
            self._answering.wait_until(movement.moves_again_ns(now_ns))
            return
        self._answering.answered()
        if self.pack is None:
            return
        self.pack.acknowledge(now_ns)
        if self._answering.goes:
            self._ordered_out = True
            self._leave(now_ns)

    def _mind_tone(self, now_ns: int) -> None:
        tone = self.pack.sounding if self.pack is not None else None
        if tone is not self.sounding:
            if self.sounding is not None:
                self.tones.append((self.sounding, now_ns))
            self.sounding = tone

    def _due(self) -> int:
        """The next instant of interest: a deed, a tick, a frame, a motion deadline, a move."""
        person, pack = self.person, self.pack
        due = min(self.agenda.next_ns, self._answering.due_ns, person.arrives_ns)
        if pack is None:
            by_voice = self.plan.pack is None and person.on_air
            return min(due, self._next_tick_ns) if by_voice else due
        if pack.due_ns is not None:
            due = min(due, pack.due_ns)
        if not pack.on:
            return due
        due = min(due, self._next_tick_ns)
        movement = person.movement
        if movement.last_moved_ns(self._now_ns) < self._now_ns:
            due = min(due, movement.moves_again_ns(self._now_ns))
            if pack.motion_due_ns is not None:
                due = min(due, pack.motion_due_ns)
        return due


def simple(does: Literal["switch_on", "off_air", "switch_off"]) -> Simple:
    """Give a deed that follows from another."""
    return Simple(at_s=0, does=does)


def _willed(deed: Deed) -> bool:
    return isinstance(deed, _WILL) or (isinstance(deed, Simple) and deed.does in _WILLED)


def truth_line(truth: Truth) -> dict[str, object]:
    """Give a truth as one object of the truth file."""
    return {"what": "state", **asdict(truth)}
