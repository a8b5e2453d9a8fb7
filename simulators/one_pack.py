"""One virtual pack whose fields are set by typed lines, to try other people's bases. Pure.

It sends and answers as any virtual pack does (``pack``); a line sets what its sensors say, presses
a button, or takes its radio away. What it hears from a base is told in words. Time is an argument,
integer ns.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import NamedTuple

from protocol import codec
from protocol.fields import (
    BATTERY_PERCENT_MAX,
    INTERVAL_S_MAX,
    PRESSURE_DBAR_MAX,
    TEMPERATURE_C_MAX,
    TEMPERATURE_C_MIN,
    U32_MAX,
    WATER_VOLUME_CL_MAX,
)
from protocol.packets import Beacon, CheckResult, Equipment, Motion, Order
from protocol.rejects import Reject
from simulators.pack import ALARM_NS, PRE_ALARM_NS, STILL_NS, Build, Pack, Senses

SECOND_NS = 1_000_000_000
LINE_LETTERS_MAX = 200
RATE_L_MIN_MAX = 1_000
"""Enough for a free flow."""
WAIT_S_MAX = 3_600
DBAR_PER_BAR = 10
CL_PER_L = 100
STILL_FOR_NS = {
    Motion.MOVING: 0,
    Motion.STILL: STILL_NS,
    Motion.PRE_ALARM: PRE_ALARM_NS,
    Motion.ALARM: ALARM_NS,
}
"""How long ago the last move was where the motion sensor says so."""
TESTS = ("self", "air", "motion")
UNKNOWN = "unknown"


class WrongLine(ValueError):
    """A typed line cannot be done: what is wrong, in one sentence."""


@dataclass(slots=True)
class Body:
    """What the wearer and the set are like now; ``None``: the pack does not know."""

    pressure_bar: float | None = 300.0
    gas_c: int | None = 15
    motion: Motion = Motion.MOVING
    rate_l_min: float = 0.0
    """Breathed now; the pressure falls by p x V, as on the gauge of a small trial."""


class Command(NamedTuple):
    """One word that can be typed."""

    takes: str
    what: str
    do: Callable[["OnePack", int, Sequence[str]], str]


class OnePack:
    """The pack, its wearer's fingers, and its radio."""

    def __init__(self, build: Build, random: Random, now_ns: int) -> None:
        """Switch it on."""
        self.body = Body()
        self.build = build
        self.silent = False
        """It sends nothing; it still hears."""
        self.deaf = False
        """It hears nothing; it still sends."""
        self.answers_ns: int | None = None
        """So long after an order the button is pressed by itself; None: by command only."""
        self.wait_ns = 0
        """The next line is not to be read before."""
        self.leaving = False
        self._random = random
        self._at_ns = now_ns
        self._press_ns: int | None = None
        self.pack = Pack(build, random, self._senses(now_ns), now_ns)

    @property
    def over(self) -> bool:
        """It was told to end, and all is said."""
        return self.leaving and self.pack.due_ns is None

    def step(self, now_ns: int) -> list[bytes]:
        """Move on to ``now_ns``; give the frames that leave its antenna."""
        body = self.body
        volume_cl = self.pack.build.equipment.water_volume_cl
        if body.pressure_bar is not None and volume_cl:
            minutes = (now_ns - self._at_ns) / (60 * SECOND_NS)
            used_bar = body.rate_l_min * minutes / (volume_cl / CL_PER_L)
            body.pressure_bar = max(body.pressure_bar - used_bar, 0.0)
        self._at_ns = now_ns
        if self._press_ns is not None and self._press_ns <= now_ns:
            self._press_ns = None
            self.pack.acknowledge(now_ns)
        self.pack.sense(now_ns, self._senses(now_ns))
        frames = [out.frame for out in self.pack.send(now_ns)]
        return [] if self.silent else frames

    def hear(self, now_ns: int, frame: bytes) -> str:
        """Take in a frame of a base; say what it was. Empty: it is deaf or off."""
        if self.deaf or not self.pack.on:
            return ""
        packet = codec.receive_down(frame, self.build.identity, self.build.keys)
        refused = self.pack.refused.copy()
        fresh = self.pack.hear(now_ns, frame)
        if isinstance(packet, Reject):
            return f"refused: {packet.words}"
        if isinstance(packet, Beacon):
            return f"beacon {packet.value:#010x} of base {packet.base:#x}"
        return self._ordered(now_ns, packet, fresh, refused=self.pack.refused - refused)

    def command(self, now_ns: int, line: str) -> str:
        """Do what a line says; give the answer to print. Raises WrongLine."""
        if len(line) > LINE_LETTERS_MAX:
            raise WrongLine(f"a line has at most {LINE_LETTERS_MAX} letters")
        word, *values = line.lower().split() or [""]
        if not word or word.startswith("#"):
            return ""
        if word not in COMMANDS:
            raise WrongLine(f'no such word: "{word}"; "help" lists them')
        said = COMMANDS[word].do(self, now_ns, values)
        self.pack.sense(now_ns, self._senses(now_ns))
        return said

    def told(self) -> str:
        """What it would report now."""
        body, pack = self.body, self.pack
        bar = UNKNOWN if body.pressure_bar is None else f"{int(body.pressure_bar)} bar"
        said = [
            f"pack {self.build.identity}, boot {pack.build.boot}, {'on' if pack.on else 'off'}",
            f"pressure {bar}, rate {body.rate_l_min:g} L/min",
            f"motion {pack.motion.name.lower().replace('_', '-')}",
            f"order received {pack.order_received}, acknowledged {pack.order_acknowledged}",
            f"frames {pack.sequence}",
        ]
        flags = {
            "distress": pack.distress,
            "low air": pack.low_air,
            "coming out": pack.coming_out,
            "silent": self.silent,
            "deaf": self.deaf,
        }
        return "; ".join([*said, *(name for name, is_so in flags.items() if is_so)])

    def switch_on(self, now_ns: int) -> None:
        """Begin a new boot."""
        boot = self.pack.build.boot + 1
        if boot > U32_MAX:
            raise WrongLine("the boot counter is at its highest: the pack needs a new identity")
        self.build = replace(self.pack.build, boot=boot)
        self._press_ns = None
        self.pack = Pack(self.build, self._random, self._senses(now_ns), now_ns)

    def refit(self, now_ns: int, **changed: object) -> None:
        """Change what is otherwise fixed."""
        self.build = replace(self.pack.build, **changed)  # type: ignore[arg-type]
        self.pack.refit(now_ns, self.build)

    def _ordered(
        self, now_ns: int, order: Order, fresh: Order | None, *, refused: dict[Reject, int]
    ) -> str:
        what = f"order {order.order}, {order.what.name.lower().replace('_', ' ')}"
        if refused:
            return f"{what}: refused: {next(iter(refused)).words}"
        if fresh is None:
            return f"{what}: again"
        if self.answers_ns is not None:
            self._press_ns = now_ns + self.answers_ns
        return f"{what}: new"

    def _senses(self, now_ns: int) -> Senses:
        body = self.body
        dbar = None if body.pressure_bar is None else int(body.pressure_bar * DBAR_PER_BAR)
        return Senses(dbar, body.gas_c, now_ns - STILL_FOR_NS[body.motion])


