"""The quality of alarms beside the published figures, as a table, as text and as fields. Pure.

The figures are those of ANSI/ISA-18.2 (2016, the same idea as IEC 62682) and of EEMUA 191. Neither
text was at hand: they are given from memory, and each says so. Both are made for plants that run
steadily; an incident is an upset from its first minute. They tell where to look, not whether an
officer did well.
"""

from collections.abc import Iterator
from typing import NamedTuple

from monitor.incident.picture import Priority
from monitor.report import words
from monitor.report.alarm_quality import FLOOD_BEGINS, FLOOD_ENDS_UNDER, Quality, Taking

ISA = "ISA-18.2 (2016), from memory"
EEMUA = "EEMUA 191, from memory"
ISA_ACCEPTABLE, ISA_MOST = 1.0, 2.0
"""Alarms in ten minutes on average."""
EEMUA_BANDS = (
    (1.0, "acceptable"),
    (2.0, "manageable"),
    (10.0, "likely over-demanding"),
)
"""The same; more than the last is unacceptable. Between two figures the worse word holds."""
PEAK_MOST = 10
UPSET_BANDS = ((9, "manageable"), (100, "hard to cope with"))
"""Alarms in the first ten minutes after an upset; more than the last is excessive."""
SHARE_MOST = 0.01
"""Of periods with more than ten alarms, and of time in flood."""
TOP_SHARE_MOST = 0.05
TOP_JUDGED_FROM = 200
"""Ten alarms are more than 5 % of anything less."""
STALE_UNDER = 5
PRIORITY_SHARES = {Priority.DANGER: 0.05, Priority.CAUTION: 0.15, Priority.NOTICE: 0.80}
SHARES_JUDGED_FROM = 20
"""One of fewer than that is more than 5 %."""
WITHIN, OVER, NOT_JUDGED = "within", "over", "not judged"
TOO_FEW = f"{NOT_JUDGED}: too few alarms"

PRIORITY_WORDS = {
    Priority.DANGER: "danger",
    Priority.CAUTION: "caution",
    Priority.NOTICE: "notice",
}
COUNTED = (
    "Counted is each time a danger or caution began to wait for the officer. Notices want no "
    "answer: they count in the shares of priorities and as chattering."
)
STANDARDS = (
    "ISA-18.2 is the standard of the International Society of Automation on managing alarms; EEMUA "
    "191 is the guide of the Engineering Equipment and Materials Users' Association."
)
PLANTS = (
    "Both standards are about plants that run steadily; an incident is an upset from its first "
    "minute. The figures show where to look. They do not say whether an officer did well."
)


class Figure(NamedTuple):
    """One figure of this incident beside a published one."""

    what: str
    here: str
    published: str
    source: str
    judged: str


def figures(q: Quality) -> tuple[Figure, ...]:
    """Every figure with what it is held against."""
    return (*_rates(q), *_kinds(q), *_shares(q), *_answers(q))


def _rates(q: Quality) -> Iterator[Figure]:
    steady = f"at most {ISA_ACCEPTABLE:g} acceptable, {ISA_MOST:g} the most that can be managed"
    for what, rate, count, length in (
        ("alarms in ten minutes, average", q.per_window(), q.counted, q.length_ns),
        (
            "the same while anybody was under air",
            q.per_window(under_air=True), q.counted_under_air, q.under_air_ns,
        ),
    ):  # fmt: skip
        here = words.tenth_up(rate)
        if rate is None:
            here = f"{count} in {words.span(length)}: too short for an average"
        yield Figure(what, here, steady, ISA, _isa_rate(rate))
        bands = "under 1 acceptable, 2 manageable, 5 likely over-demanding, over 10 unacceptable"
        yield Figure(what, here, bands, EEMUA, _eemua_rate(rate))
    peak = str(q.peak)
    what = "most alarms in any ten minutes"
    yield Figure(what, peak, f"at most {PEAK_MOST}", ISA, _most(q.peak, PEAK_MOST))
    upset = "after an upset: under 10 manageable, 20 to 100 hard to cope with, over 100 excessive"
    judged = next((word for most, word in UPSET_BANDS if q.peak <= most), "excessive")
    yield Figure(what, peak, upset, EEMUA, judged)
    share = q.periods_over / q.periods
    here = f"{words.percent_up(share)} ({q.periods_over} of {q.periods})"
    what = "periods of ten minutes with more than ten"
    yield Figure(what, here, "under 1 %", ISA, _under(share, SHARE_MOST))
    here = f"{words.percent_up(q.flood_share)} ({words.counted(len(q.floods), 'flood')})"
    what = f"time in flood: from {FLOOD_BEGINS} in ten minutes until under {FLOOD_ENDS_UNDER}"
    yield Figure(what, here, "under 1 %", ISA, _under(q.flood_share, SHARE_MOST))


