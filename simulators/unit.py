"""One wearer with one set: cylinder, person, pack and radio path, moved by the scenario's deeds.

Physics moves only at the unit's own instants, which nothing outside decides. So the same seed
gives the same bytes however a run is cut into steps, and no unit can disturb another.
"""

import math
from dataclasses import asdict, dataclass
from typing import assert_never

from protocol.integrity import PackKeys
from protocol.packets import Order, OrderKind
from simulators.channel import Channel
from simulators.cylinder import Cylinder
from simulators.deeds import (
    Breathe,
    Deed,
    Go,
    Leak,
    SetWork,
    Shadow,
    Simple,
    Still,
    Surroundings,
)
from simulators.movement import FOREVER_NS
from simulators.pack import Build, Outgoing, Pack, Senses, equipment
from simulators.radio import Radio
from simulators.randoms import between, child
from simulators.scenario import PackPlan
from simulators.wearer import Wearer, Work

SECOND_NS = 1_000_000_000
TICK_NS = SECOND_NS
"""How often the sensors are read."""
GAS_LAG_NS = 480 * SECOND_NS
"""The gas takes on the warmth around it with this time constant (invented)."""
ANSWER_S = (3.0, 9.0)
"""How long a wearer takes to find the button after an order."""
NEVER_NS = FOREVER_NS
_SETTLED = 1e-5
"""Tenths of a bar within which the pressure is found: a cylinder at 200 bar reads 200.0."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What really was, at one instant: what a forecast can be scored against."""

    t_ns: int
    pack: int
    wearer: int
    pressure_bar: float
    usable_l: float
    rate_l_min: float
    gas_c: float
    still_s: float
    work: str
    breathing_from_set: bool


def seconds(value_s: float) -> int:
    """Seconds as in a scenario, in ns."""
    return round(value_s * SECOND_NS)