# ---------------------------------------------------------------- what can be typed


def _one(values: Sequence[str], what: str) -> str:
    if len(values) != 1:
        raise WrongLine(f"say one value: {what}")
    return values[0]


def _number(values: Sequence[str], low: float, high: float, unit: str) -> float:
    text = _one(values, f"{low:g} to {high:g} {unit}")
    try:
        number = float(text)
    except ValueError:
        raise WrongLine(f'no number: "{text}"; say {low:g} to {high:g} {unit}') from None
    if not low <= number <= high:
        raise WrongLine(f"{text} is not within {low:g} to {high:g} {unit}")
    return number


def _maybe(values: Sequence[str], low: float, high: float, unit: str) -> float | None:
    return None if list(values) == [UNKNOWN] else _number(values, low, high, unit)


def _choice(text: str, choices: Sequence[str]) -> str:
    if text not in choices:
        raise WrongLine(f'"{text}" is none of: {", ".join(choices)}')
    return text


def _on(values: Sequence[str]) -> bool:
    return not values or _choice(_one(values, "on or off"), ("on", "off")) == "on"


def _none(values: Sequence[str]) -> None:
    if values:
        raise WrongLine(f'nothing goes with this word, and not "{" ".join(values)}"')


def _pressure(one: OnePack, _now: int, values: Sequence[str]) -> str:
    one.body.pressure_bar = _maybe(values, 0, PRESSURE_DBAR_MAX / DBAR_PER_BAR, "bar")
    return ""