def _isa_rate(rate: float | None) -> str:
    if rate is None:
        return NOT_JUDGED
    if rate <= ISA_ACCEPTABLE:
        return "acceptable"
    return "can be managed" if rate <= ISA_MOST else OVER


def _eemua_rate(rate: float | None) -> str:
    if rate is None:
        return NOT_JUDGED
    if rate < EEMUA_BANDS[0][0]:
        return EEMUA_BANDS[0][1]
    return next((word for most, word in EEMUA_BANDS[1:] if rate <= most), "unacceptable")


def _kinds(q: Quality) -> Iterator[Figure]:
    judged = _under(q.top_share, TOP_SHARE_MOST) if q.counted >= TOP_JUDGED_FROM else TOO_FEW
    here = words.percent_up(q.top_share if q.counted else None)
    yield Figure("share of the ten most frequent", here, "under 1 to 5 %", ISA, judged)
    here = str(len(q.chattering))
    rule = f"{ISA}; three in a minute as the first sieve: from memory too"
    what = "chattering: three or more times in a minute"
    yield Figure(what, here, "none", rule, _most(len(q.chattering), 0))
    here = str(len(q.stale))
    judged = WITHIN if len(q.stale) < STALE_UNDER else OVER
    yield Figure("stale: standing for more than 24 h", here, "under 5 on any day", ISA, judged)
    here = str(len(q.long))
    what = "standing for more than 30 min, about one wear"
    yield Figure(what, here, "none", "our own choice", _most(len(q.long), 0))


def _shares(q: Quality) -> Iterator[Figure]:
    total = sum(q.by_priority.values())
    for priority, most in PRIORITY_SHARES.items():
        share = q.share_of(priority)
        shown = words.percent_down if priority is Priority.NOTICE else words.percent_up
        here = f"{shown(share)} ({q.by_priority[priority]} of {total})"
        judged = TOO_FEW if total < SHARES_JUDGED_FROM else _near(priority, share or 0.0, most)
        what = f"share of priority {PRIORITY_WORDS[priority]}"
        yield Figure(what, here, f"about {most * 100:.0f} %", ISA, judged)


def _near(priority: Priority, share: float, most: float) -> str:
    """Urgent ones must not be more than their share, the least urgent not fewer."""
    if priority is Priority.NOTICE:
        return WITHIN if share >= most else "under"
    return WITHIN if share <= most else OVER


def _answers(q: Quality) -> Iterator[Figure]:
    for what, taking in _takings(q):
        here = (
            f"median {words.seconds_up(taking.median_ns)}, nine in ten within "
            f"{words.seconds_up(taking.ninety_ns)}"
            if taking.taken
            else "none taken"
        )
        yield Figure(f"time to acknowledge, {what}", here, "no figure in either", "", NOT_JUDGED)
    aside = f"{words.counted(q.aside.times, 'time')}, {words.span(q.aside.total_ns)} together"
    asked = "none without authority"
    by_design = "within: each with a name, a reason and an end"
    yield Figure("put aside", aside, asked, ISA, by_design)


def _takings(q: Quality) -> Iterator[tuple[str, Taking]]:
    yield "dangers and cautions", q.taking
    for priority, taking in q.taking_of.items():
        yield PRIORITY_WORDS[priority], taking


def _most(value: int, most: int) -> str:
    return WITHIN if value <= most else OVER


def _under(value: float, limit: float) -> str:
    return WITHIN if value < limit else OVER


# ---------------------------------------------------------------- text


