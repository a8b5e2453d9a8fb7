"""A scenario: who wears what, what they do and when, what the radio does, what is written down.

These are the keys of the file, with their limits; SCENARIOS.md tells them to whoever writes one.
Every time in a scenario is seconds from its start.
"""

import re
from collections.abc import Iterator
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from simulators.answering import Answers, Manner
from simulators.deeds import Deed
from simulators.expected import Expected
from simulators.injects import Inject, PoolName
from simulators.populations import TaskName
from simulators.radio import Radio
from simulators.values import (
    FLOORS_MAX,
    NAME_MAX,
    PACKS_MAX,
    SCENARIO_S_MAX,
    SHORT_MAX,
    AtS,
    Celsius,
    Coordinate,
    GaugeBar,
    Identity,
    Metres,
    Model,
    PlaceName,
    WearerNumber,
)
from simulators.whereabouts import Point

DEEDS_MAX = 500
"""Of one wearer: one every seven seconds for an hour."""
ACTS_MAX = 20_000
GROUPS_MAX = 1_000
PLACES_MAX = 500
INJECTS_MAX = 500
POOLS_MAX = 100
EXPECTED_MAX = 500

LEVEL_MAX = 5
LOOK_FOR_MAX = 10


def _on_one_line(text: str) -> str:
    if not text.isprintable():
        raise ValueError("only printable characters, on one line")
    return text


ShortLine = Annotated[str, Field(max_length=200), AfterValidator(_on_one_line)]
Text = Annotated[str, Field(max_length=400)]
ShortText = Annotated[str, Field(max_length=SHORT_MAX)]
Title = Annotated[str, Field(min_length=1, max_length=NAME_MAX)]
CylinderBar = Annotated[float, Field(gt=0, le=400)]


class _Kit(Model):
    """What a single wearer and a group of them have in common: set, person, deeds."""

    wearer: WearerNumber
    name: Annotated[str, Field(max_length=NAME_MAX)] = ""
    call_sign: ShortText = ""
    crew: ShortText = ""
    boot: Annotated[int, Field(ge=1, le=1_000_000)] = 1
    """How often the electronics have been switched on before, and now."""
    water_volume_l: Annotated[float, Field(gt=0, le=30)] = 6.8
    rated_bar: CylinderBar = 300.0
    fill_bar: GaugeBar = 300.0
    """Gauge pressure at the start."""
    low_air_bar: CylinderBar
    """Where the set's own warning starts."""
    interval_s: Annotated[int, Field(ge=1, le=60)] = 5
    battery_percent: Annotated[int, Field(ge=0, le=100)] = 95
    gas_c: Celsius = 15.0
    tells_gas_c: bool = True
    """Some packs measure the gas, some do not."""
    at: Annotated[str, Field(max_length=NAME_MAX)] = ""
    """The place where they start and come back to: the door."""
    distance_m: Metres = 10.0
    """Where no place is named: from where distances begin, at the start."""
    breathing: Annotated[float, Field(ge=0.3, le=3)] | None = None
    """Factor to the mean minute volume; not given: drawn from the seed."""
    answers: Manner = "as ordered"
    """How they take an order."""
    deeds: Annotated[tuple[Deed, ...], Field(max_length=DEEDS_MAX)] = ()


class PackPlan(_Kit):
    """One wearer with their set."""

    pack: Identity | None = None
    """None: no telemetry, by voice only."""
    leader: bool = False


_PLACEHOLDER = re.compile(r"\{(\w*)\}")
_PLACEHOLDERS = ("n", "crew", "member")


def _known_placeholders(pattern: str) -> str:
    for name in _PLACEHOLDER.findall(pattern):
        if name not in _PLACEHOLDERS:
            known = ", ".join("{" + known + "}" for known in _PLACEHOLDERS)
            raise ValueError(f"no placeholder {{{name}}}; there are {known}")
    return pattern


Pattern = Annotated[str, Field(max_length=NAME_MAX), AfterValidator(_known_placeholders)]


class Group(_Kit):
    """Any number of wearers who do the same; ``pack`` and ``wearer`` are the first one's.

    Name, call sign and crew are patterns: ``{n}`` counts the wearers of the group from 1,
    ``{crew}`` its crews, ``{member}`` the members of a crew. The first member leads.
    """

    pack: Identity
    count: Annotated[int, Field(ge=1, le=PACKS_MAX)]
    crew_size: Annotated[int, Field(ge=1, le=PACKS_MAX)] = 2
    apart_s: Annotated[float, Field(ge=0, le=SCENARIO_S_MAX)] = 0.0
    """Each does everything so much later than the one before."""
    name: Pattern = "Wearer {n}"
    call_sign: Pattern = ""
    crew: Pattern = ""

    def plans(self) -> Iterator[PackPlan]:
        """Give each of them, in order."""
        alike = {name: getattr(self, name) for name in _Kit.model_fields}
        for n in range(self.count):
            crew, member = divmod(n, self.crew_size)
            words = {"n": n + 1, "crew": crew + 1, "member": member + 1}
            # Checked already, as a whole: checking each would take most of the time to start.
            yield PackPlan.model_construct(
                **alike
                | {
                    "pack": self.pack + n,
                    "wearer": self.wearer + n,
                    "name": _filled(self.name, words),
                    "call_sign": _filled(self.call_sign, words),
                    "crew": _filled(self.crew, words),
                    "leader": bool(self.crew) and member == 0,
                    "deeds": self._deeds(n),
                }
            )

    def _deeds(self, n: int) -> tuple[Deed, ...]:
        later_s = n * self.apart_s
        if not later_s:
            return self.deeds
        return tuple(d.model_copy(update={"at_s": d.at_s + later_s}) for d in self.deeds)