def _gas(one: OnePack, _now: int, values: Sequence[str]) -> str:
    degrees = _maybe(values, TEMPERATURE_C_MIN, TEMPERATURE_C_MAX, "C")
    one.body.gas_c = None if degrees is None else round(degrees)
    return ""


def _battery(one: OnePack, now: int, values: Sequence[str]) -> str:
    percent = _maybe(values, 0, BATTERY_PERCENT_MAX, "%")
    one.refit(now, battery_percent=None if percent is None else int(percent))
    return ""


def _rate(one: OnePack, _now: int, values: Sequence[str]) -> str:
    one.body.rate_l_min = _number(values, 0, RATE_L_MIN_MAX, "L/min")
    return ""


def _motion(one: OnePack, now: int, values: Sequence[str]) -> str:
    names = {motion.name.lower().replace("_", "-"): motion for motion in STILL_FOR_NS}
    wanted = names[_choice(_one(values, ", ".join(names)), list(names))]
    if wanted < one.pack.motion:
        one.pack.reset_motion(now)
    one.body.motion = wanted
    return ""


def _distress(one: OnePack, now: int, values: Sequence[str]) -> str:
    one.pack.press_distress(now, on=_on(values))
    return ""


def _coming_out(one: OnePack, now: int, values: Sequence[str]) -> str:
    _none(values)
    one.pack.say_coming_out(now)
    return ""


def _button(one: OnePack, now: int, values: Sequence[str]) -> str:
    _none(values)
    if one.pack.order_acknowledged == one.pack.order_asked:
        return "no order waits for an answer"
    one.pack.acknowledge(now)
    return f"acknowledged {one.pack.order_acknowledged}"


def _answers(one: OnePack, _now: int, values: Sequence[str]) -> str:
    if list(values) == ["off"]:
        one.answers_ns = None
    else:
        one.answers_ns = round(_number(values, 0, 60, "s, or off") * SECOND_NS)
    return ""


def _interval(one: OnePack, now: int, values: Sequence[str]) -> str:
    one.refit(now, interval_s=int(_number(values, 1, INTERVAL_S_MAX, "s")))
    return ""


def _test(one: OnePack, now: int, values: Sequence[str]) -> str:
    results = {result.name.lower().replace("_", "-"): result for result in CheckResult}
    if len(values) != len(("which", "result")):
        raise WrongLine(f"say which and how: {', '.join(TESTS)}; {', '.join(results)}")
    which = TESTS.index(_choice(values[0], TESTS))
    tests = list(one.pack.build.tests)
    tests[which] = results[_choice(values[1], list(results))]
    one.refit(now, tests=tuple(tests))
    return ""


def _fitted(name: str, scale: int, high: int, unit: str) -> Callable[..., str]:
    """Set a value of the equipment."""

    def do(one: OnePack, now: int, values: Sequence[str]) -> str:
        said = _maybe(values, 1 / scale, high / scale, unit)
        value = None if said is None else round(said * scale)
        one.refit(now, equipment=_changed(one.pack.build.equipment, name, value))
        return ""

    return do


