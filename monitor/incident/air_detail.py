"""All of one wearer's air, for a screen of its own: curves, events, each figure's rule in words.

Made when asked for, from the same state as the board's line, by the same sums.
"""

from collections.abc import Iterator
from math import sqrt

from monitor.incident import units, wording
from monitor.incident.air import gas, planned
from monitor.incident.air.detail import AirDetail, FanPoint, Mark, Rule
from monitor.incident.air.forecast import LOWER_10, MEDIAN, gauge_variance_l2
from monitor.incident.air.next_mark import Standing, forecast_s, next_mark, target_of
from monitor.incident.air.planned import Plan
from monitor.incident.air.shown import HIGHEST_RATED_BAR, SECOND_NS, Cylinder
from monitor.incident.air.start import START_SURE
from monitor.incident.contact import gap_after_ns
from monitor.incident.picture import AirFrom, AirView
from monitor.incident.situation import Situation
from monitor.incident.turning import who_turns
from monitor.incident.wearer import Wear, Wearer
from monitor.incident.wearer_view import air_in_full, standing_of

FAN_STEPS = 24
FAN_S_MAX = 3600
"""A forecast is drawn an hour ahead at most."""
PLAN_STEPS = 24


def air_detail(s: Situation, wearer: Wearer) -> AirDetail | None:
    """The air of this wearer in full; None off air."""
    wear = wearer.live_wear
    if wear is None or wear.breathing is None:
        return None
    contact = s.contact_of(wearer)
    cylinder = s.cylinder(wearer, contact)
    standing = standing_of(s, wearer, wear) if s.own_supply(wearer, contact) else None
    air = air_in_full(s, wearer, contact)
    start = wear.connected_ns
    longest_gap = gap_after_ns(contact.interval_s) / SECOND_NS if contact else None
    history = wear.breathing.history
    return AirDetail(
        wearer=wearer.number,
        t=s.now,
        start_ns=start,
        points=tuple((start + at * SECOND_NS, bar) for at, bar in history.points()),
        gaps=()
        if longest_gap is None
        else tuple(
            (start + a * SECOND_NS, start + b * SECOND_NS) for a, b in history.gaps(longest_gap)
        ),
        marks=tuple(_marks(wear)),
        fan=_fan(standing, cylinder),
        plan=_plan(s, wear, cylinder),
        limits=_limits(s, wear, cylinder),
        rules=tuple(_rules(s, wearer, wear, cylinder, air, standing)),
        unit=s.unit(wearer),
        cylinder=cylinder,
        start_bar=wear.way.start_bar if wear.way else None,
        start_from=wear.start_from,
        low=None
        if standing is None or air.low_air_bar is None
        else next_mark(standing, "low", air.low_air_bar, None),
        planned=_planned(s, wear, cylinder),
    )


def _planned(s: Situation, wear: Wear, cylinder: Cylinder) -> Plan | None:
    """Planned times; None where the pressure at connecting or the water volume is not known."""
    start = wear.start_bar
    return None if start is None else planned.plan(start, cylinder, s.procedure)


def _marks(wear: Wear) -> Iterator[Mark]:
    """What happened in this wear, in order of time."""
    known = [
        (wear.connected_ns, "C", "connected"),
        (wear.entered_ns, "E", "entered"),
        (wear.objective_ns, "O", "objective reached"),
        (wear.spoke_ns, "V", "last reading by voice"),
        (wear.turn_ns, "T", "turn-back due"),
        (wear.low_ns, "L", "low air"),
        (wear.back_ns, "B", "started back"),
        (wear.out_ns, "X", "out"),
    ]
    happened = [Mark(t, letter, words) for t, letter, words in known if t is not None]
    yield from sorted(happened, key=lambda mark: mark.t)


