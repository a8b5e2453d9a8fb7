"""A drill: who wears what, what they do and when, what the radio does, what the officer logs.

Drills are TOML files. Every time in one is seconds from the start of the drill. A fault in a file
names the file, the line where it can be found, the key, and what is wrong.
"""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

import shared
from simulators.cylinder import GAUGE_BAR_MAX
from simulators.toml_lines import Place, line_of
from simulators.wearer import Work

FILE_BYTES_MAX = 2_000_000
"""A drill of 10,000 packs is about a megabyte."""
PACKS_MAX = 10_000
DEEDS_MAX = 500
"""Of one wearer: one every seven seconds for an hour."""
ACTS_MAX = 20_000
DRILL_S_MAX = 6 * 3600

AtS = Annotated[float, Field(ge=0, le=DRILL_S_MAX)]
ForS = Annotated[float, Field(gt=0, le=DRILL_S_MAX)]
GaugeBar = Annotated[float, Field(ge=0, le=GAUGE_BAR_MAX)]
Share = Annotated[float, Field(ge=0, le=1)]
Celsius = Annotated[float, Field(ge=-20, le=60)]
WearerNumber = Annotated[int, Field(ge=1, le=PACKS_MAX)]


class DrillFault(Exception):
    """A drill file that cannot be used: what is wrong, and where."""

    def __init__(self, what: str, where: str) -> None:
        """Hold both parts."""
        super().__init__(what, where)
        self.what = what
        self.where = where

    def __str__(self) -> str:
        """One line for a person."""
        return f"{self.where}: {self.what}"


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


# ---------------------------------------------------------------- deeds of a wearer


class _Deed(_Model):
    at_s: AtS


class Simple(_Deed):
    """A deed that says it all by its name."""

    does: Literal[
        "switch_on",  # the pack's electronics: it signs on
        "off_air",  # no longer breathes from the set
        "switch_off",  # the pack signs off in order
        "collapse",  # stops moving for good
        "move",  # moves again
        "reset_motion",  # sets the pack's motion alarm back, by hand
        "distress",  # presses the distress button
        "distress_off",  # sets it back
        "coming_out",  # says so with the button
    ]


class Breathe(_Deed):
    """Connect to air, at some level of work."""

    does: Literal["breathe"]
    work: Work = Work.REST


class SetWork(_Deed):
    """Work so hard from now on."""

    does: Literal["work"]
    work: Work


class Still(_Deed):
    """Not move for a while."""

    does: Literal["still"]
    for_s: ForS


class Shadow(_Deed):
    """The radio does worse for a while; without ``loss`` nothing gets through."""

    does: Literal["shadow"]
    for_s: ForS
    loss: Share = 1.0


class Surroundings(_Deed):
    """Go where it is warmer or colder; the gas follows slowly."""

    does: Literal["surroundings"]
    celsius: Celsius


class Leak(_Deed):
    """Lose air beside what is breathed; 0 ends it."""

    does: Literal["leak"]
    l_min: Annotated[float, Field(ge=0, le=2000)]


Deed = Annotated[
    Simple | Breathe | SetWork | Still | Shadow | Surroundings | Leak, Field(discriminator="does")
]


# ---------------------------------------------------------------- the drill


class Radio(_Model):
    """How many frames the air swallows, each way, where nobody is in a shadow."""

    loss_up: Share = 0.0
    loss_down: Share = 0.0
    level_dbm: Annotated[int, Field(ge=-120, le=-20)] = -70
    """At the base radio, in the open."""


class PackPlan(_Model):
    """One wearer with their set."""

    pack: Annotated[int, Field(ge=1, le=0xFFFF_FFFF)]
    """Identity of the pack, the same as in the roster."""
    wearer: WearerNumber
    boot: Annotated[int, Field(ge=1, le=1_000_000)] = 1
    """How often the electronics have been switched on before, and now."""
    water_volume_l: Annotated[float, Field(gt=0, le=30)] = 6.8
    rated_bar: Annotated[float, Field(gt=0, le=400)] = 300
    fill_bar: GaugeBar = 300
    """Gauge pressure at the start."""
    low_air_bar: Annotated[float, Field(gt=0, le=400)]
    """Where the set's own warning starts."""
    interval_s: Annotated[int, Field(ge=1, le=60)] = 5
    battery_percent: Annotated[int, Field(ge=0, le=100)] = 95
    gas_c: Celsius = 15
    tells_gas_c: bool = True
    """Some packs measure the gas, some do not."""
    breathing: Annotated[float, Field(ge=0.3, le=3)] | None = None
    """Factor to the mean minute volume; not given: drawn from the seed."""
    deeds: Annotated[tuple[Deed, ...], Field(max_length=DEEDS_MAX)] = ()


class ActPlan(_Model):
    """Something the officer at the door writes down, done by the drill in their place."""

    at_s: AtS
    what: Literal["connect", "enter", "locate", "come_out", "off_air", "spoken_reading", "note"]
    wearers: tuple[WearerNumber, ...] = ()
    location: Annotated[str, Field(max_length=400)] = ""
    task: Annotated[str, Field(max_length=400)] = ""
    pressure_bar: GaugeBar | None = None
    text: Annotated[str, Field(max_length=400)] = ""

    @model_validator(mode="after")
    def _complete(self) -> Self:
        """Refuse an act without what it is about."""
        if self.what == "note":
            needed = {"text": bool(self.text)}
        else:
            needed = {"wearers": bool(self.wearers)}
        if self.what == "locate":
            needed["location"] = bool(self.location)
        if self.what == "spoken_reading":
            needed["pressure_bar"] = self.pressure_bar is not None
        missing = [name for name, there in needed.items() if not there]
        if missing:
            raise ValueError(f"{self.what} needs {' and '.join(missing)}")
        return self


