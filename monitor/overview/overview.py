"""All doors in one picture: alarms by urgency, and totals that say what they rest on. Pure.

Each door's own order of alarms stands, since its fold knows more than its picture; between doors
the ranking of the alarms decides. What concerns a door as a whole stands on top of them all: until
it is seen to, everything below is worth less.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from monitor.board.lines.alarm_lines import is_over
from monitor.board.words import wording
from monitor.board.words.marks import clean
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.ranking import NOTHING, Place, place_of
from monitor.incident.picture import AlarmView, Phase, Picture, Priority, WearerView
from monitor.overview.across import not_come, on_two
from monitor.overview.doors import Door, Hearing, Trust

NUMBERS_A_DOOR = 10_000
"""Wearers and alarms of several doors in one picture: those of door 2 begin at 20,000."""
NOT_HEARD, NOT_TRUSTED = "DOOR NOT HEARD", "NOT TO BE TRUSTED"
ON_TWO, NOT_ARRIVED = "ON TWO BOARDS", "NOT ARRIVED"
KINDS = {word: word.casefold().replace(" ", "_") for word in
         (NOT_HEARD, NOT_TRUSTED, ON_TWO, NOT_ARRIVED)}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Overview:
    """Everything that the command post's board shows."""

    operation: str
    doors: tuple[Door, ...]
    """By number."""
    alarms: tuple[AlarmView, ...]
    """Of all doors, the most urgent first; each subject begins with its door."""
    wall_ns: int

    @property
    def under_air(self) -> int:
        """At all doors, by the newest picture of each."""
        return sum(door.picture.under_air for door in self.doors)

    @property
    def old(self) -> tuple[int, int]:
        """How many of those are in pictures that are old, and how old the oldest is."""
        old = [d for d in self.doors if d.hearing in {Hearing.OLD, Hearing.NOT_HEARD}]
        counted = [d for d in old if d.picture.under_air]
        return sum(d.picture.under_air for d in counted), max(
            (d.age_ns for d in counted), default=0
        )

    @property
    def came_out(self) -> int:
        """At all doors."""
        return sum(door.picture.came_out for door in self.doors)


def overview_of(operation: str, doors: Iterable[Door], wall_ns: int) -> Overview:
    """Put doors together. ``wall_ns``: this machine's clock, by which places told are dated."""
    ordered = tuple(sorted(doors, key=lambda door: door.number))
    alarms = (*_of_doors(ordered), *_across(ordered), *_merged(ordered, wall_ns))
    return Overview(operation, ordered, alarms, wall_ns)


def as_picture(overview: Overview, like: Picture) -> Picture:
    """One picture of all, for what draws alarm lines; everybody has a number of all doors."""
    wearers = tuple(
        replace(wearer, wearer=door.number * NUMBERS_A_DOOR + wearer.wearer)
        for door in overview.doors
        for wearer in door.wearers
    )
    return replace(
        like, t=overview.wall_ns, wall_ns=overview.wall_ns, wearers=wearers, alarms=overview.alarms,
        put_aside=(),
    )  # fmt: skip


# ---------------------------------------------------------------- of doors


def _line(
    number: int, word: str, priority: Priority, subject: str, to_do: str, for_ns: int, detail: str
) -> AlarmView:
    return AlarmView(
        number=-number, kind=KINDS[word], word=word, priority=priority, state="unacknowledged",
        acknowledged=True, latched=False, wearers=(), subject=subject, crew="", location="",
        location_at_ns=None, air=None, mates=(), raised_at_ns=0, raised_for_ns=for_ns,
        to_do=to_do, detail=detail,
    )  # fmt: skip


def _of_doors(doors: Sequence[Door]) -> Iterator[AlarmView]:
    for door in doors:
        inside = door.picture.under_air
        priority = Priority.DANGER if inside else Priority.CAUTION
        who = f"{clean(door.name)}: {inside} under air"
        if door.trust is Trust.REFUSED:
            to_do = "Ask that door by voice. Who writes to the broker?"
            yield _line(
                10 * door.number, NOT_TRUSTED, priority, who, to_do, door.age_ns, door.fault
            )
        if door.hearing is Hearing.NOT_HEARD:
            to_do = "Ask that door by voice: its picture is old."
            yield _line(
                10 * door.number + 1, NOT_HEARD, priority, who, to_do, door.age_ns, door.fault
            )


def _across(doors: Sequence[Door]) -> Iterator[AlarmView]:
    number = NUMBERS_A_DOOR
    for two in on_two(doors):
        number += 1
        one, other = (clean(door.name) for door in two.doors)
        who = f"{_called(two.wearers[0])}: {one} and {other}"
        to_do = "Ask both doors: who watches, by which board?"
        ages = [wearer.wear_ns or 0 for wearer in two.wearers]
        yield _line(number, ON_TWO, Priority.DANGER, who, to_do, min(ages), "")
    for gone in not_come(doors):
        number += 1
        who = f"{clean(gone.door.name)} {_called(gone.wearer)}"
        to_do = f"Moved to {clean(gone.wearer.moved_to) or 'another board'}: ask there."
        for_ns = gone.wearer.state_for_ns
        yield _line(number, NOT_ARRIVED, Priority.CAUTION, who, to_do, for_ns, "")


def _called(wearer: WearerView) -> str:
    return clean(wearer.call_sign or wearer.name)


# ---------------------------------------------------------------- of people


def _merged(doors: Sequence[Door], wall_ns: int) -> Iterator[AlarmView]:
    """Each door's alarms in its own order; at every step the most urgent of those that are next."""
    queues = [[_from(door, one, wall_ns) for one in door.picture.alarms] for door in doors]
    while any(queues):
        queue = min(filter(None, queues), key=lambda queue: _place(queue[0]))
        yield queue.pop(0)


def _place(alarm: AlarmView) -> Place:
    taken = alarm.acknowledged or is_over(alarm)
    return place_of(
        Kind(alarm.kind), alarm.priority, NOTHING, taken=taken,
        raised_ns=-alarm.raised_for_ns, number=alarm.number,
    )  # fmt: skip


def _from(door: Door, alarm: AlarmView, wall_ns: int) -> AlarmView:
    """An alarm with its door in front, its wearers by numbers of all doors, its times by ours."""
    base = door.number * NUMBERS_A_DOOR
    picture = door.picture
    told = alarm.location_at_ns
    at_ns = None if told is None else wall_ns - (wall_ns - picture.wall_ns) - (picture.t - told)
    return replace(
        alarm,
        number=base + alarm.number,
        subject=f"{clean(door.name)} {alarm.subject}",
        wearers=tuple(base + one for one in alarm.wearers),
        mates=tuple((base + one, name, bar) for one, name, bar in alarm.mates),
        location_at_ns=at_ns,
    )


def crews_of(door: Door) -> Iterator[tuple[str, tuple[WearerView, ...]]]:
    """The crews of a door in the order of check-in, which never changes; who is alone is one."""
    crews: dict[str, list[WearerView]] = {}
    for wearer in door.wearers:
        if wearer.phase is Phase.LISTED:
            continue
        crews.setdefault(wearer.crew or wearer.call_sign or wearer.name, []).append(wearer)
    for name, wearers in crews.items():
        yield name, tuple(wearers)


def as_of(age_ns: int) -> str:
    """``as of 4 s ago``."""
    return f"as of {wording.age(age_ns)} ago"
