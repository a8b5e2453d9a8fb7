"""What a row of the alarm catalogue is."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.incident.picture import Priority

ASIDE_MINUTES_MAX = 30
"""The longest for which an alarm may be put aside: about one wear (our own choice)."""


class Kind(StrEnum):
    """Names of the rows; what the journal and the screens carry."""

    DISTRESS = "distress"
    MOTION_ALARM = "motion_alarm"
    STILL_THEN_SILENT = "still_then_silent"
    LOSS_OF_PRESSURE = "loss_of_pressure"
    LOW_AIR = "low_air"
    OVERDUE = "overdue"
    PACK_OFF = "pack_off"
    TURN_BACK = "turn_back"
    TURN_SOON = "turn_soon"
    GAUGE = "gauge"
    FILL_LOW = "fill_low"
    SAME_IDENTITY = "same_identity"
    COUNTER_LOST = "counter_lost"
    STRANGERS = "strangers"
    RESTARTING = "restarting"
    CLOCK_WRONG = "clock_wrong"
    HELD_BACK = "held_back"
    TIME_UNKNOWN = "time_unknown"
    KEYS_LOST = "keys_lost"
    RECEIVER_DOWN = "receiver_down"
    DISK = "disk"
    SOUND = "sound"
    NO_BOARD = "no_board"
    SEVERAL_SILENT = "several_silent"
    CREW_SILENT = "crew_silent"
    NO_SIGNAL = "no_signal"
    NO_WORD = "no_word"
    UNPROVEN_DISTRESS = "unproven_distress"
    ORDER_UNANSWERED = "order_unanswered"
    ORDER_NOT_OUT = "order_not_out"
    WENT_IN = "went_in"
    ROLL_CALL = "roll_call"
    NOT_PROVEN = "not_proven"
    PACKETS_LOST = "packets_lost"
    FOREIGN_FRAMES = "foreign_frames"
    PRE_ALARM = "pre_alarm"
    BATTERY_LOW = "battery_low"
    BATTERY_FLAT = "battery_flat"
    SLOW_REPORTS = "slow_reports"
    IN_USE = "in_use"
    NOT_ON_AIR = "not_on_air"
    ALONE = "alone"
    NO_STANDBY = "no_standby"
    REST = "rest"
    BACK_DUE = "back_due"
    THIRDS = "thirds"
    GAUGE_DUE = "gauge_due"
    LEFT_ON = "left_on"
    MOTION_UNSEEN = "motion_unseen"
    OUT_BREATHES = "out_breathes"
    RADIO_CHECK = "radio_check"
    BASE_POWER = "base_power"
    TOO_MANY = "too_many"
    RELIEF = "relief"


class Scope(StrEnum):
    """When a fact is an alarm."""

    ANY = "any phase"
    ENTERED = "entered"
    NOT_OUT = "under air, not seen at the door"
    CHECKED_IN = "checked in"
    AT_DOOR = "checked in or on air, not entered"
    UNDER_AIR = "under air"
    OFF_AIR = "off air"
    NOTED_OUT = "noted out, or off air"
    NOT_JOINED = "joined to nobody"
    BASE = "the base itself"


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
    source: str
    """Where the threshold or the rule comes from."""
    aside_minutes: int = ASIDE_MINUTES_MAX
    """For how long at most, where it may be put aside."""
    off_delay_s: int = 0
    """How long its condition must be over before the alarm is: what flickers is one alarm."""
    dead_band: float = 0
    """How far past its limit, in the limit's unit, a value must be before the alarm is over."""
    steady: str = ""
    """Why it has an off-delay or a dead band, and of that length."""
    to_do_out: str = ""
    """The same for somebody who is noted out; empty: no other."""
    word_all: str = ""
    to_do_all: str = ""
    """What it is called, and what to do, once it is about everybody under air; empty: no other."""
