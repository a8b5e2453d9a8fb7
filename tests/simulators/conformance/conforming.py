"""Packs, people and links that keep the format, each at an end of what it leaves free."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from protocol import codec
from protocol.fields import U32_MAX
from protocol.packets import Apparatus, CheckResult, Envelope, Equipment, Kind
from simulators.conformance import plan
from simulators.pack import Build, Habits, Outgoing, Pack, Senses
from tests.simulators.conformance.changes import MS, S, appended, clocked, delayed, of, told
from tests.simulators.conformance.wearing import Case, Did, Unit


def nobody(_pack: Pack, _t: int) -> None:
    """Does nothing."""


def thrice(did: Did) -> Did:
    def act(pack: Pack, t: int) -> None:
        for _ in range(3):
            did(pack, t)

    return act


def jitters(unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    """Each frame is sent up to 0.1 s after it was made."""
    late_ns: int = unit.memory.setdefault(out.sequence, out.sequence * 37 % 101 * MS)
    return [(t + late_ns, out.frame)]


def enveloped(_unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    """Behind a base radio."""
    return [(t, codec.encode(Envelope(9, -80, t // MS % U32_MAX, out.frame), None))]


def unknown(_unit: Unit, packet: Any, _t: int) -> Any:
    """A pack that has hardly any sensor."""
    changed: dict[str, Any] = {
        "pressure_dbar": None, "gas_temperature_c": None, "battery_percent": None,
    }  # fmt: skip
    if packet.equipment is not None:
        changed["equipment"] = Equipment(Apparatus.UNKNOWN, None, None, None)
    return replace(packet, **changed)


class Coarse(Pack):
    """Its generator has steps of a fiftieth."""

    def __init__(self, build: Build, random: Any, senses: Senses, now_ns: int) -> None:
        super().__init__(build, Steps(random), senses, now_ns)  # type: ignore[arg-type]


class Steps:
    """A generator of fifty values."""

    def __init__(self, random: Any) -> None:
        self._random = random

    def random(self) -> float:
        return int(self._random.random() * 50) / 49


class Still(Pack):
    """Its wearer lies still for a while."""

    def sense(self, now_ns: int, senses: Senses) -> None:
        if 60 * S < now_ns < 95 * S:
            senses = replace(senses, last_moved_ns=60 * S)
        super().sense(now_ns, senses)


class RunsLow(Pack):
    """Comes to its low-air value after 70 s."""

    def sense(self, now_ns: int, senses: Senses) -> None:
        dbar = 560 if now_ns < 70 * S else 549
        super().sense(now_ns, replace(senses, pressure_dbar=dbar))


def interval(seconds: int) -> Did:
    return lambda pack, t: pack.refit(t, replace(pack.build, interval_s=seconds))


def fills(pack: Pack, t: int) -> None:
    """Another cylinder is put on."""
    changed = replace(pack.build.equipment, rated_pressure_dbar=2000)
    pack.refit(t, replace(pack.build, equipment=changed))


def fails_its_test(pack: Pack, t: int) -> None:
    tests = (CheckResult.PASSED, CheckResult.FAILED, CheckResult.PASSED)
    pack.refit(t, replace(pack.build, tests=tests))


def habits(**changed: Any) -> Case:
    return Case(habits=Habits(**changed))


def hands(reaction_s: float = 1.0, **did: Did) -> Case:
    named: Mapping[str, Did] = {getattr(plan, name): act for name, act in did.items()}
    return Case(reaction_s=reaction_s, hands=named)


LEAST = Habits(
    event_copies=3, receipt_copies=3, sign_off_copies=5, sign_on_copies=1, first_spread=(0.2, 0.2),
)  # fmt: skip
MOST = Habits(
    event_copies=5, receipt_copies=5, sign_off_copies=6, sign_on_copies=5, first_spread=(1.0, 1.0),
    sign_off_gap_s=(0.25, 0.6),
)  # fmt: skip

CONFORMING: dict[str, Case] = {
    "ours, keyed": Case(),
    "ours, open": Case(keyed=False),
    **{f"interval {s} s": Case(interval_s=s) for s in (1, 2, 3, 10, 20, 30, 60)},
    "interval 1 s, open": Case(keyed=False, interval_s=1),
    "fewest copies": Case(habits=LEAST),
    "most copies": Case(habits=MOST),
    "fewest copies at 1 s": Case(habits=LEAST, interval_s=1),
    "most copies at 10 s": Case(habits=MOST, interval_s=10),
    "sign-off copies 0.3 to 0.7 s apart": habits(sign_off_gap_s=(0.3, 0.7)),
    "sign-off copies 0.1 to 0.2 s apart": habits(sign_off_gap_s=(0.1, 0.2), sign_off_copies=6),
    "every report is a sign-on": habits(sign_on_ns=0),
    "signs on each 20 s": habits(sign_on_ns=20 * S),
    "first report early": habits(first_spread=(0.2, 0.2)),
    "first report late": habits(first_spread=(1.0, 1.0)),
    "frames made 0.1 s before": Case(sent=delayed(100 * MS, lambda out: True)),
    "frames made up to 0.1 s before": Case(sent=jitters),
    "the same at 1 s": Case(sent=jitters, interval_s=1),
    "a generator of fifty steps": Case(pack=Coarse),
    "clock 500 parts in a million slow": Case(sent=clocked(lambda ms: ms - ms // 2_000)),
    "clock 500 parts in a million fast": Case(sent=clocked(lambda ms: ms + ms // 2_000)),
    "a maker's field in each status": Case(sent=appended(b"\x80\x00")),
    "a maker's field of 187 bytes in sign-ons": Case(
        sent=appended(bytes((255, 185)) + bytes(185), of(Kind.SIGN_ON))
    ),
    "nothing is known": Case(sent=told(unknown, lambda out: out.kind is not Kind.RECEIPT)),
    "lies still and warns": Case(pack=Still),
    "comes to low air": Case(pack=RunsLow),
    "lowest identity and boot": Case(identity=1, boot=1),
    "highest identity": Case(identity=U32_MAX, boot=U32_MAX - 1),
    "boot leaps": Case(reboot=lambda build: replace(build, boot=build.boot + 100_000)),
    "second epoch": Case(epoch=2),
    "behind a base radio": Case(sent=enveloped),
    "on for a minute before": Case(begin_s=60),
    "on for a minute before, at 1 s": Case(begin_s=60, interval_s=1),
    "another interval meanwhile": Case(acts=((40, interval(10)), (80, interval(2)))),
    "another cylinder meanwhile": Case(acts=((42, fills),)),
    "a test fails meanwhile": Case(acts=((43, fails_its_test),)),
    "a way of 50 ms": Case(way_ms=(50, 50)),
    "a way of 140 ms": Case(way_ms=(140, 140)),
    "a way of 5 to 60 ms": Case(way_ms=(5, 60)),
    "the same at 1 s and open": Case(way_ms=(5, 60), interval_s=1, keyed=False),
    "each hundredth frame lost": Case(lost=0.01),
    "hands in 0.2 s": hands(0.2),
    "hands in 5 s": hands(5),
    "nobody at the pack": hands(
        BUTTON=nobody, BUTTON_AGAIN=nobody, COMING_OUT=nobody, DISTRESS=nobody,
        DISTRESS_OFF=nobody, RESTART=nobody, SWITCH_OFF=nobody,
    ),
    "switched off for good": hands(RESTART=lambda pack, t: pack.switch_off(t), SWITCH_OFF=nobody),
    "battery out instead of a restart": hands(RESTART=lambda pack, t: pack.die()),
    "presses thrice": hands(
        BUTTON=thrice(lambda pack, t: pack.acknowledge(t)),
        COMING_OUT=thrice(lambda pack, t: pack.say_coming_out(t)),
        DISTRESS=thrice(lambda pack, t: pack.press_distress(t, on=True)),
    ),
    "presses nothing the second time": hands(BUTTON_AGAIN=nobody),
    "a short trial": Case(length_s=40),
    "a very short trial": Case(length_s=20),
}  # fmt: skip