def _changed(equipment: Equipment, name: str, value: int | None) -> Equipment:
    changed = replace(equipment)
    setattr(changed, name, value)
    return changed


def _silent(one: OnePack, _now: int, values: Sequence[str]) -> str:
    one.silent = _on(values)
    return ""


def _deaf(one: OnePack, _now: int, values: Sequence[str]) -> str:
    one.deaf = _on(values)
    return ""


def _off(one: OnePack, now: int, values: Sequence[str]) -> str:
    _none(values)
    one.pack.switch_off(now)
    return ""


def _dead(one: OnePack, _now: int, values: Sequence[str]) -> str:
    _none(values)
    one.pack.die()
    return ""


def _switch_on(one: OnePack, now: int, values: Sequence[str]) -> str:
    _none(values)
    if one.pack.on:
        return "it is on"
    one.switch_on(now)
    return f"boot {one.build.boot}"


def _reboot(one: OnePack, now: int, values: Sequence[str]) -> str:
    _none(values)
    one.switch_on(now)
    return f"boot {one.build.boot}"


def _wait(one: OnePack, now: int, values: Sequence[str]) -> str:
    one.wait_ns = now + round(_number(values, 0, WAIT_S_MAX, "s") * SECOND_NS)
    return ""


def _show(one: OnePack, _now: int, values: Sequence[str]) -> str:
    _none(values)
    return one.told()


def _help(_one_pack: OnePack, _now: int, values: Sequence[str]) -> str:
    _none(values)
    rows = [
        (f"{word} {command.takes}".rstrip(), command.what) for word, command in COMMANDS.items()
    ]
    width = max(len(left) for left, _ in rows)
    return "\n".join(f"  {left:<{width}}  {what}" for left, what in rows)


def _quit(one: OnePack, now: int, values: Sequence[str]) -> str:
    _off(one, now, values)
    one.leaving = True
    return ""


COMMANDS: dict[str, Command] = {
    "pressure": Command("BAR|unknown", "of the cylinder", _pressure),
    "rate": Command("L/MIN", "breathed from now on: the pressure falls", _rate),
    "gas": Command("C|unknown", "temperature of the gas", _gas),
    "battery": Command("PERCENT|unknown", "of the electronics", _battery),
    "motion": Command("moving|still|pre-alarm|alarm", "what the motion sensor says", _motion),
    "distress": Command("[off]", "the wearer's own button", _distress),
    "button": Command("", "the wearer acknowledges the last order", _button),
    "answers": Command("S|off", "the button is pressed so long after each order", _answers),
    "coming-out": Command("", "the wearer says so by button", _coming_out),
    "interval": Command("S", "between two reports", _interval),
    "test": Command("self|air|motion passed|failed|not-run", "result of a test", _test),
    "low-air": Command("BAR|unknown", "where the set's own warning starts",
                       _fitted("low_air_dbar", DBAR_PER_BAR, PRESSURE_DBAR_MAX, "bar")),
    "rated": Command("BAR|unknown", "filling pressure of the cylinder",
                     _fitted("rated_pressure_dbar", DBAR_PER_BAR, PRESSURE_DBAR_MAX, "bar")),
    "volume": Command("L|unknown", "water volume of the cylinder",
                      _fitted("water_volume_cl", CL_PER_L, WATER_VOLUME_CL_MAX, "L")),
    "silent": Command("[off]", "its radio sends nothing", _silent),
    "deaf": Command("[off]", "its radio hears nothing", _deaf),
    "off": Command("", "switched off in order", _off),
    "dead": Command("", "off without a word, as with an empty battery", _dead),
    "on": Command("", "switched on again: a new boot", _switch_on),
    "reboot": Command("", "a new boot without a word", _reboot),
    "wait": Command("S", "so long before the next line is read", _wait),
    "show": Command("", "what it would report now", _show),
    "help": Command("", "these words", _help),
    "quit": Command("", "switched off in order, and the end", _quit),
}  # fmt: skip
