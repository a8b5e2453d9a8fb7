"""What the sheets of the board have in common: who is meant, when it was, what it does. Pure."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta, tzinfo

from monitor.board.acts.effects import Asking, Say, WriteAct
from monitor.board.sheets.forms import PICKS_MAX, Answers, Check, Field, Form, Refused, number
from monitor.board.words.choosing import crew_of, names, wearer_of
from monitor.board.words.marks import clean
from monitor.incident import units
from monitor.incident.air.start import StartFrom
from monitor.incident.event_parts import (
    RATED_MAX_BAR,
    RATED_MIN_BAR,
    WATER_VOLUME_MAX_L,
    WATER_VOLUME_MIN_L,
    WEARERS_MAX,
)
from monitor.incident.picture import Picture, WearerView

Sheet = Form[Asking]
MINUTE_NS = 60_000_000_000
SECOND_NS = 1_000_000_000
BACK_MIN_MAX = 99
"""Two digits: more could be meant for a time of day."""
OVERFILL = 1.1
"""A warm cylinder that was filled fast shows up to so much of its rating (common practice)."""
FAR_UNDER_BAR = 50
"""More than gauges differ by, or anybody puts right by reading again (our own choice)."""
YES, NO = "yes", "no"
_TIME = re.compile(r"([0-9]{1,2}(?=[:.])|[0-9]{2})[:.]?([0-9]{2})")
"""1405, 14:05, 9.05; three digits alone are neither this nor minutes."""
_MINUTES = re.compile(r"[0-9]{1,2}")


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One act of the record, to be looked at or corrected."""

    id: str
    t: int
    """Incident time, ns."""
    by: str
    words: str


