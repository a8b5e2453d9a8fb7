"""Which alarm stands first: one table for every kind, with the reason. Pure.

Ranked by what it is about, then how soon it wants an answer, then what it means for a life, then
age. A person comes before the base, and the base before reminders, whatever their priorities: a
full disk costs nobody their life who could be fetched meanwhile. Among the equal, what nobody has
taken comes first, and what is over comes after what is not; a wearer's own line asks for the worst
and not for what is taken.

How long there is to act stands in the table. Where air decides, and a danger's air is known, the
minutes until that cylinder is empty at the earliest take its place: three minutes of air are as
urgent as a call for help, whichever alarm tells of them, and the last minute and a half of air that
was read stands above it: a call of seconds (a mate, another supply) comes first, because after it
there is none. Air that is only reckoned never does. They count in steps, so that lines do not
change places with every reading.

Where whoever it is about is noted at the door, some alarms mean less: a set laid down lies still.
"""

from bisect import bisect_left
from collections.abc import Collection
from enum import IntEnum
from typing import NamedTuple

from monitor.incident.alarms.entry import Kind
from monitor.incident.picture import Phase, Priority


class About(IntEnum):
    """Whom or what an alarm is about."""

    PERSON = 0
    BASE = 1
    """Also whoever sends frames that are not ours."""
    REMINDER = 2
    """Something to be done in its time, with nothing wrong yet."""


class Left(IntEnum):
    """Within which time it wants its answer."""

    SECONDS = 0
    AT_ONCE = 1
    ONE_MIN = 2
    TWO_MIN = 3
    FIVE_MIN = 4
    BEFORE_ENTRY = 5
    AFTER_USE = 6


