"""The sums of ``outby air``: what a cylinder holds, how long it lasts, where to turn back. Pure.

The same modules as on the board, fed with what somebody types. Times are spans from connecting;
times of day are given where the time of connecting is, and go past midnight. Contents, times and
what is left are rounded down, pressures to turn at and air that is used are rounded up.
"""

import math
from dataclasses import dataclass

from monitor.incident import units
from monitor.incident.air import planned, turn_back
from monitor.incident.air.planned import Plan, Span
from monitor.incident.air.shown import Cylinder
from monitor.incident.air.turn_back import CrewTurn, Member, Turn, Way
from monitor.incident.procedure import Procedure

CAUTION = (
    "An aid to planning, not a certified safety device. Local rules, the wearer's",
    "own gauge and warning device, and the maker's instructions come first.",
)
"""Stands below every sum."""
LINE_WORDS = (
    "none on a line: its gauge does not tell the way back",
    "reckon each wearer's own escape cylinder by itself",
)
MINUTE_S = 60
HOUR_MIN = 60
DAY_MIN = 24 * HOUR_MIN
TENTHS = 10
"""Figures in the JSON are given to the tenth, to the safe side."""

Fields = dict[str, object]


@dataclass(frozen=True, slots=True)
class Asked:
    """What one wearer has."""

    name: str
    """Of the cylinder."""
    cylinder: Cylinder
    start_bar: float
    objective_bar: float | None


@dataclass(frozen=True, slots=True)
class Question:
    """Everything that is asked for at once."""

    rules: Procedure
    """With the rate and temperature that hold here."""
    unit: str
    """What the gauges read in."""
    connected_s: int | None
    """Seconds into the day at connecting."""
    wearers: tuple[Asked, ...]
    on_line: int | None = None
    """Who breathe from one line, fed by the one cylinder that stands for all of it; None: worn."""


@dataclass(frozen=True, slots=True)
class Answer:
    """The sums for one wearer."""

    asked: Asked
    plan: Plan
    turn: Turn | None
    to_turn: Span | None
    """At the planning rate: from connecting, or from the objective if it is reached."""
    way_in_l: float | None
    """Used on the way in; None: the objective is not reached."""
    margin_l: float | None
    """From connecting, or the objective, down to the mark."""


def answer(question: Question) -> tuple[tuple[Answer, ...], CrewTurn]:
    """Do the sums, for each wearer and for all as one crew."""
    members = [_member(asked) for asked in question.wearers]
    crew = turn_back.crew_turn(question.rules, members)
    found = []
    for asked, member, turn, margin in zip(
        question.wearers, members, crew.turns, crew.margins_l, strict=True
    ):
        plan = planned.plan(asked.start_bar, asked.cylinder, question.rules)
        assert plan is not None, "a cylinder that is asked for has a water volume"
        used = None if asked.objective_bar is None else turn_back.way_in_l(member)
        to_turn = _to_turn(question.rules, member, turn)
        found.append(Answer(asked, plan, turn, to_turn, used, margin))
    return tuple(found), crew


def _member(asked: Asked) -> Member:
    way = Way.connected(asked.start_bar)
    if asked.objective_bar is None:
        return Member(way, asked.start_bar, asked.cylinder)
    return Member(way.reached(asked.objective_bar), asked.objective_bar, asked.cylinder)


def _to_turn(rules: Procedure, member: Member, turn: Turn | None) -> Span | None:
    volume = member.cylinder.water_volume_l
    if turn is None or volume is None:
        return None
    temperature = member.cylinder.temperature_c
    return planned.span(member.now_bar, turn.bar, volume, temperature, rules.planning_rate_l_min)


# ---------------------------------------------------------------- as text


def text(question: Question) -> str:
    """Lay everything out for a terminal of 80 columns."""
    rules = question.rules
    found, crew = answer(question)
    rate = f"{rules.planning_rate_l_min:g} L/min{_shared(question)}"
    lines = [
        f"planned, not read from any gauge: {rules.title}",
        f"{rate}, gas {rules.gas_temperature_c:g} C",
    ]
    for number, one in enumerate(found, start=1):
        lines += ["", *_wearer_lines(question, number, one)]
    if len(found) > 1:
        lines += ["", *_crew_lines(question, found, crew)]
    return "\n".join([*lines, "", *CAUTION])


def _shared(question: Question) -> str:
    on_line = question.on_line
    if on_line is None:
        return ""
    each = question.rules.planning_rate_l_min / on_line
    return f" for {on_line} on one line, {each:g} each"


