"""Which alarm stands first: one table for every kind, with the reason. Pure.

Ranked by what it is about, then how soon it wants an answer, then what it means for a life, then
age. A person comes before the base, and the base before reminders, whatever their priorities: a
full disk costs nobody their life who could be fetched meanwhile. Among the equal, what nobody has
taken comes first; a wearer's own line asks for the worst and not for what is taken.

How long there is to act stands in the table. Where air decides, and a danger's air is known, the
minutes until that cylinder is empty at the earliest take its place: three minutes of air are as
urgent as a call for help, whichever alarm tells of them. They count in steps, so that lines do not
change places with every reading.
"""

from bisect import bisect_left
from enum import IntEnum
from typing import NamedTuple

from monitor.incident.alarms.entry import Kind
from monitor.incident.picture import Priority


class About(IntEnum):
    """Whom or what an alarm is about."""

    PERSON = 0
    BASE = 1
    """Also whoever sends frames that are not ours."""
    REMINDER = 2
    """Something to be done in its time, with nothing wrong yet."""


class Left(IntEnum):
    """Within which time it wants its answer."""

    AT_ONCE = 0
    ONE_MIN = 1
    TWO_MIN = 2
    FIVE_MIN = 3
    BEFORE_ENTRY = 4
    AFTER_USE = 5


LEFT_WORDS = {
    Left.AT_ONCE: "at once",
    Left.ONE_MIN: "1 min",
    Left.TWO_MIN: "2 min",
    Left.FIVE_MIN: "5 min",
    Left.BEFORE_ENTRY: "before entry",
    Left.AFTER_USE: "after use",
}


class Life(IntEnum):
    """What it means for a life, the worst first; what the base can no longer do, likewise."""

    DOWN = 0
    """Somebody cannot help themselves, or calls."""
    LEAK = 1
    """Air ends, and nobody can breathe more slowly to make it last."""
    AIR_ENDS = 2
    """A cylinder will be empty."""
    PERHAPS_DOWN = 3
    """Several, or somebody, may be down; nobody knows."""
    IN_DANGER = 4
    """Somebody is where all are told to leave, or does not know it."""
    UNSEEN = 5
    """Somebody of whom no alarm would be seen. Of the base: nobody is heard."""
    WAY_BACK = 6
    """The air will not last for the way back. Of the base: the screen, the time."""
    UNKNOWN = 7
    """A figure or its origin is in doubt. Of the base: the record."""
    RULE = 8
    """Nobody could help if something happened. Of the base: the sound."""
    LATER = 9
    """It counts at the next use."""


LIFE_WORDS = {
    Life.DOWN: "somebody down, or calling",
    Life.LEAK: "air runs out of the set",
    Life.AIR_ENDS: "air ends",
    Life.PERHAPS_DOWN: "perhaps down",
    Life.IN_DANGER: "where all must leave",
    Life.UNSEEN: "unseen",
    Life.WAY_BACK: "no air for the way back",
    Life.UNKNOWN: "in doubt",
    Life.RULE: "nobody to help",
    Life.LATER: "later",
}


class Rank(NamedTuple):
    """One row of the table."""

    about: About
    left: Left
    life: Life
    why: str
    """The reason for this place."""
    as_danger: Left | None = None
    """Time to act once it has become a danger, where the catalogue has it less urgent."""
    by_air: bool = False
    """A danger whose time to act is the air that is left, where that is known."""


_PERSON, _BASE, _REMINDER = About

