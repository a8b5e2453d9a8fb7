"""One row an alarm: what it means, when it counts, how it ends, what to do.

Danger, caution and notice are the three priorities. ``scope`` says in which phase of a wear the
same fact is an alarm; outside it the fact is a check result or nothing (a warning tried out at the
door does not alarm).
"""

from dataclasses import dataclass
from enum import StrEnum

from monitor.incident.picture import Phase, Priority


class Kind(StrEnum):
    """Names of the rows; what the journal and the screens carry."""

    DISTRESS = "distress"
    MOTION_ALARM = "motion_alarm"
    STILL_THEN_SILENT = "still_then_silent"
    LOW_AIR = "low_air"
    OVERDUE = "overdue"
    PACK_OFF = "pack_off"
    SAME_IDENTITY = "same_identity"
    TIME_UNKNOWN = "time_unknown"
    RECEIVER_DOWN = "receiver_down"
    DISK = "disk"
    SOUND = "sound"
    NO_BOARD = "no_board"
    SEVERAL_SILENT = "several_silent"
    NO_SIGNAL = "no_signal"
    NO_WORD = "no_word"
    UNPROVEN_DISTRESS = "unproven_distress"
    NOT_PROVEN = "not_proven"
    FOREIGN_FRAMES = "foreign_frames"
    PRE_ALARM = "pre_alarm"
    BATTERY_LOW = "battery_low"


class Scope(StrEnum):
    """When a fact is an alarm."""

    ANY = "any phase"
    ENTERED = "entered"
    UNDER_AIR = "under air"
    BASE = "the base itself"


UNDER_AIR_PHASES = frozenset({Phase.ON_AIR, Phase.ENTERED, Phase.OUT})
"""Breathing from the set: the air clock runs until off air."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the catalogue."""

    kind: Kind
    word: str
    """On the alarm line. Shown in capitals as danger or caution, as written as a notice."""
    row_word: str
    """On the wearer's own line, at most 13 characters."""
    priority: Priority
    """When raised; some become more urgent."""
    scope: Scope
    latches: bool
    """Stays after its condition has gone, until reset with a reason."""
    key_needed: bool
    """False: goes by itself, taken or not."""
    may_be_shelved: bool
    raised: str
    clears: str
    to_do: str
    """In the imperative, for the alarm line."""
    consequence: str
    """What happens if nobody acts."""
    respond_within: str
    source: str
    """Where the threshold or the rule comes from."""


_CALL = "Call the crew. Emergency crew. Tell command."