class Setting(_Model):
    """What the incident is opened with."""

    name: Annotated[str, Field(min_length=1, max_length=60)]
    place: Annotated[str, Field(max_length=400)] = ""
    entry_point: Annotated[str, Field(max_length=400)] = ""
    stage: Annotated[str, Field(max_length=400)] = ""
    officer: Annotated[str, Field(min_length=1, max_length=60)]
    procedure: str = "plain"
    roster: str
    """Name of a roster that comes with the program."""


class Drill(_Model):
    """The whole of it."""

    title: Annotated[str, Field(min_length=1, max_length=60)]
    about: Annotated[str, Field(max_length=2000)] = ""
    length_s: Annotated[float, Field(gt=0, le=DRILL_S_MAX)]
    incident: Setting
    radio: Radio = Radio()
    packs: Annotated[tuple[PackPlan, ...], Field(min_length=1, max_length=PACKS_MAX)]
    acts: Annotated[tuple[ActPlan, ...], Field(max_length=ACTS_MAX)] = ()


# ---------------------------------------------------------------- reading one


def names() -> tuple[str, ...]:
    """Names of the drills that come with the program."""
    return shared.names("drills")


def load(name_or_path: str) -> Drill:
    """Read a drill by its name, or from a path. Raises DrillFault."""
    path = Path(name_or_path).expanduser()
    if name_or_path in names():
        path = shared.path("drills", f"{name_or_path}.toml")
    elif "/" not in name_or_path and path.suffix != ".toml":
        known = ", ".join(names())
        raise DrillFault(f"no such drill; there are: {known}", name_or_path)
    try:
        with path.open("rb") as file:
            data = file.read(FILE_BYTES_MAX + 1)
    except OSError as error:
        raise DrillFault(error.strerror or "not readable", str(path)) from None
    if len(data) > FILE_BYTES_MAX:
        raise DrillFault(f"longer than {FILE_BYTES_MAX} bytes", str(path))
    try:
        text = data.decode()
    except UnicodeDecodeError as error:
        raise DrillFault(f"not UTF-8 at byte {error.start}", str(path)) from None
    return parse(text, str(path))


def parse(text: str, where: str) -> Drill:
    """Understand the text of a drill; ``where`` names it in errors. Raises DrillFault."""
    try:
        drill = Drill.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise DrillFault(f"not TOML: {error}", where) from None
    except ValidationError as error:
        place, what = _first(error)
        raise DrillFault(what, _at(text, where, place)) from None
    for place, what in _contradictions(drill):
        raise DrillFault(what, _at(text, where, place))
    return drill


def _first(error: ValidationError) -> tuple[Place, str]:
    """Say the first fault found in plain words."""
    faults = error.errors(include_url=False, include_input=False)
    # A mistyped key is both unknown and missing: the first helps more.
    fault = next((f for f in faults if f["type"] == "extra_forbidden"), faults[0])
    # A deed's kind is part of pydantic's place, but is no key of the file.
    place = tuple(
        part
        for number, part in enumerate(fault["loc"])
        if not (number == _KIND_DEPTH and fault["loc"][2:3] == ("deeds",))
    )
    if fault["type"] == "extra_forbidden":
        return place, "unknown key"
    if fault["type"] == "missing":
        return place, "is missing"
    what = fault["msg"].removeprefix("Value error, ")
    return place, what[:1].lower() + what[1:]


_KIND_DEPTH = 4
"""``packs, 3, deeds, 0, <kind>, key``."""


def _contradictions(drill: Drill) -> Iterator[tuple[Place, str]]:
    """What each part of a drill allows but the whole does not."""
    packs: set[int] = set()
    wearers: set[int] = set()
    for number, plan in enumerate(drill.packs):
        if plan.pack in packs:
            yield ("packs", number, "pack"), f"pack {plan.pack} is there twice"
        if plan.wearer in wearers:
            yield ("packs", number, "wearer"), f"wearer {plan.wearer} is there twice"
        packs.add(plan.pack)
        wearers.add(plan.wearer)
        for n, deed in enumerate(plan.deeds):
            if deed.at_s > drill.length_s:
                yield ("packs", number, "deeds", n, "at_s"), "is after the end of the drill"
    for number, act in enumerate(drill.acts):
        if act.at_s > drill.length_s:
            yield ("acts", number, "at_s"), "is after the end of the drill"
        unknown = sorted(set(act.wearers) - wearers)
        if unknown:
            yield ("acts", number, "wearers"), f"no pack is on wearer {unknown[0]}"


def _at(text: str, where: str, place: Place) -> str:
    """File, line and key of a place, as a person looks for it."""
    line = line_of(text, place)
    name = ".".join(str(p) for p in place) or "drill"
    return f"{where}:{line}: {name}" if line else f"{where}: {name}"