RANKING: dict[Kind, Rank] = {
    Kind.DISTRESS: Rank(_PERSON, Left.AT_ONCE, Life.DOWN, "calls for help, and is heard"),
    Kind.MOTION_ALARM: Rank(_PERSON, Left.AT_ONCE, Life.DOWN, "cannot call any more"),
    Kind.STILL_THEN_SILENT: Rank(
        _PERSON, Left.AT_ONCE, Life.DOWN, "was going still when the radio stopped"
    ),
    Kind.LOSS_OF_PRESSURE: Rank(
        _PERSON, Left.AT_ONCE, Life.LEAK, "may go faster any moment", by_air=True
    ),
    Kind.LOW_AIR: Rank(_PERSON, Left.ONE_MIN, Life.AIR_ENDS, "breathes the reserve", by_air=True),
    Kind.OVERDUE: Rank(
        _PERSON, Left.ONE_MIN, Life.AIR_ENDS, "breathes the reserve, unheard", by_air=True
    ),
    Kind.SEVERAL_SILENT: Rank(_PERSON, Left.AT_ONCE, Life.PERHAPS_DOWN, "a collapse looks just so"),
    Kind.CREW_SILENT: Rank(
        _PERSON, Left.AT_ONCE, Life.PERHAPS_DOWN, "nobody of them is left to call for the others"
    ),
    Kind.UNPROVEN_DISTRESS: Rank(
        _PERSON,
        Left.AT_ONCE,
        Life.PERHAPS_DOWN,
        "perhaps recorded, and perhaps somebody calls",
    ),
    Kind.PRE_ALARM: Rank(
        _PERSON, Left.ONE_MIN, Life.PERHAPS_DOWN, "goes still; again and again it is no rest"
    ),
    Kind.WENT_IN: Rank(
        _PERSON, Left.AT_ONCE, Life.IN_DANGER, "each second takes them further into it"
    ),
    Kind.ORDER_UNANSWERED: Rank(
        _PERSON,
        Left.ONE_MIN,
        Life.IN_DANGER,
        "does not know that all must leave",
        as_danger=Left.AT_ONCE,
    ),
    Kind.ORDER_NOT_OUT: Rank(
        _PERSON, Left.ONE_MIN, Life.IN_DANGER, "knows it, and something holds them"
    ),
    Kind.ROLL_CALL: Rank(_PERSON, Left.ONE_MIN, Life.IN_DANGER, "who is missing is not known"),
    Kind.NO_SIGNAL: Rank(
        _PERSON, Left.ONE_MIN, Life.UNSEEN, "may be down, and nobody would see it", by_air=True
    ),
    Kind.NO_WORD: Rank(
        _PERSON, Left.TWO_MIN, Life.UNSEEN, "may be down; the last word is old", by_air=True
    ),
    Kind.PACK_OFF: Rank(
        _PERSON, Left.TWO_MIN, Life.UNSEEN, "was shut down in order, so most likely by the wearer"
    ),
    Kind.SAME_IDENTITY: Rank(
        _PERSON, Left.TWO_MIN, Life.UNSEEN, "whose alarms these are is not known"
    ),
    Kind.COUNTER_LOST: Rank(
        _PERSON, Left.ONE_MIN, Life.UNSEEN, "is heard by what it warns of, and by nothing else"
    ),
    Kind.HELD_BACK: Rank(
        _PERSON, Left.TWO_MIN, Life.UNSEEN, "may be down; what comes is old", by_air=True
    ),
    Kind.RESTARTING: Rank(_PERSON, Left.TWO_MIN, Life.UNSEEN, "an alarm of theirs may get lost"),
    Kind.STRANGERS: Rank(
        _PERSON, Left.TWO_MIN, Life.PERHAPS_DOWN, "perhaps somebody calls, nobody of this board"
    ),
    Kind.IN_USE: Rank(_PERSON, Left.TWO_MIN, Life.UNSEEN, "breathes, and nobody would miss them"),
    Kind.TURN_BACK: Rank(
        _PERSON,
        Left.ONE_MIN,
        Life.WAY_BACK,
        "each minute further in costs two; late, it costs the reserve",
        by_air=True,
    ),
    Kind.GAUGE: Rank(_PERSON, Left.TWO_MIN, Life.UNKNOWN, "less air than shown is possible"),
    Kind.NOT_PROVEN: Rank(_PERSON, Left.TWO_MIN, Life.UNKNOWN, "is heard, perhaps not live"),
    Kind.NOT_ON_AIR: Rank(_PERSON, Left.TWO_MIN, Life.UNKNOWN, "breathes with no clock running"),
    Kind.ALONE: Rank(_PERSON, Left.TWO_MIN, Life.RULE, "well, with nobody beside them"),
    Kind.BATTERY_FLAT: Rank(
        _PERSON, Left.FIVE_MIN, Life.UNSEEN, "is heard well, and soon not at all"
    ),
    Kind.SLOW_REPORTS: Rank(
        _PERSON, Left.FIVE_MIN, Life.UNKNOWN, "is heard, and each figure is old when it comes"
    ),
    Kind.NO_STANDBY: Rank(_PERSON, Left.FIVE_MIN, Life.RULE, "all well, with nobody to send"),
    Kind.TOO_MANY: Rank(_PERSON, Left.FIVE_MIN, Life.LATER, "all well, with too much to watch"),
    Kind.RECEIVER_DOWN: Rank(
        _BASE,
        Left.ONE_MIN,
        Life.UNSEEN,
        "what is not heard is not shown; deaf on all links, nobody is seen",
        as_danger=Left.AT_ONCE,
    ),
    Kind.NO_BOARD: Rank(_BASE, Left.AT_ONCE, Life.WAY_BACK, "alarms are heard and not read"),
    Kind.TIME_UNKNOWN: Rank(_BASE, Left.AT_ONCE, Life.WAY_BACK, "every estimate is in doubt"),
    Kind.KEYS_LOST: Rank(_BASE, Left.ONE_MIN, Life.UNKNOWN, "no order reaches a pack; voice does"),
    Kind.DISK: Rank(
        _BASE,
        Left.FIVE_MIN,
        Life.UNKNOWN,
        "the record suffers, nobody inside does",
        as_danger=Left.ONE_MIN,
    ),
    Kind.PACKETS_LOST: Rank(
        _BASE, Left.TWO_MIN, Life.UNSEEN, "some of what packs say is not heard; they say it again"
    ),
    Kind.SOUND: Rank(_BASE, Left.TWO_MIN, Life.RULE, "the screen carries every alarm alone"),
    Kind.FOREIGN_FRAMES: Rank(_BASE, Left.FIVE_MIN, Life.LATER, "none of them is let in"),
    Kind.GAUGE_DUE: Rank(_REMINDER, Left.TWO_MIN, Life.UNSEEN, "no word comes next"),
    Kind.THIRDS: Rank(_REMINDER, Left.TWO_MIN, Life.WAY_BACK, "the crew minds its own gauges"),
    Kind.RELIEF: Rank(_REMINDER, Left.FIVE_MIN, Life.RULE, "air and rest are watched apart"),
    Kind.FILL_LOW: Rank(_REMINDER, Left.BEFORE_ENTRY, Life.WAY_BACK, "is not in yet"),
    Kind.REST: Rank(_REMINDER, Left.BEFORE_ENTRY, Life.RULE, "is not in yet, and not short of air"),
    Kind.CLOCK_WRONG: Rank(
        _REMINDER, Left.AFTER_USE, Life.UNKNOWN, "is heard as long as it hears beacons"
    ),
    Kind.BATTERY_LOW: Rank(_REMINDER, Left.AFTER_USE, Life.UNSEEN, "lasts for this use"),
    Kind.LEFT_ON: Rank(_REMINDER, Left.AFTER_USE, Life.LATER, "nobody breathes from it"),
}
"""Every kind's place. Common practice throughout: no published table is known; ORDER-PAIRS.md
has pairs judged apart from it."""