def _fan(standing: Standing | None, cylinder: Cylinder) -> tuple[FanPoint, ...]:
    """What the gauge may show, from the last reading until it may be empty."""
    volume = cylinder.water_volume_l
    if standing is None or volume is None:
        return ()
    temperature, bar = cylinder.temperature_c, standing.reading.bar
    contents = gas.usable_l(bar, volume, temperature)
    spread = gauge_variance_l2(bar, volume, temperature, standing.step_bar)
    ahead = min(FAN_S_MAX, max(60.0, forecast_s(standing, 0.0, MEDIAN)))

    def left(seconds: float, z: float) -> float:
        outlook = standing.outlook(z)
        used = outlook.used_l(seconds) + z * sqrt(outlook.variance(seconds) + spread)
        return min(bar, gas.gauge_bar(contents - used, volume, temperature))

    points = []
    for step in range(FAN_STEPS + 1):
        seconds = ahead * step / FAN_STEPS
        # The three come of two outlooks, which may be of two minds for a moment.
        low, mid, high = sorted(left(seconds, z) for z in (LOWER_10, MEDIAN, -LOWER_10))
        points.append(FanPoint(standing.reading.t + int(seconds * SECOND_NS), low, mid, high))
    return tuple(points)


def _plan(s: Situation, wear: Wear, cylinder: Cylinder) -> tuple[tuple[int, float], ...]:
    """The pressure as planned, from connecting to empty."""
    volume = cylinder.water_volume_l
    if wear.start_bar is None or volume is None:
        return ()
    temperature = cylinder.temperature_c
    contents = gas.usable_l(wear.start_bar, volume, temperature)
    rate = s.procedure.planning_rate_l_min / 60
    return tuple(
        (
            wear.cylinder_ns + int(contents * step / PLAN_STEPS / rate * SECOND_NS),
            gas.gauge_bar(contents * (1 - step / PLAN_STEPS), volume, temperature),
        )
        for step in range(PLAN_STEPS + 1)
    )


def _limits(s: Situation, wear: Wear, cylinder: Cylinder) -> tuple[tuple[str, float], ...]:
    words = s.procedure.words
    limits = []
    if wear.turn is not None:
        limits.append((words.turn_back, wear.turn.bar))
    if cylinder.low_air_bar is not None:
        limits.append((words.low_air_warning, cylinder.low_air_bar))
    return tuple(limits)


# ---------------------------------------------------------------- the rules in words


def _rules(
    s: Situation,
    wearer: Wearer,
    wear: Wear,
    cylinder: Cylinder,
    air: AirView,
    standing: Standing | None,
) -> Iterator[Rule]:
    """Every figure with the rule behind it."""
    unit = s.unit(wearer)
    yield _pressure_rule(air, unit)
    yield _contents_rule(s, cylinder, air)
    if standing is None:
        kind = s.apparatus(wearer, s.contact_of(wearer))
        why = "another supply than the own cylinder" if wear.augmented else f"{kind} apparatus"
        yield Rule("forecast", "none", f"{why}: clocks and readings only")
        return
    if air.rate_l_min is not None and air.rate_mean_l_min is not None:
        about = "about " if air.rate_about else ""
        mean = units.up(air.rate_mean_l_min)
        words = f"free air over the last minute; {mean} since connecting"
        yield Rule("rate", f"{about}{units.up(air.rate_l_min)} L/min", words)
    yield _turn_rule(s, wearer, wear, unit)
    yield _low_rule(s, wearer, cylinder, unit)
    yield from _time_rules(s, wear, cylinder, air, standing)
    yield from _plan_rules(s, wear, cylinder)


def _pressure_rule(air: AirView, unit: str) -> Rule:
    if air.pressure_bar is None:
        return Rule("pressure", "unknown", "nobody has told it")
    figure = f"{units.left(air.pressure_bar, unit)} {unit}"
    if air.source is AirFrom.ASSUMED:
        return Rule(
            "pressure", f"about {figure}", "nobody has told it: falling from the least fill"
        )
    age = wording.seconds(air.reading_age_ns or 0)
    if air.source is AirFrom.ESTIMATE and air.reading_bar is not None:
        read = f"{units.left(air.reading_bar, unit)} {unit}"
        return Rule("pressure", f"about {figure}", f"estimate, falling; {read} was read {age} ago")
    return Rule("pressure", figure, f"{air.source.value}, {age} ago")