def _wearer_lines(question: Question, number: int, one: Answer) -> list[str]:
    asked, plan, rules = one.asked, one.plan, question.rules
    start = f"{units.left(asked.start_bar, question.unit)} {question.unit}"
    at = "" if question.connected_s is None else f", {clock(question.connected_s, 0)}"
    contents = (plan.real_l, plan.table_l)
    real, table = (_volume(litres, rules.volume_unit) for litres in contents)
    lines = [
        f"{number}  {asked.name}: {start} at connecting{at}",
        _row("", "real gas", "table (p x V)"),
        _row("contents", real, table),
        _span_row("all of it", question, plan.full),
    ]
    if plan.by_margin is not None:
        lines.append(_span_row("by margin", question, plan.by_margin, margin_words(question)))
    if plan.by_pressure is not None:
        words = low_air_words(question, asked.cylinder)
        lines.append(_span_row("by pressure", question, plan.by_pressure, words))
    lines.append(f"   work over    {_when(question, plan.working_s)}: the earliest of these")
    if rules.prompts == "thirds":
        first, second = planned.thirds_s(plan.working_s)
        lines.append(f"   prompts      {_when(question, first)}, {_when(question, second)}")
    return lines + _turn_lines(question, one)


def _turn_lines(question: Question, one: Answer) -> list[str]:
    unit = question.unit
    lines = []
    if one.asked.objective_bar is not None:
        bar = units.left(one.asked.objective_bar, unit)
        used = units.up(units.volume(one.way_in_l or 0.0, question.rules.volume_unit))
        name = _VOLUME[question.rules.volume_unit]
        lines.append(f"   objective    at {bar} {unit}: {used} {name} used on the way in")
    if question.on_line is not None:
        first, second = LINE_WORDS
        return [f"   turn back    {first}", f"                {second}"]
    if one.turn is None or one.to_turn is None:
        return [*lines, f"   {question.rules.words.turn_back}: no rule"]
    turn = one.turn
    rule = f"{turn.why} ({turn.by})" if turn.by != "fixed" else turn.why
    lines.append(f"   turn back    at {units.turn(turn.bar, unit)} {unit}: {rule}")
    if turn.other_bar is not None:
        other = "litre rule" if turn.by == "bar rule" else "bar rule"
        figure = f"{units.turn(turn.other_bar, unit)} {unit}"
        lines.append(f"                the {other} alone would say {figure}; the stricter governs")
    if turn.bar >= one.asked.start_bar:
        lines.append("                which is not below the start: there is no air for a way in")
    since = "connecting" if one.asked.objective_bar is None else "the objective"
    lines.append(
        f"                {duration(one.to_turn.real_s)} from {since} by real gas,"
        f" {one.to_turn.table_min} min by table"
    )
    return lines


def _crew_lines(question: Question, found: tuple[Answer, ...], crew: CrewTurn) -> list[str]:
    turn = None if crew.governs is None else crew.turns[crew.governs]
    earliest = min(range(len(found)), key=lambda place: found[place].plan.working_s)
    when = _when(question, found[earliest].plan.working_s)
    lines = [f"crew: work over {when}: wearer {earliest + 1} has the least"]
    if turn is not None and crew.governs is not None:
        at = f"{units.turn(turn.bar, question.unit)} {question.unit}"
        who = crew.governs + 1
        lines += [
            f"      turn back when wearer {who} shows {at}:",
            f"      {turn.why}; wearer {who} has the least margin",
        ]
    return lines


def _row(label: str, real: str, table: str, words: str = "") -> str:
    return f"   {label:<12} {real:<19} {table:<14} {words}".rstrip()


def _span_row(label: str, question: Question, span: Span, words: str = "") -> str:
    real, table = duration(span.real_s), f"{span.table_min} min"
    if question.connected_s is not None:
        real += f", {clock(question.connected_s, span.real_s)}"
        table += f", {clock(question.connected_s, span.table_min * MINUTE_S)}"
    return _row(label, real, table, words)


def _when(question: Question, seconds: int) -> str:
    """Say a time after connecting, as a time of day too where that is known."""
    if question.connected_s is None:
        return f"after {duration(seconds)}"
    return f"after {duration(seconds)}, {clock(question.connected_s, seconds)}"


_VOLUME = {"litre": "L", "cubic foot": "cu ft"}


def _volume(litres: float, unit: str) -> str:
    return f"{units.down(units.volume(litres, unit))} {_VOLUME[unit]}"