def text(q: Quality) -> str:
    """Everything as lines for a terminal."""
    return "\n".join(_lines(q))


def _lines(q: Quality) -> Iterator[str]:
    waited = words.counted(q.counted, "alarm")
    noted = words.counted(q.by_priority[Priority.NOTICE], "notice")
    yield f"{waited} waited for the officer, {noted} beside"
    yield f"in {words.span(q.length_ns)}, of which {words.span(q.under_air_ns)} under air"
    yield ""
    before = ""
    for figure in figures(q):
        if figure.what != before:
            before = figure.what
            yield f"{figure.what}: {figure.here}"
        source = f" ({figure.source})" if figure.source else ""
        yield f"    {figure.judged}; {figure.published}{source}"
    yield ""
    yield from _details(q)
    yield ""
    yield COUNTED
    yield PLANTS


def _details(q: Quality) -> Iterator[str]:
    yield "what began to wait most often"
    for cause in q.causes:
        whose = ", ".join(f"{subject} ({times})" for subject, times in cause.subjects)
        yield f"    {cause.times:4} {cause.word} ({words.percent_up(cause.share)}): {whose}"
    if not q.causes:
        yield "    nothing"
    for chatter in q.chattering:
        yield f"chattering: {chatter.word}, {chatter.subject}: {chatter.times} times in a minute"
    for standing in q.long:
        length = words.span(standing.spell.length_ns(q.length_ns))
        yield f"stood long: {standing.word}, {standing.subject}: {length}"
    for flood in q.floods:
        length = words.span(flood.to_ns - flood.from_ns)
        yield f"flood: {words.counted(flood.began, 'alarm')}, {length}"
    for answer, times in q.taking.not_taken:
        yield f"not acknowledged, {answer}: {times}"
    yield f"announced again because nobody took it: {words.counted(q.again, 'time')}"
    yield f"held back by the rules: {words.counted(q.held_back, 'time')}"


# ---------------------------------------------------------------- fields


def fields(q: Quality) -> dict[str, object]:
    """Everything for a program; nothing is rounded. README.md has the list."""
    return {
        "length_s": _s(q.length_ns),
        "under_air_s": _s(q.under_air_ns),
        "alarms": q.counted,
        "alarms_under_air": q.counted_under_air,
        "average_per_10_min": q.per_window(),
        "average_per_10_min_under_air": q.per_window(under_air=True),
        "peak_per_10_min": q.peak,
        "peak_ends_s": _s(q.peak_ns),
        "periods": q.periods,
        "periods_over_10": q.periods_over,
        "floods": [
            {"from_s": _s(f.from_ns), "to_s": _s(f.to_ns), "alarms": f.began} for f in q.floods
        ],
        "flood_share": q.flood_share,
        "causes": [
            {
                "kind": cause.kind.value,
                "alarms": cause.times,
                "share": cause.share,
                "subjects": dict(cause.subjects),
            }
            for cause in q.causes
        ],
        "top_ten_share": q.top_share,
        "chattering": [
            {"word": c.word, "subject": c.subject, "at_s": _s(c.at_ns), "times": c.times}
            for c in q.chattering
        ],
        "stale": len(q.stale),
        "long": len(q.long),
        "priorities": {PRIORITY_WORDS[p]: times for p, times in q.by_priority.items()},
        "acknowledged": {what: _taking_fields(taking) for what, taking in _takings(q)},
        "put_aside": {
            "times": q.aside.times,
            "alarms": q.aside.alarms,
            "together_s": _s(q.aside.total_ns),
            "kinds": dict(q.aside.by_kind),
        },
        "held_back": q.held_back,
        "announced_again": q.again,
        "figures": [figure._asdict() for figure in figures(q)],
    }


def _taking_fields(taking: Taking) -> dict[str, object]:
    return {
        "times": taking.taken,
        "median_s": _s(taking.median_ns),
        "ninety_percent_s": _s(taking.ninety_ns),
        "longest_s": _s(taking.longest_ns),
        "others": {answer.value: times for answer, times in taking.not_taken},
    }


def _s(ns: int | None) -> float | None:
    return None if ns is None else ns / words.SECOND_NS
