"""Every field that published guidance asks the record of a wear to hold, as far as it is known.

After the union of national guidance on entry control and telemetry, FwDV 7 (2002, with changes
2005) section 7.4, and BS 8608:2014 clause 7. What this version does not record says so.
"""

from collections.abc import Iterator

from monitor.incident import units
from monitor.incident.air import gas, planned
from monitor.incident.air.detail import AirDetail
from monitor.report import words
from monitor.report.blocks import Row
from monitor.report.teller import Teller
from monitor.report.wears import WearRecord


def facts(teller: Teller, wear: WearRecord) -> Iterator[Row]:
    """Names and values."""
    unknown = words.NOT_RECORDED
    detail = wear.detail
    cylinder = detail.cylinder if detail else None
    yield "name", wear.name
    yield "call sign", wear.label
    yield "crew", f"{wear.crew or 'none'}{', leads it' if wear.leader else ''}"
    pack = f"pack {wear.pack}" if wear.pack else "no telemetry"
    yield "set", f"{wear.set_id}, {pack}" if wear.set_id else pack
    yield "kind of apparatus", wear.apparatus
    volume = cylinder.water_volume_l if cylinder else None
    yield "cylinder, water volume", words.NOT_KNOWN if volume is None else f"{volume:g} litres"
    yield "cylinder, rated pressure", teller.pressure(cylinder.rated_bar if cylinder else None)
    yield "cylinder, identity", wear.cylinder_id or unknown
    low = cylinder.low_air_bar if cylinder else None
    yield teller.opened.procedure.words.low_air_warning, teller.limit(low)
    yield "connected to air", teller.of_moment(wear.last("connected to air"))
    yield "pressure at connecting from", wear.start_from.value
    yield "turn-back reckoned from", _reckoned_from(teller, detail)
    yield "entered", teller.of_moment(wear.last("entered"))
    yield "task", wear.task or unknown
    yield "places", "; ".join(wear.places) or unknown
    yield "brief", wear.brief or unknown
    yield "communications", wear.communications or unknown
    yield from _planned(teller, wear, detail)
    yield "objective reached", teller.of_moment(wear.last("objective reached"))
    yield "start of withdrawal", _withdrawal(teller, wear)
    door = f", at {wear.door}" if wear.door else ""
    yield "came out", f"{teller.of_moment(wear.last('came out'))}{door}"
    yield "off air", teller.of_moment(wear.last("off air"))
    yield "wearing time", words.span(wear.spell.length_ns(teller.found.end_ns))
    yield from _consumed(teller, wear, detail)


def _reckoned_from(teller: Teller, detail: AirDetail | None) -> str:
    """The pressure at connecting that the marks went by at the end, and how it was come by."""
    if detail is None or detail.start_bar is None or detail.start_from is None:
        return words.NOT_KNOWN
    return f"{teller.limit(detail.start_bar)}, {detail.start_from.value}"


def _withdrawal(teller: Teller, wear: WearRecord) -> str:
    said = wear.last("started back")
    by_button = (
        next((m for m in wear.detail.marks if m.letter == "B"), None) if wear.detail else None
    )
    if said is None and by_button is not None:
        return f"{teller.at(by_button.t)}, by the wearer's button"
    return teller.of_moment(said)


def _planned(teller: Teller, wear: WearRecord, detail: AirDetail | None) -> Iterator[Row]:
    """Predicted times with the constants used, by the card and by real gas."""
    rules = teller.opened.procedure
    turn = dict(detail.limits).get(rules.words.turn_back) if detail else None
    yield f"{rules.words.turn_back} at", teller.limit(turn) if turn is not None else "none reckoned"
    plan = detail.planned if detail else None
    if plan is None:
        yield "predicted times", "none: water volume or pressure at connecting is not known"
        return
    start = wear.spell.from_ns
    for name, span in (
        ("nothing left", plan.full),
        ("safety margin reached", plan.by_margin),
        (rules.words.low_air_warning, plan.by_pressure),
    ):
        if span is not None:
            table = teller.at(start + span.table_min * 60 * words.SECOND_NS)
            real = teller.at(start + span.real_s * words.SECOND_NS)
            yield (
                f"predicted: {name}",
                (
                    f"{table} by the table ({span.table_min} min), "
                    f"{real} by real gas ({words.span(span.real_s * words.SECOND_NS)})"
                ),
            )
    margin = _margin(teller)
    gas_c = detail.cylinder.temperature_c if detail and detail.cylinder else None
    yield (
        "constants of these",
        (
            f"{plan.rate_l_min:g} litres a minute{margin}; gas at "
            f"{gas_c if gas_c is not None else rules.gas_temperature_c:g} degrees Celsius"
        ),
    )
    for name, seconds in zip(
        ("one third", "two thirds"), planned.thirds_s(plan.working_s), strict=True
    ):
        t = start + seconds * words.SECOND_NS
        yield f"{name} of the expected time", f"{teller.at(t)}, {_pressure_at(teller, wear, t)}"


def _margin(teller: Teller) -> str:
    rules = teller.opened.procedure
    if rules.margin_min is not None:
        return f", margin {rules.margin_min:g} min"
    if rules.margin_bar is not None:
        return f", margin {teller.limit(rules.margin_bar)}"
    if rules.margin_fraction is not None:
        return f", margin {rules.margin_fraction * 100:g} % of rated pressure"
    return ", no margin"


def _pressure_at(teller: Teller, wear: WearRecord, t: int) -> str:
    """The last reading up to then, with its time where it is an older one."""
    _, end = wear.spell.until(teller.found.end_ns)
    if t > end:
        return "after the end of this wear"
    points = wear.detail.points if wear.detail else ()
    before = [point for point in points if point[0] <= t]
    if not before:
        return "no reading"
    at, bar = before[-1]
    return f"{teller.pressure(bar)}, read at {teller.at(at)}"


def _consumed(teller: Teller, wear: WearRecord, detail: AirDetail | None) -> Iterator[Row]:
    points = detail.points if detail else ()
    if points:
        t, lowest = min(points, key=lambda point: point[1])
        yield "lowest reading", f"{teller.pressure(lowest)} at {teller.at(t)}"
    cylinder = detail.cylinder if detail else None
    if points and cylinder and cylinder.water_volume_l and wear.start_bar is not None:
        per = cylinder.water_volume_l, cylinder.temperature_c
        used = gas.usable_l(wear.start_bar, *per) - gas.usable_l(points[-1][1], *per)
        changed = wear.last("pack or cylinder changed") is not None
        yield (
            "air used",
            "not reckoned: the cylinder was changed" if changed else teller.used(max(0.0, used)),
        )
    rates = [s.rate_l_min for s in wear.samples if s.rate_l_min is not None]
    if rates:
        yield "highest rate shown", f"{units.up(max(rates))} litres a minute"