def margin_words(question: Question) -> str:
    """What the safety margin is, in words."""
    rules = question.rules
    if rules.margin_min is not None:
        return f"{rules.margin_min:g} min kept"
    if rules.margin_bar is not None:
        return f"{units.turn(rules.margin_bar, question.unit)} {question.unit} kept"
    return f"{(rules.margin_fraction or 0.0) * 100:g} % of rated pressure kept"


def low_air_words(question: Question, cylinder: Cylinder) -> str:
    """Where the warning is expected, in words."""
    bar = units.turn(cylinder.low_air_bar or 0.0, question.unit)
    return f"{question.rules.words.low_air_warning}, {bar} {question.unit}"


def duration(seconds: int) -> str:
    """Say a span, unmistakably: ``34 min 12 s``."""
    return f"{seconds // MINUTE_S} min {seconds % MINUTE_S} s"


def clock(connected_s: int, after_s: int) -> str:
    """Time of day so long after connecting, in whole minutes, rounded down; past midnight too."""
    minutes = (connected_s + after_s) // MINUTE_S % DAY_MIN
    return f"{minutes // HOUR_MIN:02}:{minutes % HOUR_MIN:02}"


# ---------------------------------------------------------------- as fields


def fields(question: Question) -> Fields:
    """Give everything as one JSON object; README.md says what each field is."""
    found, crew = answer(question)
    rules = question.rules
    at = question.connected_s
    governs = crew.governs
    turn = None if governs is None else crew.turns[governs]
    return {
        "procedure": rules.name,
        "rate_l_min": rules.planning_rate_l_min,
        "gas_temperature_c": rules.gas_temperature_c,
        "gauge_unit": question.unit,
        "on_line": question.on_line,
        "caution": " ".join(CAUTION),
        "connected_at": None if at is None else clock(at, 0),
        "wearers": [
            _wearer_fields(question, number, one) for number, one in enumerate(found, start=1)
        ],
        "crew": {
            "working_s": min(one.plan.working_s for one in found),
            "turned_by_wearer": None if governs is None else governs + 1,
            "turn_back_bar": None if turn is None else _up(turn.bar),
            "turn_back_why": None if turn is None else turn.why,
        },
    }


def _wearer_fields(question: Question, number: int, one: Answer) -> Fields:
    asked, plan, turn = one.asked, one.plan, one.turn
    cylinder = asked.cylinder
    return {
        "wearer": number,
        "cylinder": asked.name,
        "water_volume_l": cylinder.water_volume_l,
        "rated_bar": _down(cylinder.rated_bar or 0.0),
        "start_bar": _down(asked.start_bar),
        "objective_bar": None if asked.objective_bar is None else _down(asked.objective_bar),
        "low_air_bar": None if cylinder.low_air_bar is None else _up(cylinder.low_air_bar),
        "contents_real_l": _down(plan.real_l),
        "contents_table_l": _down(plan.table_l),
        "full": _span_fields(question, plan.full),
        "by_margin": _span_fields(question, plan.by_margin),
        "by_pressure": _span_fields(question, plan.by_pressure),
        "working_s": plan.working_s,
        "way_in_l": None if one.way_in_l is None else _up(one.way_in_l),
        "turn_back_bar": None if turn is None else _up(turn.bar),
        "turn_back_gauge": None if turn is None else units.turn(turn.bar, question.unit),
        "turn_back_by": None if turn is None else turn.by,
        "turn_back_why": None if turn is None else turn.why,
        "turn_back_other_bar": None
        if turn is None or turn.other_bar is None
        else _up(turn.other_bar),
        "to_turn_back": _span_fields(question, one.to_turn, clocks=asked.objective_bar is None),
        "margin_l": None if one.margin_l is None else _down(one.margin_l),
    }


def _span_fields(question: Question, span: Span | None, *, clocks: bool = True) -> Fields | None:
    """``clocks``: the span begins at connecting, so that times of day can be told."""
    if span is None:
        return None
    at = question.connected_s if clocks else None
    return {
        "table_min": span.table_min,
        "real_s": span.real_s,
        "table_at": None if at is None else clock(at, span.table_min * MINUTE_S),
        "real_at": None if at is None else clock(at, span.real_s),
    }


def _down(value: float) -> float:
    return math.floor(value * TENTHS + units.EDGE) / TENTHS


def _up(value: float) -> float:
    return math.ceil(value * TENTHS - units.EDGE) / TENTHS
