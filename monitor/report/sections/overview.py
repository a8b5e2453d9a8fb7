"""Everybody in a report: crews on one axis of time, and each stay on air as a row."""

from collections import defaultdict
from collections.abc import Iterator

from monitor.report import words
from monitor.report.blocks import Block, Chart, Row, Section, Table, Text
from monitor.report.charts import overview_chart
from monitor.report.curves import Bar, Overview
from monitor.report.sections.wear_curves import marks
from monitor.report.teller import NONE, Teller
from monitor.report.wears import WearRecord

BARS_MAX = 40
"""Wearers in one overview: so many fit on a page."""


def overview(teller: Teller) -> Section:
    """Everybody on one axis of time, and as a table."""
    return Section("crews", "Crews", _overview(teller))


def _overview(teller: Teller) -> Iterator[Block]:
    wears = teller.found.wears
    by_wearer: defaultdict[int, list[WearRecord]] = defaultdict(list)
    for wear in wears.all:
        by_wearer[wear.number].append(wear)
    places = _places(teller)
    in_order = sorted(by_wearer, key=lambda n: (places[wears.people[n].crew], n))
    for at in range(0, len(in_order), BARS_MAX):
        some = [by_wearer[number] for number in in_order[at : at + BARS_MAX]]
        drawn = _bars(teller, some)
        yield Chart(overview_chart(drawn, f"c{at}", teller.clock, teller.found.wall.at))
    yield Table(
        "Each stay on air",
        ("wearer", "crew", "connected", "entered", "out", "off air", "wearing time",
         "pressure at connecting", "pressure at the end", "alarms"),
        (_wear_row(teller, wear) for wear in wears.all),
        "nobody connected to air",
    )  # fmt: skip
    if wears.left_out:
        yield Text(f"{wears.left_out} more are not told: too many for a report.", strong=True)
    never = [person for number, person in wears.people.items() if number not in by_wearer]
    yield Table(
        "On the board, never on air",
        ("wearer", "name", "crew"),
        ((f"{p.label} ({p.number})", p.name, p.crew) for p in never),
        "nobody",
    )


def _places(teller: Teller) -> dict[str, int]:
    """Crews in the order of their first wearers on the board; those without a crew last."""
    crews = dict.fromkeys(person.crew for _, person in sorted(teller.found.wears.people.items()))
    return {crew: place if crew else len(crews) for place, crew in enumerate(crews)}


def _bars(teller: Teller, some: list[list[WearRecord]]) -> Overview:
    found = teller.found
    end = found.end_ns
    bars = tuple(
        Bar(
            label=f"{wears[0].label} ({wears[0].number})",
            crew=wears[-1].crew,
            on_air=tuple(w.spell.until(end) for w in wears),
            inside=tuple(s.until(end) for w in wears for s in w.inside),
            silent=tuple(s.until(end) for w in wears for s in teller.heard_of(w)),
            alarms=tuple(m for w in wears for m in marks(teller.alarms_of(w))),
        )
        for wears in some
    )
    spells = [wear.spell.until(end) for wear in found.wears.all]
    orders = tuple(
        (order.given_at_ns, f"{order.order} {order.number}")
        for order in found.orders
        if order.order != "test"
    )
    first = max(0, min(start for start, _ in spells))
    last = max(1, *(to for _, to in spells))
    said = "; ".join(
        f"{wears[-1].label} on air {', '.join(teller.spell(w.spell) for w in wears)}"
        for wears in some
    )
    alt = f"Overview of crews on one axis of time. {said}."
    return Overview("Crews: on air, inside, alarms", alt, first, last, bars, orders)


def _still(teller: Teller, wear: WearRecord) -> str:
    """What whoever is still on air has, on the board at the end."""
    last = teller.found.last
    lines = last.wearers if last else ()
    air = next((line.air for line in lines if line.wearer == wear.number), None)
    if air is None or air.pressure_bar is None or wear.spell.to_ns is not None:
        return NONE
    return f"{teller.pressure(air.pressure_bar, air.source)}, still on air"


def _wear_row(teller: Teller, wear: WearRecord) -> Row:
    first, last = wear.moments[0] if wear.moments else None, wear.last("off air")
    return (
        teller.name_of(wear),
        wear.crew,
        teller.at(wear.spell.from_ns),
        teller.at(wear.entered_ns),
        teller.at(wear.out_ns),
        teller.at(wear.spell.to_ns) or "still on air",
        words.span(wear.spell.length_ns(teller.found.end_ns)),
        teller.pressure(first.bar, first.source) if first else words.NOT_KNOWN,
        teller.pressure(last.bar, last.source) if last else _still(teller, wear),
        " ".join(str(life.number) for life in teller.alarms_of(wear)),
    )
