"""The lines of ``outby feed``: models that are also their JSON Schema. Pure.

Pressures are gauge pressures in bar, times seconds of the incident, instants ISO 8601 in UTC; null
is what is not known. Nothing is rounded. Names of people, and what was typed of them, are left out
unless they are asked for: a number is enough to join lines by.

``version`` rises when a field goes or changes its meaning; a new field does not raise it.
"""

from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter

from monitor.incident.alarms.engine import Announcement
from monitor.incident.picture import (
    FALLING,
    AirView,
    AlarmView,
    OrderView,
    Picture,
    Priority,
    WearerView,
)
from monitor.iso import iso_ns

VERSION: Final = 1
NS_PER_S = 1_000_000_000
PRIORITIES: dict[Priority, Literal["danger", "caution", "notice"]] = {
    Priority.DANGER: "danger",
    Priority.CAUTION: "caution",
    Priority.NOTICE: "notice",
}
Urgency = Literal["danger", "caution", "notice"]
Version = Literal[1]


class _Model(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Air(_Model):
    """What a wearer has left, the worse case."""

    pressure_bar: float | None
    """As the board shows it: a reading, or a falling estimate."""
    estimate: bool
    """It is no reading, and falls."""
    reading_bar: float | None
    """The last real reading."""
    reading_age_s: float | None
    low_air_bar: float | None
    turn_bar: float | None
    rate_l_min: float | None
    next: Literal["turn", "low", "empty"] | None
    """What the air comes to next."""
    next_s: int | None
    """In how many seconds at the earliest; negative: so long ago."""


class Wearer(_Model):
    """One line of the board."""

    wearer: int
    """Number on the board."""
    crew: str
    pack: int | None
    phase: str
    under_air: bool
    state: str
    """The word of the line: the worst alarm, else link or phase."""
    priority: Urgency | None
    acknowledged: bool
    signal: str
    silence_s: float | None
    motion: str
    battery_percent: int | None
    air: Air
    name: str | None = None
    location: str | None = None


class Alarm(_Model):
    """One alarm line, in the board's order."""

    alarm: int
    kind: str
    word: str
    priority: Urgency
    acknowledged: bool
    wearers: list[int]
    raised_s: float
    subject: str | None = None
    location: str | None = None


class Order(_Model):
    """One order, or one roll call, and how many have answered."""

    order: int
    what: str
    state: str
    given_s: float
    of: int
    received: int
    acknowledged: int
    by_voice: int
    out: int


class Link(_Model):
    """One radio link of the base."""

    link: int
    name: str
    up: bool
    detail: str


class PictureLine(_Model):
    """The incident at one instant, as every board shows it."""

    line: Literal["picture"] = "picture"
    version: Version = VERSION
    t_s: float
    at: str
    """The wall clock of the base."""
    incident: str
    use: str
    """``exercise`` or ``real``."""
    stage: str
    under_air: int
    came_out: int
    signals_heard: int
    signals_expected: int
    disk: str
    sound: str
    paused: bool
    closed: bool
    wearers: list[Wearer]
    alarms: list[Alarm]
    orders: list[Order]
    links: list[Link]
    officer: str | None = None


class AnnouncementLine(_Model):
    """Something has become an alarm, or is said again since nobody took it."""

    line: Literal["announcement"] = "announcement"
    version: Version = VERSION
    t_s: float
    at: str
    alarm: int
    kind: str
    word: str
    priority: Urgency
    wearers: list[int]
    again: bool


class EndLine(_Model):
    """The last line: nothing more will come of this feed."""

    line: Literal["end"] = "end"
    version: Version = VERSION
    t_s: float
    why: Literal["closed", "not recorded"]
    """The incident has ended; or nobody records it now."""


Line = PictureLine | AnnouncementLine | EndLine
_adapter: TypeAdapter[Line] = TypeAdapter(Annotated[Line, Field(discriminator="line")])


def schema() -> dict[str, Any]:
    """The JSON Schema (2020-12) of one line."""
    found = _adapter.json_schema(mode="serialization")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"A line of outby feed, version {VERSION}",
        **found,
    }


def picture_line(picture: Picture, *, names: bool) -> PictureLine:
    """Tell a picture; ``names``: with the names of people, and where they are."""
    return PictureLine(
        t_s=_s(picture.t),
        at=iso_ns(picture.wall_ns),
        incident=picture.name,
        use=picture.use,
        stage=picture.stage,
        under_air=picture.under_air,
        came_out=picture.came_out,
        signals_heard=picture.signals_heard,
        signals_expected=picture.signals_expected,
        disk=picture.disk,
        sound=picture.sound,
        paused=picture.paused,
        closed=picture.closed,
        wearers=[_wearer(one, names=names) for one in picture.wearers],
        alarms=[_alarm(one, names=names) for one in picture.alarms],
        orders=[_order(one) for one in picture.orders],
        links=[
            Link(link=one.link, name=one.name, up=one.up, detail=one.detail)
            for one in picture.links
        ],
        officer=picture.officer if names else None,
    )


def announcement_line(said: Announcement, wall_offset_ns: int) -> AnnouncementLine:
    """Tell an announcement; ``wall_offset_ns``: what the wall clock shows at incident time 0."""
    return AnnouncementLine(
        t_s=_s(said.t),
        at=iso_ns(said.t + wall_offset_ns),
        alarm=said.number,
        kind=said.kind,
        word=said.word,
        priority=PRIORITIES[said.priority],
        wearers=list(said.wearers),
        again=said.again,
    )


def end_line(t: int, *, closed: bool) -> EndLine:
    """Tell the end."""
    return EndLine(t_s=_s(t), why="closed" if closed else "not recorded")


def _wearer(one: WearerView, *, names: bool) -> Wearer:
    return Wearer(
        wearer=one.wearer,
        crew=one.crew,
        pack=one.pack,
        phase=one.phase.value,
        under_air=one.under_air,
        state=one.state,
        priority=None if one.priority is None else PRIORITIES[one.priority],
        acknowledged=one.acknowledged,
        signal=one.signal.value,
        silence_s=None if one.silence_ns is None else _s(one.silence_ns),
        motion=one.motion,
        battery_percent=one.battery_percent,
        air=_air(one.air),
        name=one.name if names else None,
        location=one.location if names else None,
    )


def _air(air: AirView) -> Air:
    age, mark = air.reading_age_ns, air.next
    return Air(
        pressure_bar=air.pressure_bar,
        estimate=air.source in FALLING,
        reading_bar=air.reading_bar,
        reading_age_s=None if age is None else _s(age),
        low_air_bar=air.low_air_bar,
        turn_bar=air.turn_bar,
        rate_l_min=air.rate_l_min,
        next=None if mark is None else mark.target,
        next_s=None if mark is None else mark.seconds,
    )


def _alarm(one: AlarmView, *, names: bool) -> Alarm:
    return Alarm(
        alarm=one.number,
        kind=one.kind,
        word=one.word,
        priority=PRIORITIES[one.priority],
        acknowledged=one.acknowledged,
        wearers=list(one.wearers),
        raised_s=_s(one.raised_at_ns),
        subject=one.subject if names else None,
        location=one.location if names else None,
    )


def _order(one: OrderView) -> Order:
    return Order(
        order=one.number,
        what=one.order,
        state=one.state,
        given_s=_s(one.given_at_ns),
        of=one.of,
        received=one.received,
        acknowledged=one.acknowledged,
        by_voice=one.by_voice,
        out=one.out,
    )


def _s(ns: int) -> float:
    return ns / NS_PER_S
