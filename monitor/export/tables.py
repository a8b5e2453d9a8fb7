"""What is exported: every table and column, with type, unit and meaning. Pure.

A column's name ends in its unit where it has one; the data dictionary is made from this page of
tables, and each writer takes types and order from it. Names and words are written in full: only
symbols of units stand as such, which are no abbreviations (SI Brochure, 9th edition, 5.2).
"""

from dataclasses import dataclass
from enum import StrEnum


class Type(StrEnum):
    """What a column holds."""

    TEXT = "text"
    INTEGER = "whole number"
    NUMBER = "number"
    TRUTH = "true or false"
    TIME = "date and time"
    """Wall clock, ns since 1970 in a row; written out in Coordinated Universal Time."""


UNITS = {
    "ns": "nanoseconds",
    "s": "seconds",
    "ms": "milliseconds",
    "bar": "bar, gauge pressure",
    "l": "litres",
    "l_min": "litres a minute of free air at 1.01325 bar and 15 degrees Celsius",
    "celsius": "degrees Celsius",
    "percent": "percent",
    "dbm": "decibels over one milliwatt (dBm)",
}
"""By the ending of a column's name: what the unit is."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column. ``unit`` is a key of ``UNITS`` or empty."""

    name: str
    type: Type
    meaning: str
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """One table; a row is a tuple in the order of its columns."""

    name: str
    about: str
    columns: tuple[Column, ...]

    def places(self, kind: Type) -> tuple[int, ...]:
        """Where the columns of one type are."""
        return tuple(i for i, column in enumerate(self.columns) if column.type is kind)


def _text(name: str, meaning: str) -> Column:
    return Column(name, Type.TEXT, meaning)


def _whole(name: str, meaning: str, unit: str = "") -> Column:
    return Column(name, Type.INTEGER, meaning, unit)


def _number(name: str, meaning: str, unit: str) -> Column:
    return Column(name, Type.NUMBER, meaning, unit)


def _truth(name: str, meaning: str) -> Column:
    return Column(name, Type.TRUTH, meaning)


def _time(name: str, meaning: str) -> Column:
    return Column(name, Type.TIME, meaning)


USE = _text("use", "EXERCISE or REAL, in every row of every table")
_ROW = _whole("row", "number of the row in the journal, which is the order of everything")
_AT = (
    USE,
    _ROW,
    _whole("time_ns", "incident time: since the incident was opened", "ns"),
    _time("clock", "what the wall clock of the base showed then"),
)
_DETAILS = _text("details", "everything the journal has of it, as one JSON object")

INCIDENT = Table(
    "incident",
    "One row: what incident this is.",
    (
        USE,
        _text("incident", "unique identity of the incident, 32 hexadecimal digits"),
        _text("name", "name of the incident"),
        _text("place", "where it is"),
        _text("entry_point", "the door this board was at"),
        _text("operation", "joins the incidents of several entry points"),
        _text("stage", "stage or control level, in the words of the procedure"),
        _text("officer", "whose board it was at the opening"),
        _text("procedure", "name of the rules in force"),
        _time("opened", "wall clock at incident time 0"),
        _whole("length_ns", "to the last moment that is in the journal", "ns"),
        _truth("closed", "whether it has ended; false: recording goes on or was cut off"),
        _truth("keyed", "false: frames proved nothing of their origin"),
        _text("recorded_by", "name and version of the recorder"),
        _whole("recorded_rules", "version of the rules that the recorder ran"),
        _text("exported_by", "name and version of the program that wrote these tables"),
        _whole("exported_rules", "version of the rules that made these tables"),
        _whole("rows", "rows of the journal that were read"),
        _text("digest", "running digest of the last commit, 32 hexadecimal digits in groups"),
        _text("left_out", "what of a damaged journal is in no table, and why; empty: nothing"),
        _text("caution", "what these tables are no proof of"),
    ),
)

_STEPS = (
    ("connected", "connecting to air"),
    ("entered", "going into the hazard"),
    ("objective", "reaching the objective, the last one where there were several"),
    ("back", "the start of the way back"),
    ("out", "coming out of the hazard"),
    ("off_air", "the end of breathing from the set"),
)
"""Of a wear, each with its time and pressure."""


def _steps() -> tuple[Column, ...]:
    columns: list[Column] = []
    for name, words in _STEPS:
        columns.append(_time(f"{name}_clock", f"wall clock at {words}"))
        meaning = f"pressure that governed when {words} was logged: a reading, or the estimate"
        columns.append(_number(f"{name}_pressure_bar", meaning, "bar"))
    return tuple(columns)