_ENTRIES = (
    Entry(
        kind=Kind.DISTRESS,
        word="distress",
        row_word="distress",
        priority=Priority.DANGER,
        scope=Scope.ANY,
        latches=True,
        key_needed=True,
        may_be_shelved=False,
        raised="the wearer's button",
        clears="reset with a reason, once the pack no longer says it",
        to_do=_CALL,
        consequence="a wearer in trouble stays without help",
        respond_within="at once",
        source="BS 8608:2014 clause 5: indication at the destination within 5 s",
    ),
    Entry(
        kind=Kind.MOTION_ALARM,
        word="motion alarm",
        row_word="motion alarm",
        priority=Priority.DANGER,
        scope=Scope.ENTERED,
        latches=True,
        key_needed=True,
        may_be_shelved=False,
        raised="the pack's full motion alarm",
        clears="reset with a reason, once the pack no longer says it",
        to_do=_CALL,
        consequence="a wearer who does not move stays without help",
        respond_within="at once",
        source="the pack's own sensor; 30 s without motion is common practice",
    ),
    Entry(
        kind=Kind.STILL_THEN_SILENT,
        word="no movement, then silent",
        row_word="still, silent",
        priority=Priority.DANGER,
        scope=Scope.ENTERED,
        latches=True,
        key_needed=True,
        may_be_shelved=False,
        raised="the pack's motion pre-alarm, then nothing genuine for the procedure's time, or a "
        "pack that starts anew",
        clears="reset with a reason, once the pack is heard again",
        to_do=_CALL,
        consequence="a motion alarm that the radio lost is taken for a lost signal",
        respond_within="at once",
        source="the procedure: pre_alarm_silence_s",
    ),
    Entry(
        kind=Kind.LOW_AIR,
        word="low air",
        row_word="low air",
        priority=Priority.DANGER,
        scope=Scope.UNDER_AIR,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="at or under the cylinder's low-air value, or the pack's own flag",
        clears="new cylinder, off air",
        to_do="Crew out now. Confirm that they are moving.",
        consequence="a wearer runs out of air inside",
        respond_within="1 min",
        source="the pack's own value, else the procedure: low_air_fraction",
    ),
    Entry(
        kind=Kind.OVERDUE,
        word="overdue",
        row_word="overdue",
        priority=Priority.DANGER,
        scope=Scope.UNDER_AIR,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="the falling estimate has reached the low-air value with no reading since",
        clears="a reading above it, off air",
        to_do="Call for the gauge. Then emergency crew.",
        consequence="a wearer runs out of air inside with nobody knowing",
        respond_within="1 min",
        source="the procedure: projection_rate_l_min",
    ),
    Entry(
        kind=Kind.PACK_OFF,
        word="pack off, wearer in",
        row_word="pack off",
        priority=Priority.DANGER,
        scope=Scope.UNDER_AIR,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="the pack signed off while its wearer is under air",
        clears="heard, off air",
        to_do="Call the crew leader.",
        consequence="a wearer without any alarm of their own",
        respond_within="1 min",
        source="common practice",
    ),
    Entry(
        kind=Kind.SAME_IDENTITY,
        word="two packs with one identity",
        row_word="two packs",
        priority=Priority.DANGER,
        scope=Scope.ANY,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="a genuine frame whose boot counter or number went back",
        clears="enrolled again",
        to_do="Find both packs. Values shown are not live.",
        consequence="one wearer's state is shown for another",
        respond_within="2 min",
        source="RFC 4303 3.4.3, kept over power-off by the boot counter",
    ),
    Entry(
        kind=Kind.TIME_UNKNOWN,
        word="time unknown",
        row_word="time unknown",
        priority=Priority.DANGER,
        scope=Scope.BASE,
        latches=True,
        key_needed=True,
        may_be_shelved=False,
        raised="no clock could say how long the recorder was away",
        clears="reset with a reason, after new gauge readings",
        to_do="Ask every crew for gauge readings.",
        consequence="every time and estimate may be too good",
        respond_within="at once",
        source="common practice",
    ),
    Entry(
        kind=Kind.RECEIVER_DOWN,
        word="receiver down",
        row_word="receiver down",
        priority=Priority.CAUTION,
        scope=Scope.BASE,
        latches=False,
        key_needed=True,
        may_be_shelved=True,
        raised="a link failed; danger when no link is left",
        clears="the link is up again",
        to_do="Check cable and port. Voice and paper.",
        consequence="packs are not heard",
        respond_within="1 min",
        source="common practice",
    ),
    Entry(
        kind=Kind.DISK,
        word="disk",
        row_word="disk",
        priority=Priority.CAUTION,
        scope=Scope.BASE,
        latches=False,
        key_needed=True,
        may_be_shelved=True,
        raised="the disk is over 2 s behind, or short of room; danger when full, failing or gone",
        clears="the disk is well again",
        to_do="Free space, see to the disk. Alarms go on. Keep the paper board.",
        consequence="what happens now may be missing from the record",
        respond_within="10 min",
        source="common practice",
    ),
    Entry(
        kind=Kind.SOUND,
        word="no sound",
        row_word="no sound",
        priority=Priority.CAUTION,
        scope=Scope.BASE,
        latches=False,
        key_needed=True,
        may_be_shelved=True,
        raised="no sound player, or it died or hung",
        clears="a sound has been played",
        to_do="Boards ring their bell: watch them. See to player and loudspeaker.",
        consequence="alarms are not heard away from the screen",
        respond_within="2 min",
        source="common practice",
    ),
    Entry(
        kind=Kind.NO_BOARD,
        word="no board alive",
        row_word="no board",
        priority=Priority.DANGER,
        scope=Scope.BASE,
        latches=False,
        key_needed=False,
        may_be_shelved=False,
        raised="somebody under air and no board has drawn for 3 s, or none was ever there",
        clears="a board draws again, nobody under air",
        to_do="Go to a board, or open one. Voice and paper until then.",
        consequence="alarms are heard at best, and nobody sees whose they are",
        respond_within="at once",
        source="three beats of a board, one a second",
    ),
    Entry(
        kind=Kind.SEVERAL_SILENT,
        word="no signal, several",
        row_word="no signal",
        priority=Priority.DANGER,
        scope=Scope.UNDER_AIR,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="three or more packs silent beyond the link rule, whose silence began together",
        clears="fewer than three are silent",
        to_do="Call every crew.",
        consequence="a collapse is taken for a fault of the radio",
        respond_within="at once",
        source="three reports at 5 s apart count as together; common practice",
    ),
    Entry(
        kind=Kind.NO_SIGNAL,
        word="no signal",
        row_word="no signal",
        priority=Priority.CAUTION,
        scope=Scope.UNDER_AIR,
        latches=False,
        key_needed=True,
        may_be_shelved=True,
        raised="silent beyond the link rule; danger once the estimate reaches the low-air value",
        clears="heard, by voice",
        to_do="Call. Note the gauge reading.",
        consequence="alarms of this wearer would not be seen",
        respond_within="2 min",
        source="the link rule: nine intervals, held between 30 and 90 s and the procedure's limit",
    ),
    Entry(
        kind=Kind.NO_WORD,
        word="no word",
        row_word="no word",
        priority=Priority.CAUTION,
        scope=Scope.UNDER_AIR,
        latches=False,
        key_needed=True,
        may_be_shelved=True,
        raised="no telemetry and no gauge reading by voice within the procedure's limit; "
        "danger once the estimate reaches the low-air value",
        clears="a reading",
        to_do="Call for gauge and place.",
        consequence="nobody knows this wearer's air",
        respond_within="2 min",
        source="the procedure: spoken_reading_valid_s",
    ),
    Entry(
        kind=Kind.UNPROVEN_DISTRESS,
        word="unproven distress",
        row_word="distress?",
        priority=Priority.CAUTION,
        scope=Scope.ANY,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="a distress, or inside a motion alarm, in a frame that proves nothing of its "
        "origin or its time",
        clears="quiet for a minute",
        to_do="Call this wearer. Take it for true until you know.",
        consequence="a true distress is passed over",
        respond_within="at once",
        source="common practice",
    ),
    Entry(
        kind=Kind.NOT_PROVEN,
        word="not proven live",
        row_word="not proven",
        priority=Priority.CAUTION,
        scope=Scope.ANY,
        latches=False,
        key_needed=True,
        may_be_shelved=True,
        raised="frames for 30 s without an echo of a recent beacon",
        clears="an echo, or quiet for a minute",
        to_do="Call. Values of this pack are not shown as live.",
        consequence="a recording could pass for a wearer",
        respond_within="2 min",
        source="six beacons at one each 5 s",
    ),
    Entry(
        kind=Kind.FOREIGN_FRAMES,
        word="forged or foreign frames",
        row_word="foreign",
        priority=Priority.CAUTION,
        scope=Scope.BASE,
        latches=False,
        key_needed=True,
        may_be_shelved=True,
        raised="frames that fail authentication",
        clears="quiet for a minute",
        to_do="Find the source.",
        consequence="packs of another service, or an attack, go unnoticed",
        respond_within="5 min",
        source="common practice",
    ),
    Entry(
        kind=Kind.PRE_ALARM,
        word="motion pre-alarm",
        row_word="pre-alarm",
        priority=Priority.NOTICE,
        scope=Scope.ENTERED,
        latches=False,
        key_needed=False,
        may_be_shelved=False,
        raised="the pack's motion pre-alarm; caution at the third in 10 min",
        clears="itself",
        to_do="Call if it comes again.",
        consequence="a motion alarm may follow",
        respond_within="10 s to the full alarm",
        source="the pack's own sensor; 20 s without motion is common practice",
    ),
    Entry(
        kind=Kind.BATTERY_LOW,
        word="pack battery low",
        row_word="battery low",
        priority=Priority.NOTICE,
        scope=Scope.ANY,
        latches=False,
        key_needed=False,
        may_be_shelved=True,
        raised="at or under the procedure's value",
        clears="above it",
        to_do="Change the battery after use.",
        consequence="the signal will be lost",
        respond_within="after use",
        source="the procedure: battery_low_percent",
    ),
)

CATALOGUE: dict[Kind, Entry] = {entry.kind: entry for entry in _ENTRIES}


def in_scope(kind: Kind, phase: Phase | None) -> bool:
    """Whether the fact is an alarm for a wearer in this phase; None: a pack nobody has."""
    scope = CATALOGUE[kind].scope
    if scope is Scope.ENTERED:
        return phase is Phase.ENTERED
    if scope is Scope.UNDER_AIR:
        return phase in UNDER_AIR_PHASES
    return True


def line_word(kind: Kind, priority: Priority) -> str:
    """The alarm line's word: capitals for danger and caution."""
    word = CATALOGUE[kind].word
    return word if priority is Priority.NOTICE else word.upper()


def row_word(kind: Kind, priority: Priority) -> str:
    """The same for the wearer's own line."""
    word = CATALOGUE[kind].row_word
    return word if priority is Priority.NOTICE else word.upper()