def _filled(pattern: str, words: dict[str, int]) -> str:
    return _PLACEHOLDER.sub(lambda found: str(words[found[1]]), pattern)


class Place(Model):
    """Somewhere in the building."""

    name: PlaceName
    x_m: Coordinate
    y_m: Coordinate
    floor: Annotated[int, Field(ge=-FLOORS_MAX, le=FLOORS_MAX)] = 0
    task: TaskName | None = None
    """Who gets there begins with it."""

    @property
    def point(self) -> Point:
        """As the radio sees it."""
        return Point(self.x_m, self.y_m, self.floor)


class ActPlan(Model):
    """Something the officer at the door writes down, done in their place."""

    at_s: AtS
    waits: bool = False
    """Not before it is so: on air, gone in, arrived, on the way out, at the door again, off air."""
    what: Literal[
        "connect", "enter", "reach_objective", "locate", "spoken_reading", "start_back",
        "come_out", "off_air", "emergency_crew", "note",
    ]  # fmt: skip
    wearers: tuple[WearerNumber, ...] = ()
    location: Text = ""
    task: Text = ""
    pressure_bar: GaugeBar | None = None
    """Not given, with ``spoken_reading``: what the lowest of their gauges then shows."""
    crew: ShortText = ""
    """With ``emergency_crew``, and what it is now."""
    state: Literal["ready", "committed", "stood down"] = "ready"
    text: Text = ""

    @model_validator(mode="after")
    def _complete(self) -> Self:
        """Refuse an act without what it is about."""
        if self.what == "note":
            needed = {"text": bool(self.text)}
        elif self.what == "emergency_crew":
            needed = {"crew": bool(self.crew)}
        else:
            needed = {"wearers": bool(self.wearers)}
        if self.what == "locate":
            needed["location"] = bool(self.location)
        missing = [name for name, there in needed.items() if not there]
        if missing:
            raise ValueError(f"{self.what} needs {' and '.join(missing)}")
        return self


class Pool(Model):
    """Several injects, of which some come: which, the seed draws."""

    name: PoolName
    take: Annotated[int, Field(ge=1, le=INJECTS_MAX)]
    """So many of them."""


class Setting(Model):
    """What the incident is opened with."""

    name: Title
    place: Text = ""
    entry_point: Text = ""
    stage: Text = ""
    officer: Title
    procedure: str = "plain"
    roster: str = ""
    """Name of a roster, or a file; not given: made of the scenario's own wearers."""


class Scenario(Model):
    """The whole of it."""

    title: Title
    about: Annotated[str, Field(max_length=2000)] = ""
    level: Annotated[int, Field(ge=1, le=LEVEL_MAX)] | None = None
    """How hard it is, 1 the easiest; not given: it is no exercise."""
    teaches: ShortLine = ""
    """The one thing that it is there to teach."""
    look_for: Annotated[tuple[ShortLine, ...], Field(max_length=LOOK_FOR_MAX)] = ()
    """What the trainer watches for."""
    length_s: Annotated[float, Field(gt=0, le=SCENARIO_S_MAX)]
    incident: Setting
    radio: Radio = Radio()
    packs: Annotated[tuple[PackPlan, ...], Field(max_length=PACKS_MAX)] = ()
    groups: Annotated[tuple[Group, ...], Field(max_length=GROUPS_MAX)] = ()
    acts: Annotated[tuple[ActPlan, ...], Field(max_length=ACTS_MAX)] = ()
    places: Annotated[tuple[Place, ...], Field(max_length=PLACES_MAX)] = ()
    answers: Answers = Answers()
    injects: Annotated[tuple[Inject, ...], Field(max_length=INJECTS_MAX)] = ()
    pools: Annotated[tuple[Pool, ...], Field(max_length=POOLS_MAX)] = ()
    expected: Annotated[tuple[Expected, ...], Field(max_length=EXPECTED_MAX)] = ()

    @property
    def count(self) -> int:
        """How many wearers there are."""
        return len(self.packs) + sum(group.count for group in self.groups)

    def plans(self) -> Iterator[PackPlan]:
        """Give every wearer with their set: those written out, then those of the groups."""
        yield from self.packs
        for group in self.groups:
            yield from group.plans()