WEARERS = Table(
    "wearers",
    "One row a wear: one stay on air of one wearer. Whoever was listed and never went on air has "
    "one row without times.",
    (
        USE,
        _whole("wearer", "number on the board; never given twice"),
        _text("name", "name of the wearer"),
        _text("call_sign", "call sign"),
        _text("crew", "crew at the end of the wear"),
        _truth("leader", "whether the wearer led it"),
        _whole("pack", "identity of the set's electronics; empty: no telemetry"),
        _text("apparatus", "kind of breathing apparatus"),
        _number("rated_pressure_bar", "rated pressure of the cylinder", "bar"),
        _number("water_volume_l", "water volume of the cylinder or cylinders together", "l"),
        _number("low_air_value_bar", "where the low-air warning was expected", "bar"),
        _number("turn_back_bar", "where the crew had to start back, as last reckoned", "bar"),
        _number("start_bar", "pressure at connecting that turn-back was reckoned from", "bar"),
        _text("start_from", "how it was come by, in words; empty: it was not known"),
        _text("set", "what is printed on the set, as it was checked in"),
        _text("cylinder", "what is printed on the cylinder"),
        _text("task", "task as last told"),
        _text("brief", "brief as last told"),
        _text("communications", "means of communication as last told"),
        _text("location", "last place told"),
        _text("door", "another door by which the wearer came out; empty: this board's"),
        *_steps(),
        _whole("wearing_time_ns", "from connecting to off air, or to the end of the record", "ns"),
        _number("mean_rate_l_min", "free air breathed on average, as last reckoned", "l_min"),
    ),
)

READINGS = Table(
    "readings",
    "One row a frame that was let through, and one row a wearer of each gauge reading by voice. "
    "Only what is live is the present state of a wearer. Frames kept in short, because no "
    "disk took any and memory was full, have no row here: fact `thinned` in the table of facts has "
    "how many of which pack, and the number, uptime and pressure of the last.",
    (
        *_AT,
        _text("source", "telemetry or voice"),
        _text("kind", "kind of frame; spoken reading, or lowest of several, by voice"),
        _text("standing", "what a frame proves: live; not proven live; held up on its way; old; "
              "old numbers, recent beacon; open distress"),
        _whole("wearer", "who had this pack then; empty: nobody on the board"),
        _whole("pack", "identity of the set's electronics"),
        _whole("link", "number of the link it came by; 0 for none"),
        _whole("signal_dbm", "level at the base radio, where one told it", "dbm"),
        _whole("late_ns", "how far the time lies after the bytes were read", "ns"),
        _whole("boot", "boot counter of the pack"),
        _whole("sequence", "number of the frame since that boot"),
        _whole("uptime_ms", "the pack's own clock since that boot", "ms"),
        _number("pressure_bar", "gauge pressure; empty: the pack does not know", "bar"),
        _whole("gas_temperature_celsius", "temperature of the gas", "celsius"),
        _whole("battery_percent", "what is left in the battery", "percent"),
        _text("motion", "unknown, moving, still, pre-alarm or alarm"),
        _truth("distress", "the wearer's own button"),
        _truth("low_air", "the set's own warning device has started"),
        _truth("coming_out", "the wearer has said so by button"),
        _text("self_test", "not run, passed or failed"),
        _text("low_air_warning_test", "not run, passed or failed"),
        _text("motion_warning_test", "not run, passed or failed"),
        _whole("interval_s", "time to the next report, as the pack says", "s"),
        _whole("order_received", "highest order number received; in a receipt: the order answered"),
        _whole("order_acknowledged", "highest order number acknowledged"),
        _text("answer", "in a receipt: received, acknowledged or coming out"),
        _text("apparatus", "in a sign-on: kind of breathing apparatus"),
        _number("rated_pressure_bar", "in a sign-on: rated pressure of the cylinder", "bar"),
        _number("water_volume_l", "in a sign-on: water volume of the cylinders together", "l"),
        _number("low_air_value_bar", "in a sign-on: where the set's own warning starts", "bar"),
    ),
)  # fmt: skip

ALARMS = Table(
    "alarms",
    "One row an alarm, from its first condition to its end, in the order in which they ended; "
    "those that still stood come last.",
    (
        USE,
        _whole("alarm", "number of the alarm, in order of raising"),
        _text("kind", "name of its row in the catalogue"),
        _text("word", "what stood on the alarm line"),
        _text("priority", "danger, caution or notice: the most urgent that it was"),
        _text("wearers", "numbers of the wearers it was about, with spaces between"),
        _whole("pack", "a pack that belonged to nobody on the board"),
        _whole("link", "number of the link it was about"),
        _text("crew", "name of the crew it was about"),
        _whole("raised_ns", "incident time at which its condition first began", "ns"),
        _time("raised_clock", "wall clock then"),
        _whole("times_raised", "how often its condition began"),
        _whole("times_waited", "how often it waited for the officer"),
        _whole("acknowledged_ns", "incident time at which it was first acknowledged", "ns"),
        _time("acknowledged_clock", "wall clock then"),
        _text("acknowledged_by", "by whom; empty: nobody"),
        _whole("cleared_ns", "incident time at which its condition last ended; empty: it held",
               "ns"),
        _time("cleared_clock", "wall clock then"),
        _whole("times_put_aside", "how often an officer put it aside for a time"),
        _whole("reset_ns", "incident time at which a latched one was let go", "ns"),
        _time("reset_clock", "wall clock then"),
        _text("reset_by", "by whom"),
        _text("reason", "the reason given for the reset, else for putting it aside last"),
        _whole("ended_ns", "incident time at which nothing was left of it; empty: it still stood",
               "ns"),
        _time("ended_clock", "wall clock then"),
        _text("state", "its state at the end of the record; normal: it is over"),
        _text("to_do", "what the alarm line said to do"),
    ),
)  # fmt: skip

