"""What an instructor can do by hand, each by two digits: ticks, injects to come, trouble. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from simulators.injects import Inject
from simulators.instructions import TOLD, InjectNow, Instruction, Sooner, Tick
from simulators.scenario import Scenario

SCENARIO_MAX = 9
"""Injects to come that have a digit: the next ones."""
SHADOW_S = 120
PULLED_S = 30
LEAK_L_MIN = 300


@dataclass(frozen=True, slots=True)
class Hand:
    """One thing to do now."""

    code: str
    """Two digits."""
    words: str
    do: Instruction | None
    """None: a sheet of its own (a bookmark), or somebody must be chosen first."""


@dataclass(frozen=True, slots=True)
class _Trouble:
    words: str
    deed: dict[str, object]
    shows: str = ""
    within_s: float = 60
    whole: bool = False
    """It befalls no one wearer."""


OF_ONE: tuple[_Trouble, ...] = (
    _Trouble("collapse", {"does": "collapse"}, "motion_alarm"),
    _Trouble("distress button", {"does": "distress"}, "distress", 15),
    _Trouble("loss of pressure", {"does": "leak", "l_min": LEAK_L_MIN}, "loss_of_pressure"),
    _Trouble("gauge stuck", {"does": "gauge_stuck"}),
    _Trouble("battery dead", {"does": "battery_dead"}, "no_signal", 100),
    _Trouble("electronics start anew", {"does": "reboot"}),
    _Trouble("radio lost 2 min", {"does": "shadow", "for_s": SHADOW_S}, "no_signal", 100),
    _Trouble("forged evacuation", {"does": "forged_order", "order": "evacuate"}),
    _Trouble("is well, moves again", {"does": "move"}),
)
OF_ALL: tuple[_Trouble, ...] = (
    _Trouble(
        "everybody's radio lost 2 min",
        {"does": "floor_shadow", "for_s": SHADOW_S},
        "several_silent",
        100,
        whole=True,
    ),
    _Trouble(
        "receiver pulled 30 s",
        {"does": "receiver_pulled", "for_s": PULLED_S},
        "receiver_down",
        15,
        whole=True,
    ),
)
GROUPS = {"1": "DONE BY VOICE", "2": "TO COME", "3": "BY HAND", "4": "EVERYBODY"}
BOOKMARK = "14"


def hands(
    scenario: Scenario | None, came: Sequence[tuple[int, str]], chosen: int | None, nth: int
) -> list[Hand]:
    """Give everything that can be done now. ``nth``: counts injects by hand, for their names."""
    whom = (chosen,) if chosen is not None else ()
    found = [
        Hand(f"1{place}", told, Tick(told=told, wearers=whom) if whom else None)
        for place, told in enumerate(TOLD, 1)
    ]
    found.append(Hand(BOOKMARK, "bookmark", None))
    for place, inject in enumerate(to_come(scenario, came)[:SCENARIO_MAX], 1):
        found.append(Hand(f"2{place}", f"{inject.name}{_when(inject)}", Sooner(name=inject.name)))
    for group, troubles in (("3", OF_ONE), ("4", OF_ALL)):
        for place, trouble in enumerate(troubles, 1):
            of = None if trouble.whole else chosen
            do = None if of is None and not trouble.whole else _inject(trouble, of, nth)
            found.append(Hand(f"{group}{place}", trouble.words, do))
    return found


def to_come(scenario: Scenario | None, came: Sequence[tuple[int, str]]) -> list[Inject]:
    """Injects of the scenario that have not come, the next first, those that wait last."""
    gone = {name for _, name in came}
    left = [one for one in (scenario.injects if scenario else ()) if one.name not in gone]
    return sorted(left, key=lambda one: (one.at_s is None, one.at_s or 0.0))


def _when(inject: Inject) -> str:
    if inject.at_s is not None:
        minutes, seconds = divmod(int(inject.at_s), 60)
        return f" (at {minutes} min {seconds} s)"
    assert inject.when is not None, "an inject has one of the two"
    return f" (waits for wearer {inject.when.wearer})"


def _inject(trouble: _Trouble, of: int | None, nth: int) -> Instruction:
    fields: dict[str, object] = {
        "name": f"by hand {nth}: {trouble.words}" + ("" if of is None else f" of {of}"),
        "at_s": 0,
        "wearers": () if of is None else (of,),
        "deed": trouble.deed,
        "shows_within_s": trouble.within_s,
    }
    if trouble.shows:
        fields["shows"] = trouble.shows
    return InjectNow(inject=Inject.model_validate(fields))
