"""Each wear in a report: what is recorded, its chart, entries, alarms and orders."""

from collections.abc import Iterator

from monitor.incident import units
from monitor.incident.picture import FALLING
from monitor.report import words
from monitor.report.blocks import Block, Chart, Facts, Heading, Row, Section, Table, Text
from monitor.report.charts import wear_chart
from monitor.report.sections.alarms import brief_alarms
from monitor.report.sections.orders import ANSWERS, answers
from monitor.report.sections.wear_curves import SIGNS, curves, letters
from monitor.report.sections.wear_facts import facts
from monitor.report.teller import NONE, Teller
from monitor.report.wears import Sample, WearRecord

CHARTS_MAX = 500
"""Wears that are drawn; of more the tables tell. A chart takes a millisecond and 3 kB."""
READINGS_MAX = 5
"""Rows of the table of readings of one wear: what a reader needs; an export has all of them."""


def each_wear(teller: Teller) -> Section:
    """Each stay on air with everything that is recorded of it."""
    return Section("wearers", "Wearers", _each_wear(teller))


def _each_wear(teller: Teller) -> Iterator[Block]:
    wears = teller.found.wears.all
    if not wears:
        yield Text("Nobody connected to air.")
    if len(wears) > CHARTS_MAX:
        yield Text(f"The first {CHARTS_MAX} stays on air are drawn, all are told.", strong=True)
    if wears:
        yield Text(SIGNS)
    for index, wear in enumerate(wears):
        yield Heading(teller.name_of(wear), f"wear-{index + 1}")
        yield Facts("What is recorded", tuple(facts(teller, wear)))
        if index < CHARTS_MAX:
            drawn = curves(teller, wear)
            yield Chart(wear_chart(drawn, f"w{index + 1}", teller.clock, teller.found.wall.at))
            yield Text(letters(wear))
        yield from _tables(teller, wear)


def _tables(teller: Teller, wear: WearRecord) -> Iterator[Block]:
    yield Table(
        "Entries",
        ("time", "what", "words", "pressure on the board", "by", "logged at"),
        (
            (
                teller.at(m.t), m.what, m.words, teller.pressure(m.bar, m.source), m.by,
                teller.at(m.logged_ns) if m.logged_ns != m.t else NONE,
            )
            for m in sorted(wear.moments, key=lambda moment: moment.t)
        ),
    )  # fmt: skip
    if wear.moments_left_out:
        yield Text(f"{wear.moments_left_out} more entries are not told.", strong=True)
    yield Table("Readings and estimates", *_readings(teller, wear))
    yield brief_alarms("Alarms", teller, teller.alarms_of(wear))
    yield Table("Orders", ("order", "given", *ANSWERS), _orders(teller, wear), "none was given")
    yield Table(
        "Nothing heard of the pack",
        ("from", "to", "how long"),
        (
            (
                teller.at(s.from_ns),
                teller.at(s.to_ns) or "goes on",
                words.span(s.length_ns(teller.found.end_ns)),
            )
            for s in teller.heard_of(wear)
        ),
        "never for longer than a signal gap",
    )


def _readings(teller: Teller, wear: WearRecord) -> tuple[Row, Iterator[Row]]:
    samples = wear.samples
    share = max(1, -(-len(samples) // READINGS_MAX))
    kept = samples[::share]
    head = ("time", "pressure", "from", "air left", "rate, litres a minute")
    rows = (
        (
            teller.at(s.t),
            teller.pressure(s.bar, s.source),
            s.source.value,
            teller.left(s.contents_l),
            _rate(s),
        )
        for s in kept
    )
    return head, rows


def _rate(sample: Sample) -> str:
    """The rate; none beside an estimate, where it would be an old one."""
    if sample.rate_l_min is None or sample.source in FALLING:
        return NONE
    return str(units.up(sample.rate_l_min))


def _orders(teller: Teller, wear: WearRecord) -> Iterator[Row]:
    _, end = wear.spell.until(teller.found.end_ns)
    for order in teller.found.orders:
        for line in order.lines:
            began = order.given_at_ns
            if line.wearer == wear.number and wear.spell.from_ns <= began <= end:
                what = f"{order.number} {order.order}"
                yield what, teller.at(began), *answers(teller, order, line)