ACTS = Table(
    "acts",
    "One row an act of an officer. What was refused is not in the journal.",
    (
        *_AT,
        _text("act", "what was done"),
        _text("by", "who did it, by the name given to the board"),
        _text("wearers", "numbers of the wearers, with spaces between"),
        _text("alarms", "numbers of the alarms, with spaces between"),
        _whole("really_ns", "incident time at which it really was, where that was said", "ns"),
        _whole("seen_ns", "the newest moment on the officer's screen when it was done", "ns"),
        _number("pressure_bar", "gauge pressure that was said", "bar"),
        _text("location", "place that was said"),
        _text("said", "task, remark, reason or override, in the officer's words"),
        _DETAILS,
    ),
)

FACTS = Table(
    "facts",
    "One row a fact that the base noticed about itself, and one row an announcement of an alarm.",
    (
        *_AT,
        _text("fact", "what it is"),
        _whole("link", "number of the link it is about"),
        _text("said", "its state and detail in words"),
        _text("details", "everything the journal has of it, as one JSON object; of the opening "
              "without the procedure, which is in the journal"),
    ),
)  # fmt: skip

LINK = Table(
    "link",
    "One row a minute and wearer with a pack: how well the pack was heard, as the board had it.",
    (
        USE,
        _whole("time_ns", "incident time, a full minute", "ns"),
        _time("clock", "what the wall clock of the base showed then"),
        _whole("wearer", "number on the board"),
        _whole("pack", "identity of the set's electronics"),
        _text("signal", "state of the link in the words of the screen"),
        _whole("silence_ns", "listened for so long without hearing it; empty: never heard", "ns"),
        _whole("silence_limit_ns", "beyond this it is no signal", "ns"),
        _whole("signal_dbm", "level of the last frame at the base radio", "dbm"),
        _whole("frames_taken", "frames taken since it was first heard; copies not counted"),
        _whole("frames_lost", "frames missing between them; fewer when one comes late"),
        _whole("frames_late", "of those taken, how many came after a newer one"),
        _text("pressure_source", "where the pressure comes from: telemetry, voice, entry record, "
              "estimate or unknown"),
        _number("pressure_bar", "pressure as shown: the reading or the falling estimate", "bar"),
    ),
)  # fmt: skip

AREAS = Table(
    "areas",
    "One row each time somebody noted how far an area was searched; the last of an area counts.",
    (
        *_AT,
        _text("area", "what area"),
        _text("state", "to search, part searched or searched"),
        _text("wearers", "numbers of the wearers who searched it, with spaces between"),
        _text("by", "who noted it, by the name given to the board"),
    ),
)

ORDERS = Table(
    "orders",
    "One row a wearer in each order, as it stood where the record ends. That a pack has received "
    "it, that its wearer has acknowledged it, answered by voice, started back and is out are five "
    "facts.",
    (
        USE,
        _whole("order", "number of the order"),
        _whole("time_ns", "incident time at which it was given", "ns"),
        _time("clock", "what the wall clock of the base showed then"),
        _text("what", "evacuate, come out, roll call or test"),
        _text("scope", "whom it was for, in words"),
        _text("by", "who gave it, by the name given to the board"),
        _text("on_order_of", "on whose order; empty: on their own"),
        _text("reason", "as it was given"),
        _text("state", "open, all answered, all out or closed"),
        _text("closed_because", "why it was closed with somebody open"),
        _whole("stood_ns", "for how long it stood, until its end or that of the record", "ns"),
        _whole("wearer", "number on the board"),
        _text("crew", "crew then"),
        _truth("telemetry", "false: no pack could receive it"),
        _truth("committed", "true: sent in as emergency crew, and left out of it"),
        _whole("sent_after_ns", "first copy to the pack, since it was given", "ns"),
        _whole("copies", "copies that went to the pack"),
        _whole("received_after_ns", "received by the pack, since it was given", "ns"),
        _whole("acknowledged_after_ns", "acknowledged by the wearer's button", "ns"),
        _whole("voice_after_ns", "answered by voice", "ns"),
        _whole("back_after_ns", "started back", "ns"),
        _whole("out_after_ns", "out of the hazard", "ns"),
    ),
)

TABLES = (INCIDENT, WEARERS, READINGS, ALARMS, ACTS, ORDERS, FACTS, AREAS, LINK)
