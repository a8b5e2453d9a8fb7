"""The whole report: what a journal tells as one page, in pieces."""

from collections.abc import Callable, Iterator

from monitor.report import words
from monitor.report.blocks import Section
from monitor.report.heading import CAUTION, use_word
from monitor.report.html import Page, page
from monitor.report.part import Part
from monitor.report.reading import Told
from monitor.report.sections.alarms import alarm_quality, alarms
from monitor.report.sections.each_wear import each_wear
from monitor.report.sections.orders import orders
from monitor.report.sections.overview import overview
from monitor.report.sections.radio import radio
from monitor.report.sections.record import left_out, of_a_stretch, record, summary, timeline
from monitor.report.sections.rules import rules
from monitor.report.teller import Teller

Maker = Callable[[Teller], Section]
MAKERS: tuple[Maker, ...] = (
    summary,
    overview,
    each_wear,
    orders,
    alarms,
    radio,
    alarm_quality,
    timeline,
    rules,
    record,
)
"""In the order of the page."""


PART_MAKERS: tuple[Maker, ...] = (left_out, overview, each_wear, rules, record)
"""Of some wearers or crews alone."""
STRETCH_MAKERS: tuple[Maker, ...] = (
    of_a_stretch,
    overview,
    each_wear,
    orders,
    alarms,
    timeline,
    rules,
    record,
)
"""Of everybody in a stretch of time; figures of the whole are in the whole report."""


def report(told: Told, zone: words.Zone, part: Part | None = None) -> Iterator[str]:
    """The page in pieces; charts are drawn as they are reached, so memory holds one at a time.

    ``part``: only of these wearers and crews, or of that time.
    """
    makers = MAKERS
    if part:
        makers = PART_MAKERS if part.of_some else STRETCH_MAKERS
    teller = Teller(part.of(told) if part else told, zone)
    opened = teller.opened
    door = f", entry {opened.entry_point}" if opened.entry_point else ""
    exercise = told.header.use == "exercise" and told.gathered.real is None
    span = f"{teller.moment(0)} to {teller.moment(teller.found.end_ns)}"
    return page(
        Page(
            title=f"{opened.name}{door}: report of {part.words if part else 'the incident'}",
            use="REAL INCIDENT" if use_word(told) == "REAL" else use_word(told),
            exercise=exercise,
            subtitle=f"{opened.place + ', ' if opened.place else ''}{span}",
            caution=CAUTION,
            sections=tuple(make(teller) for make in makers),
        )
    )