class Unit:
    """One of a fleet. ``due_ns`` says when ``step`` wants to be called next."""

    def __init__(
        self, plan: PackPlan, radio: Radio, seed: int, *, keys: PackKeys | None, boots_before: int
    ) -> None:
        """Be switched off, in clean air, with the cylinder filled."""
        name = ("pack", plan.pack)
        self.plan = plan
        self.channel = Channel(
            child(seed, *name, "up"), child(seed, *name, "down"), radio, plan.distance_m
        )
        self.wearer = Wearer(child(seed, *name, "wearer"), 0, breathing=plan.breathing)
        self.cylinder = Cylinder(plan.water_volume_l, plan.fill_bar, plan.gas_c)
        self.pack: Pack | None = None
        self._electronics = child(seed, *name, "electronics")
        self._answers = child(seed, *name, "answers")
        self._keys = keys
        self._boot = plan.boot + boots_before - 1
        self._deeds = sorted(plan.deeds, key=lambda deed: deed.at_s)
        self._next_deed = 0
        self._now_ns = 0
        self._next_tick_ns = 0
        self._on_air = False
        self._leak_l_min = 0.0
        self._around_c = plan.gas_c
        self._answer_ns = NEVER_NS
        self._obeys_out = False
        self.due_ns = self._due()

    @property
    def on(self) -> bool:
        """Whether the pack is switched on: it hears only then."""
        return self.pack is not None and self.pack.on

    def step(self, now_ns: int) -> tuple[list[Outgoing], list[Deed]]:
        """Do what is due now: frames for the antenna, and the deeds that were done."""
        self._live(now_ns)
        done: list[Deed] = []
        while self._deed_ns() <= now_ns:
            deed = self._deeds[self._next_deed]
            self._next_deed += 1
            self._do(deed, now_ns)
            done.append(deed)
        if self._answer_ns <= now_ns:
            self._answer(now_ns)
        if self._next_tick_ns <= now_ns:
            self._next_tick_ns = now_ns + TICK_NS
        frames: list[Outgoing] = []
        if self.pack is not None:
            self.pack.sense(now_ns, self._senses(now_ns))
            frames = self.pack.send(now_ns)
        self.due_ns = self._due()
        return frames, done

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        """Let the pack hear a frame of the base; gives an order it had not received before."""
        if self.pack is None:
            return None
        order = self.pack.hear(now_ns, frame)
        if order is not None and order.what is not OrderKind.DISTRESS_CONFIRMED:
            self._answer_ns = now_ns + seconds(between(self._answers, *ANSWER_S))
            self._obeys_out = order.what in (OrderKind.EVACUATE, OrderKind.COME_OUT)
        self.due_ns = max(self._due(), now_ns)
        return order

    def truth(self) -> Truth:
        """What is so now, whatever the pack says of it."""
        return Truth(
            t_ns=self._now_ns,
            pack=self.plan.pack,
            wearer=self.plan.wearer,
            pressure_bar=round(self.cylinder.pressure_bar, 3),
            usable_l=round(self.cylinder.usable_l, 3),
            rate_l_min=round(self.wearer.rate_l_min, 2),
            gas_c=round(self.cylinder.temperature_c, 2),
            still_s=(self._now_ns - self.wearer.movement.last_moved_ns(self._now_ns)) / SECOND_NS,
            work=self.wearer.work.value,
            breathing_from_set=self._on_air,
        )

    def _live(self, now_ns: int) -> None:
        """Breathe, leak and warm up to now."""
        span_ns = now_ns - self._now_ns
        litres = self.wearer.advance(now_ns)
        if self._on_air:
            self.cylinder.draw(litres)
        if self._leak_l_min:
            self.cylinder.draw(self._leak_l_min * span_ns / (60 * SECOND_NS))
        off_c = self._around_c - self.cylinder.temperature_c
        if off_c:
            self.cylinder.temperature_c += off_c * -math.expm1(-span_ns / GAS_LAG_NS)
        self._now_ns = now_ns

    def _senses(self, now_ns: int) -> Senses:
        # Rounded down: a gauge that shows more air than there is would be the wrong kind of wrong.
        pressure_dbar = max(math.floor(self.cylinder.pressure_bar * 10 + _SETTLED), 0)
        gas_c = math.floor(self.cylinder.temperature_c + 0.5) if self.plan.tells_gas_c else None
        return Senses(pressure_dbar, gas_c, self.wearer.movement.last_moved_ns(now_ns))

    def _do(self, deed: Deed, now_ns: int) -> None:
        match deed:
            case Simple():
                self._do_simple(deed, now_ns)
            case Breathe():
                self._on_air = True
                self.wearer.work = deed.work
            case SetWork():
                self.wearer.work = deed.work
            case Still():
                self.wearer.movement.hold(now_ns, seconds(deed.for_s))
            case Shadow():
                self.channel.shade(now_ns, seconds(deed.for_s), deed.loss)
            case Go():
                self.channel.go(now_ns, seconds(deed.over_s), deed.distance_m)
            case Surroundings():
                self._around_c = deed.celsius
            case Leak():
                self._leak_l_min = deed.l_min
            case _ as never:
                assert_never(never)

    def _do_simple(self, deed: Simple, now_ns: int) -> None:
        pack = self.pack
        match deed.does:
            case "switch_on":
                self._switch_on(now_ns)
            case "off_air":
                self._on_air = False
                self.wearer.work = Work.REST
            case "collapse":
                self.wearer.movement.hold(now_ns, FOREVER_NS)
            case "move":
                self.wearer.movement.release(now_ns)
            case "switch_off" if pack:
                pack.switch_off(now_ns)
            case "reset_motion" if pack:
                pack.reset_motion(now_ns)
            case "distress" | "distress_off" if pack:
                pack.press_distress(now_ns, on=deed.does == "distress")
            case "coming_out" if pack:
                pack.say_coming_out(now_ns)
            case _:
                """A button of a pack that is not there."""

    def _switch_on(self, now_ns: int) -> None:
        if self.pack is not None and self.pack.on:
            return
        self._boot += 1
        plan = self.plan
        build = Build(
            identity=plan.pack,
            boot=self._boot,
            interval_s=plan.interval_s,
            equipment=equipment(plan.rated_bar, plan.water_volume_l, plan.low_air_bar),
            battery_percent=plan.battery_percent,
            keys=self._keys,
        )
        self.pack = Pack(build, self._electronics, self._senses(now_ns), now_ns)

    def _answer(self, now_ns: int) -> None:
        """Press the button for the last order, unless the wearer cannot."""
        self._answer_ns = NEVER_NS
        if self.pack is None or self.wearer.movement.held(now_ns):
            return
        self.pack.acknowledge(now_ns)
        if self._obeys_out:
            self.wearer.work = Work.WAY_OUT
            self.pack.say_coming_out(now_ns)

    def _deed_ns(self) -> int:
        if self._next_deed >= len(self._deeds):
            return NEVER_NS
        return seconds(self._deeds[self._next_deed].at_s)

    def _due(self) -> int:
        """The next instant of interest: a deed, a tick, a frame, a motion deadline, a move."""
        due = min(self._deed_ns(), self._answer_ns)
        pack = self.pack
        if pack is None:
            return due
        if pack.due_ns is not None:
            due = min(due, pack.due_ns)
        if not pack.on:
            return due
        due = min(due, self._next_tick_ns)
        movement = self.wearer.movement
        if movement.last_moved_ns(self._now_ns) < self._now_ns:
            due = min(due, movement.moves_again_ns(self._now_ns))
            if pack.motion_due_ns is not None:
                due = min(due, pack.motion_due_ns)
        return due


def truth_line(truth: Truth) -> dict[str, object]:
    """Give a truth as one object of the truth file."""
    return {"what": "state", **asdict(truth)}