def _contents_rule(s: Situation, cylinder: Cylinder, air: AirView) -> Rule:
    if air.contents_l is None:
        return Rule("contents", "unknown", "nobody has told the water volume")
    cubic = s.procedure.volume_unit == "cubic foot"
    left = units.down(units.volume(air.contents_l, s.procedure.volume_unit))
    return Rule(
        "contents",
        f"{left} {'ft3' if cubic else 'L'}",
        f"{cylinder.water_volume_l:g} L cylinder, real gas at {_shown_c(cylinder):g} C",
    )


def _shown_c(cylinder: Cylinder) -> float:
    return cylinder.temperature_c if cylinder.gas_c is None else cylinder.gas_c


def _turn_rule(s: Situation, wearer: Wearer, wear: Wear, unit: str) -> Rule:
    label = s.procedure.words.turn_back
    if wear.turn is None:
        return Rule(label, "none", "no rule, or the pressure at connecting is not known")
    governs = who_turns(s, wearer)
    least = f"; {governs.label} has the least margin" if governs else ""
    if wear.way is not None and wear.start_from not in START_SURE:
        least += f"; {wording.start(wear.way.start_bar, wear.start_from, unit)}"
    figure = f"{units.turn(wear.turn.bar, unit)} {unit}"
    return Rule(label, figure, f"{wear.turn.why}, {wear.turn.by}{least}")


def _low_rule(s: Situation, wearer: Wearer, cylinder: Cylinder, unit: str) -> Rule:
    label = s.procedure.words.low_air_warning
    if cylinder.low_air_bar is None:
        return Rule(label, "unknown", "neither the set nor the procedure tells it")
    figure = f"{units.turn(cylinder.low_air_bar, unit)} {unit}"
    contact = s.contact_of(wearer)
    told = contact.equipment if contact else None
    if told is not None and told.low_air_dbar:
        return Rule(label, figure, "the set's own value")
    if s.procedure.low_air_bar is not None:
        return Rule(label, figure, f"procedure {s.procedure.name}")
    share = 100 * (s.procedure.low_air_fraction or 0)
    rated = cylinder.rated_bar or HIGHEST_RATED_BAR
    why = f"{share:g} % of {units.left(rated, unit)} {unit}, the procedure's"
    unknown = "" if cylinder.rated_bar else "; nobody told the rated pressure"
    return Rule(label, figure, f"{why}{unknown}")


def _time_rules(
    s: Situation, wear: Wear, cylinder: Cylinder, air: AirView, standing: Standing
) -> Iterator[Rule]:
    """Time to each mark that is still to come, the lower bound first, the median after it."""
    words = s.procedure.words
    marks = [("empty", 0.0)]
    if cylinder.low_air_bar is not None:
        marks.insert(0, (words.low_air_warning, cylinder.low_air_bar))
    if wear.turn is not None and wear.back_ns is None:
        marks.insert(0, (words.turn_back, wear.turn.bar))
    for name, bar in marks:
        if air.pressure_bar is None or air.pressure_bar <= bar:
            continue
        target = target_of(air.pressure_bar, None, None, back=True)[0]
        mark = next_mark(standing, target, bar, None)
        if mark is None:
            continue
        middle = forecast_s(standing, bar, MEDIAN)
        by = wording.BY_WORDS[mark.by]
        half = f"; as likely as not {wording.minutes(middle)}" if middle > mark.seconds else ""
        yield Rule(f"to {name}", wording.minutes(mark.seconds), f"at the earliest, {by}{half}")


def _plan_rules(s: Situation, wear: Wear, cylinder: Cylinder) -> Iterator[Rule]:
    """Planned times, as spans from connecting."""
    plan = _planned(s, wear, cylinder)
    if plan is None:
        return
    rate = f"{plan.rate_l_min:g} L/min"
    spans = [("full duration", plan.full)]
    if plan.by_margin is not None:
        spans.append(("less the margin", plan.by_margin))
    if plan.by_pressure is not None:
        spans.append((f"to {s.procedure.words.low_air_warning}", plan.by_pressure))
    for name, span in spans:
        figure = f"{span.table_min} min table"
        words = f"{wording.minutes(span.real_s)} by real gas, at {rate} from connecting"
        yield Rule(f"planned {name}", figure, words)