AIR_STEPS_S = (90, 180, 270, 360, 540, 720, 1080, 1440)
"""Air that is left counts in these steps: halves of the three below, and further on as widely."""
_LEFT_OF_AIR_S = (180, 360, 720)
"""Up to 3, 6, 12 min of air: at once, 1 min, 2 min; with more: 5 min. Three minutes are what a
call, an answer and the first steps take, each further step is twice as long; common practice."""


class Place(NamedTuple):
    """Where an alarm stands: the lesser, the higher."""

    about: About
    priority: Priority
    taken: bool
    left: Left
    life: Life
    air_step: int
    """Index in ``AIR_STEPS_S``, one more than the last beyond it or unknown."""
    raised_ns: int
    """The older, the less time is left of what nobody can measure."""
    number: int


def left_of(rank: Rank, priority: Priority, air_s: int | None) -> Left:
    """How long there is to act. ``air_s``: seconds until empty at the earliest; None: unknown."""
    if priority is not Priority.DANGER:
        return rank.left
    if rank.by_air and air_s is not None:
        return Left(bisect_left(_LEFT_OF_AIR_S, air_s))
    return rank.left if rank.as_danger is None else rank.as_danger


def place_of(
    kind: Kind, priority: Priority, air_s: int | None, *, taken: bool, raised_ns: int, number: int
) -> Place:
    """Where an alarm stands among others; ``taken`` false for all: which is the worst."""
    rank = RANKING[kind]
    step = len(AIR_STEPS_S)
    if rank.by_air and air_s is not None:
        step = bisect_left(AIR_STEPS_S, air_s)
    left = left_of(rank, priority, air_s)
    return Place(rank.about, priority, taken, left, rank.life, step, raised_ns, number)


def within(kind: Kind) -> str:
    """Within which time an alarm wants its answer, in words."""
    rank = RANKING[kind]
    words = LEFT_WORDS[rank.left]
    if rank.as_danger is not None:
        words += f"; as a danger {LEFT_WORDS[rank.as_danger]}"
    return words