LEFT_WORDS = {
    Left.SECONDS: "seconds",
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
    LIKELY_DOWN = 1
    """The same, by what was seen of them last."""
    LEAK = 2
    """Air ends, and nobody can breathe more slowly to make it last."""
    AIR_ENDS = 3
    """A cylinder will be empty."""
    PERHAPS_DOWN = 4
    """Somebody may be down; nobody knows."""
    SILENT = 5
    """Several at once of whom nobody knows."""
    IN_DANGER = 6
    """Somebody is where all are told to leave, or does not know it."""
    UNSEEN = 7
    """Somebody of whom no alarm would be seen. Of the base: nobody is heard."""
    WAY_BACK = 8
    """The air will not last for the way back. Of the base: the screen, the time."""
    UNKNOWN = 9
    """A figure or its origin is in doubt. Of the base: the record."""
    RULE = 10
    """Nobody could help if something happened. Of the base: the sound."""
    LATER = 11
    """It counts at the next use."""


LIFE_WORDS = {
    Life.DOWN: "somebody down, or calling",
    Life.LIKELY_DOWN: "most likely down",
    Life.LEAK: "air runs out of the set",
    Life.AIR_ENDS: "air ends",
    Life.PERHAPS_DOWN: "perhaps down",
    Life.SILENT: "several silent",
    Life.IN_DANGER: "where all must leave",
    Life.UNSEEN: "unseen",
    Life.WAY_BACK: "no air for the way back",
    Life.UNKNOWN: "in doubt",
    Life.RULE: "nobody to help",
    Life.LATER: "later",
}


class ByAir(NamedTuple):
    """A danger whose time to act is the air that is left, where that is known."""

    soonest: Left
    latest: Left


_READ = ByAir(Left.SECONDS, Left.FIVE_MIN)
_MARGIN = ByAir(Left.AT_ONCE, Left.FIVE_MIN)
_RECKONED = ByAir(Left.AT_ONCE, Left.TWO_MIN)
"""Nobody hears them, so to find them takes from the air that is reckoned; and it is only that."""


class AtDoor(NamedTuple):
    """What a row means while everybody it is about is noted in one of these phases."""

    phases: frozenset[Phase]
    left: Left
    life: Life
    why: str


NOTED_OUT = frozenset({Phase.OUT, Phase.OFF_AIR})
_NOT_IN = NOTED_OUT | {Phase.CHECKED_IN}


class Rank(NamedTuple):
    """One row of the table."""

    about: About
    left: Left
    life: Life
    why: str
    """The reason for this place."""
    as_danger: Left | None = None
    """Time to act once it has become a danger, where the catalogue has it less urgent."""
    by_air: ByAir | None = None
    at_door: AtDoor | None = None


_PERSON, _BASE, _REMINDER = About

RANKING: dict[Kind, Rank] = {
    Kind.DISTRESS: Rank(_PERSON, Left.AT_ONCE, Life.DOWN, "calls for help, and is heard"),
    Kind.MOTION_ALARM: Rank(
        _PERSON,
        Left.AT_ONCE,
        Life.DOWN,
        "cannot call any more",
        at_door=AtDoor(
            NOTED_OUT, Left.TWO_MIN, Life.PERHAPS_DOWN, "a set laid down, or a wrong note"
        ),
    ),
    Kind.STILL_THEN_SILENT: Rank(
        _PERSON, Left.AT_ONCE, Life.LIKELY_DOWN, "was going still when the radio stopped"
    ),
    Kind.LOSS_OF_PRESSURE: Rank(
        _PERSON, Left.AT_ONCE, Life.LEAK, "may go faster any moment", by_air=_READ
    ),
    Kind.LOW_AIR: Rank(
        _PERSON,
        Left.ONE_MIN,
        Life.AIR_ENDS,
        "breathes the reserve",
        by_air=_READ,
        at_door=AtDoor(NOTED_OUT, Left.FIVE_MIN, Life.UNKNOWN, "a set bled, or a wrong note"),
    ),
    Kind.OVERDUE: Rank(
        _PERSON, Left.ONE_MIN, Life.AIR_ENDS, "breathes the reserve, unheard", by_air=_RECKONED
    ),
    Kind.SEVERAL_SILENT: Rank(_PERSON, Left.AT_ONCE, Life.SILENT, "a collapse looks just so"),
    Kind.CREW_SILENT: Rank(
        _PERSON, Left.AT_ONCE, Life.SILENT, "nobody of them is left to call for the others"
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
        _PERSON, Left.ONE_MIN, Life.UNSEEN, "may be down, and nobody would see it", by_air=_RECKONED
    ),
    Kind.NO_WORD: Rank(
        _PERSON, Left.TWO_MIN, Life.UNSEEN, "may be down; the last word is old", by_air=_RECKONED
    ),
    Kind.PACK_OFF: Rank(
        _PERSON, Left.TWO_MIN, Life.UNSEEN, "was shut down in order, so most likely by the wearer"
    ),
    Kind.SAME_IDENTITY: Rank(
        _PERSON,
        Left.TWO_MIN,
        Life.UNSEEN,
        "whose alarms these are is not known",
        at_door=AtDoor(_NOT_IN, Left.FIVE_MIN, Life.UNKNOWN, "is in view; take another set"),
    ),
    Kind.COUNTER_LOST: Rank(
        _PERSON,
        Left.ONE_MIN,
        Life.UNSEEN,
        "is heard by what it warns of, and by nothing else",
        at_door=AtDoor(_NOT_IN, Left.FIVE_MIN, Life.UNKNOWN, "is in view; enrol the pack again"),
    ),
    Kind.HELD_BACK: Rank(
        _PERSON, Left.TWO_MIN, Life.UNSEEN, "may be down; what comes is old", by_air=_RECKONED
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
        by_air=_MARGIN,
    ),
    Kind.GAUGE: Rank(_PERSON, Left.TWO_MIN, Life.UNKNOWN, "less air than shown is possible"),
    Kind.NOT_PROVEN: Rank(_PERSON, Left.TWO_MIN, Life.UNKNOWN, "is heard, perhaps not live"),
    Kind.NOT_ON_AIR: Rank(_PERSON, Left.TWO_MIN, Life.UNKNOWN, "breathes with no clock running"),
    Kind.OUT_BREATHES: Rank(
        _PERSON, Left.TWO_MIN, Life.UNKNOWN, "is perhaps in, and counted by nobody"
    ),
    Kind.ALONE: Rank(_PERSON, Left.TWO_MIN, Life.RULE, "well, with nobody beside them"),
    Kind.BATTERY_FLAT: Rank(
        _PERSON, Left.FIVE_MIN, Life.UNSEEN, "is heard well, and soon not at all"
    ),
    Kind.MOTION_UNSEEN: Rank(
        _PERSON, Left.FIVE_MIN, Life.UNSEEN, "breathes by the gauge; would lie still unseen"
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
        "the record suffers, nobody inside does; paper takes its place",
        as_danger=Left.TWO_MIN,
    ),
    Kind.BASE_POWER: Rank(
        _BASE,
        Left.FIVE_MIN,
        Life.UNSEEN,
        "all is heard still; soon nobody would be",
        as_danger=Left.ONE_MIN,
    ),
    Kind.PACKETS_LOST: Rank(
        _BASE, Left.TWO_MIN, Life.UNSEEN, "some of what packs say is not heard; they say it again"
    ),
    Kind.SOUND: Rank(_BASE, Left.TWO_MIN, Life.RULE, "the screen carries every alarm alone"),
    Kind.FOREIGN_FRAMES: Rank(_BASE, Left.FIVE_MIN, Life.LATER, "none of them is let in"),
    Kind.GAUGE_DUE: Rank(_REMINDER, Left.TWO_MIN, Life.UNSEEN, "no word comes next"),
    Kind.RADIO_CHECK: Rank(
        _REMINDER, Left.TWO_MIN, Life.UNKNOWN, "is seen by telemetry; only the voice is due"
    ),
    Kind.THIRDS: Rank(_REMINDER, Left.TWO_MIN, Life.WAY_BACK, "the crew minds its own gauges"),
    Kind.BACK_DUE: Rank(_REMINDER, Left.FIVE_MIN, Life.UNSEEN, "most likely at the door already"),
    Kind.TURN_SOON: Rank(_REMINDER, Left.TWO_MIN, Life.WAY_BACK, "has not come to it yet"),
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
has pairs judged apart from it, ORDER-PAIRS-BY-ANOTHER.md those of another hand."""

AIR_STEPS_S = (90, 180, 270, 360, 540, 720, 1080, 1440)
"""Air that is left counts in these steps: halves of the four below, and further on as widely."""
_LEFT_OF_AIR_S = (90, 180, 360, 720)
"""Up to 90 s of air: seconds; up to 3, 6, 12 min: at once, 1 min, 2 min; with more: 5 min. Three
minutes are what a call, an answer and the first steps take, each further step is twice as long;
common practice."""


class Known(NamedTuple):
    """What is known of whom an alarm is about, as far as its row asks for it."""

    air_s: int | None = None
    """Seconds until their air is used up, at the earliest; None: unknown."""
    phases: Collection[Phase] = ()
    """Where all of them are noted to be; none for the base and a pack that nobody has."""
    past: bool = False
    """It is over, and only waits to be taken or reset."""


NOTHING = Known()


class Place(NamedTuple):
    """Where an alarm stands: the lesser, the higher."""

    about: About
    priority: Priority
    taken: bool
    past: bool
    left: Left
    life: Life
    air_step: int
    """Index in ``AIR_STEPS_S``, one more than the last beyond it or unknown."""
    raised_ns: int
    """The older, the less time is left of what nobody can measure."""
    number: int


def at_door_of(rank: Rank, phases: Collection[Phase]) -> AtDoor | None:
    """What the row means where all whom it is about are noted at the door; None: they are not."""
    at_door = rank.at_door
    if at_door is None or not phases or not at_door.phases.issuperset(phases):
        return None
    return at_door


def left_of(rank: Rank, priority: Priority, air_s: int | None) -> Left:
    """How long there is to act. ``air_s``: seconds until empty at the earliest; None: unknown."""
    if priority is not Priority.DANGER:
        return rank.left
    if rank.by_air is not None and air_s is not None:
        by_air = Left(bisect_left(_LEFT_OF_AIR_S, air_s))
        return min(max(by_air, rank.by_air.soonest), rank.by_air.latest)
    return rank.left if rank.as_danger is None else rank.as_danger


def place_of(
    kind: Kind, priority: Priority, known: Known, *, taken: bool, raised_ns: int, number: int
) -> Place:
    """Where an alarm stands among others; ``taken`` false for all: which is the worst."""
    rank = RANKING[kind]
    at_door = at_door_of(rank, known.phases)
    step = len(AIR_STEPS_S)
    if at_door is not None:
        left, life = at_door.left, at_door.life
    else:
        left, life = left_of(rank, priority, known.air_s), rank.life
        if rank.by_air is not None and known.air_s is not None:
            step = bisect_left(AIR_STEPS_S, known.air_s)
    return Place(rank.about, priority, taken, known.past, left, life, step, raised_ns, number)


def within(kind: Kind) -> str:
    """Within which time an alarm wants its answer, in words, and what it is sorted by."""
    rank = RANKING[kind]
    words = LEFT_WORDS[rank.left]
    if rank.as_danger is not None:
        words += f"; as a danger {LEFT_WORDS[rank.as_danger]}"
    if rank.by_air is not None:
        words += "; a danger stands by the air left, where that is known"
    if rank.at_door is not None:
        words += f"; at the door {LEFT_WORDS[rank.at_door.left]}"
    return words