@dataclass(frozen=True, slots=True)
class Context:
    """What a sheet is made from."""

    picture: Picture
    chosen: tuple[int, ...] = ()
    zone: tzinfo | None = None
    log: Sequence[LogEntry] = ()
    """The last acts, newest first."""
    emergency_form: Callable[[int], Sequence[tuple[str, str]]] = field(default=lambda _n: ())
    """Heading and value of each field of a wearer's emergency message."""
    cylinders: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Water volume, litres, and rated pressure, bar, by the name as it is typed."""
    now: Callable[[], Picture] | None = None
    """The picture of the moment at which the sheet is done; None: the same."""

    @property
    def present(self) -> Picture:
        """What times are counted from: a sheet may have stood open for long."""
        return self.picture if self.now is None else self.now()


Opener = Callable[[Context], Sheet | Say]
"""Makes a sheet for what is chosen; or says why there is none."""


# ---------------------------------------------------------------- who


def find_wearer(picture: Picture, said: str) -> WearerView | None:
    """The one wearer of this number, call sign or name, as typed or read from a tally."""
    if said.isascii() and said.isdigit():
        number = int(said)
        return wearer_of(picture, number) if number <= WEARERS_MAX else None
    words = _key(said)
    by_sign = [w for w in picture.wearers if words and _key(w.call_sign) == words]
    by_name = [w for w in picture.wearers if words and _key(w.name) == words]
    found = by_sign or by_name
    return found[0] if len(found) == 1 else None


def find_wearers(picture: Picture, said: str) -> tuple[int, ...] | str:
    """Everybody named, with commas between; ``crew`` before one: the whole crew. Else why not."""
    found: list[int] = []
    for part in said.replace(";", ",").split(","):
        words = part.split()
        crew = bool(words) and words[0].casefold() == "crew"
        name = " ".join(words[1:] if crew else words)
        several = name.split() if name.replace(" ", "").isdigit() else [name]
        for one in several:
            wearer = find_wearer(picture, one)
            if wearer is None:
                return f"nobody on the board is {clean(one) or 'meant'}: a number, sign or name"
            found += crew_of(picture, wearer.wearer) if crew else (wearer.wearer,)
    return tuple(sorted(set(found)))


def _key(text: str) -> str:
    return "".join(text.casefold().split())


def who_field(context: Context, *, one: bool = False, needed: bool = True) -> tuple[Field, ...]:
    """The question whom it is about; none where somebody is chosen."""
    if context.chosen:
        return ()

    def check(said: str, _answers: Answers) -> str:
        found = find_wearers(context.picture, said)
        if isinstance(found, str):
            return found
        return "one wearer at a time" if one and len(found) != 1 else ""

    hint = "number, call sign or name" if one else "numbers, signs or names; crew 3: all of it"
    return (Field("who", "who", needed=needed, check=check, hint=hint),)


def whom(context: Context, answers: Answers) -> tuple[int, ...]:
    """Whom it is about, by number, once the sheet is filled in."""
    if context.chosen:
        return context.chosen
    found = find_wearers(context.picture, answers.get("who", "")) if answers.get("who") else ()
    return () if isinstance(found, str) else found


def of_whom(context: Context) -> str:
    """For a title: of whom, if somebody is chosen."""
    return f" of {names(context.picture, context.chosen)}" if context.chosen else ""


def labels(context: Context, wearers: tuple[int, ...]) -> str:
    """Who it was, for what is said of the act."""
    return names(context.picture, wearers)


# ---------------------------------------------------------------- when


def when_field(*, label: str = "when") -> Field:
    """The question when it really was; empty: now."""
    return Field(
        "when", label, needed=False, most=5, hint="empty: now; 5: min ago; 1405, 9:05: a time"
    )


def when_ns(said: str, context: Context) -> int | Refused | None:
    """Incident time of "5" (minutes ago) or "1405", "14:05"; None: now. Never in the future."""
    words = said.strip()
    if not words:
        return None
    time = _TIME.fullmatch(words)
    if time is not None:
        return _at_time(int(time[1]), int(time[2]), context)
    if not _MINUTES.fullmatch(words):
        return Refused(f"minutes ago, up to {BACK_MIN_MAX}, or a time as 1405 or 9:05", "when")
    t = context.present.t - int(words) * MINUTE_NS
    return t if t >= 0 else Refused("before the incident was opened", "when")


def _at_time(hour: int, minute: int, context: Context) -> int | Refused:
    picture = context.present
    now = datetime.fromtimestamp(picture.wall_ns / SECOND_NS, context.zone)
    try:
        then = now.replace(hour=hour, minute=minute, second=0, microsecond=0)
    except ValueError:
        return Refused(f"{hour}:{minute:02} is no time of day", "when")
    if then > now:
        then -= timedelta(days=1)
    t = picture.t - round((now - then).total_seconds()) * SECOND_NS
    return t if t >= 0 else Refused("before the incident was opened, or not yet", "when")


# ---------------------------------------------------------------- pressures


def why_no_reading(picture: Picture, wearers: Sequence[int], bar: float) -> str:
    """Why these cannot have read this pressure off their gauges; empty: they can."""
    if bar > units.READING_MAX_BAR:
        return "more than any gauge shows"
    for wearer in wearers:
        one = wearer_of(picture, wearer)
        rated = None if one is None else one.air.rated_bar
        if one is not None and rated and bar > rated * OVERFILL:
            return (
                f"above the {units.left(rated, one.unit)} {one.unit}"
                f" that the cylinder of {one.wearer} is rated for"
            )
    return ""


def far_under(picture: Picture, wearers: Sequence[int], bar: float) -> str:
    """What a pressure at connecting is far under, of what is believed; empty: it is not.

    A slip of a finger, 30 for 300, would let a crew turn too late: it is asked about once.
    """
    for wearer in wearers:
        one = wearer_of(picture, wearer)
        if one is None:
            continue
        air = one.air
        start_bar = None if air.start_from is StartFrom.ASSUMED else air.start_bar
        known = max(air.reading_bar or 0.0, start_bar or 0.0)
        if bar < known - FAR_UNDER_BAR:
            unit = one.unit
            return (
                f"{units.left(bar, unit)} {unit} is far under the"
                f" {units.left(known, unit)} {unit} of {one.wearer}"
            )
    return ""


def cylinder_from(litres: str, rated: str) -> tuple[float, float] | str:
    """Water volume in L and rated bar as typed, on whichever board; else what they can be."""
    volume = number(WATER_VOLUME_MIN_L, WATER_VOLUME_MAX_L, "L of water")(litres, {})
    pressure = number(RATED_MIN_BAR, RATED_MAX_BAR, "bar rated")(rated, {})
    return volume or pressure or (float(litres), float(rated))


def pressure_field(context: Context, name: str = "gauge") -> Field:
    """The question what the gauge shows, in the unit of whoever is chosen; may stay empty."""
    unit = unit_of(context, context.chosen)

    def check(said: str, answers: Answers) -> str:
        try:
            value = float(said) if said.isascii() and said.isdigit() else -1.0
        except ValueError:
            value = -1.0
        if value < 0:
            return f"a whole number of {unit}"
        who = whom(context, answers)
        return why_no_reading(context.picture, who, units.bar_from(value, unit_of(context, who)))

    return Field(name, "gauge", needed=False, most=4, check=check, hint=f"{unit}, if it was read")


def unit_of(context: Context, wearers: Sequence[int]) -> units.PressureUnit:
    """What the gauge of the first of these reads in; of nobody, as the procedure has it."""
    one = wearer_of(context.picture, wearers[0]) if wearers else None
    unit = one.unit if one is not None else context.picture.pressure_unit
    return "psi" if unit == "psi" else "bar"


# ---------------------------------------------------------------- answers


def picks(said: Sequence[str]) -> tuple[str, ...]:
    """As many different answers as have a digit, in this order."""
    return tuple(dict.fromkeys(text for text in map(clean, said) if text))[:PICKS_MAX]


def crews(picture: Picture) -> tuple[str, ...]:
    """Names of the crews, in the order of the board."""
    return tuple(dict.fromkeys(w.crew for w in picture.wearers if w.crew))


def places(picture: Picture) -> tuple[str, ...]:
    """Places that somebody was told to be in."""
    return tuple(dict.fromkeys(w.location for w in picture.wearers if w.location))


def one_of(known: Sequence[str], words: str) -> Check:
    """A check that only what is known is an answer."""

    def check(said: str, _answers: Answers) -> str:
        return "" if said in known else words

    return check


def act(what: str, subject: str, **fields: object) -> WriteAct:
    """An act of this name, with what a person reads while it is asked for."""
    return WriteAct({"what": what, **fields}, subject)
