import json
from collections.abc import Callable

import pytest

from monitor.incident.alarms.catalogue import Kind
from monitor.report.alarm_figures import Figure, fields, figures, text
from monitor.report.alarm_lives import AlarmLife, Spell
from monitor.report.alarm_quality import Quality, quality

S = 1_000_000_000
HOUR = 3_600 * S
Make = Callable[..., AlarmLife]


def reckoned(*lives: AlarmLife) -> Quality:
    return quality(lives, HOUR, [Spell(0, HOUR)])


def of(q: Quality, what: str, source: str = "ISA") -> Figure:
    (found,) = [f for f in figures(q) if f.what.startswith(what) and f.source.startswith(source)]
    return found


@pytest.mark.parametrize(
    ("an_hour", "isa", "eemua"),
    [
        # ISA-18.2: about 1 in ten minutes acceptable, about 2 the most. EEMUA 191: under 1
        # acceptable, 1 per 5 min manageable, 1 per 2 min likely over-demanding, over 1 per min
        # unacceptable. Both from memory. Six an hour are one in ten minutes.
        (5, "acceptable", "acceptable"),
        (6, "acceptable", "manageable"),
        (12, "can be managed", "manageable"),
        (13, "over", "likely over-demanding"),
        (60, "over", "likely over-demanding"),
        (61, "over", "unacceptable"),
    ],
)
def test_the_average_beside_both(make_alarm: Make, an_hour: int, isa: str, eemua: str) -> None:
    q = reckoned(*(make_alarm(n * 59, wearer=n + 1) for n in range(an_hour)))
    assert of(q, "alarms in ten minutes, average").judged == isa
    assert of(q, "alarms in ten minutes, average", "EEMUA").judged == eemua


@pytest.mark.parametrize(
    ("number", "isa", "eemua"),
    [
        # After an upset (EEMUA 191, from memory): under 10 manageable, 20 to 100 hard to cope
        # with, over 100 excessive. 10 to 19 is nowhere named: the worse word.
        (9, "within", "manageable"),
        (10, "within", "hard to cope with"),
        (11, "over", "hard to cope with"),
        (101, "over", "excessive"),
    ],
)
def test_the_peak_beside_both(make_alarm: Make, number: int, isa: str, eemua: str) -> None:
    q = reckoned(*(make_alarm(n, wearer=n + 1) for n in range(number)))
    assert of(q, "most alarms in any ten minutes").judged == isa
    assert of(q, "most alarms in any ten minutes", "EEMUA").judged == eemua


def test_a_flood_is_over(make_alarm: Make) -> None:
    q = reckoned(*(make_alarm(n, wearer=n + 1) for n in range(11)))
    assert of(q, "time in flood").judged == "over"
    assert of(q, "periods").here == "16.7 % (1 of 6)"
    assert of(reckoned(), "time in flood").judged == "within"


def test_shares_of_few_alarms_are_not_judged(make_alarm: Make) -> None:
    q = reckoned(make_alarm(1), make_alarm(2, wearer=2), make_alarm(3, kind=Kind.PRE_ALARM))
    assert of(q, "share of priority caution").here == "66.7 % (2 of 3)"
    # What counts for us is cut off.
    assert of(q, "share of priority notice").here == "33.3 % (1 of 3)"
    assert of(q, "share of priority notice").judged.startswith("not judged")
    assert of(q, "share of the ten").judged.startswith("not judged")


def test_shares_of_many_are(make_alarm: Make) -> None:
    """16 notices, 3 cautions and 1 danger of 20: 80, 15 and 5 %, as the standard has it."""
    notices = [make_alarm(n * 100, kind=Kind.PRE_ALARM, wearer=n) for n in range(1, 17)]
    cautions = [make_alarm(n * 100, wearer=n) for n in range(1, 4)]
    danger = make_alarm(5, kind=Kind.LOW_AIR)
    judged = [
        f.judged
        for f in figures(reckoned(*notices, *cautions, danger))
        if "share of priority" in f.what
    ]
    assert judged == ["within"] * 3
    q = reckoned(*notices, *cautions, danger, make_alarm(6, kind=Kind.LOW_AIR, wearer=2))
    judged = [f.judged for f in figures(q) if "share of priority" in f.what]
    assert judged == ["over", "within", "under"]


def test_the_ten_most_frequent_are_judged_among_many(make_alarm: Make) -> None:
    q = reckoned(*(make_alarm(n * 15, wearer=n % 5 + 1) for n in range(200)))
    assert of(q, "share of the ten").judged == "over"


def test_chattering_and_standing_are_over_with_the_first(make_alarm: Make) -> None:
    q = reckoned(make_alarm(1, 2, 3))
    assert of(q, "chattering").judged == "over"
    assert of(q, "standing for more than 30 min", "our own").judged == "over"
    assert of(q, "stale").judged == "within"


def test_every_published_figure_says_that_it_is_from_memory() -> None:
    sources = {f.source for f in figures(reckoned())}
    assert {s for s in sources if "memory" not in s} == {"", "our own choice"}


def test_the_text_says_it_all(make_alarm: Make) -> None:
    life = make_alarm(1, 2, 3, taken_after_s=4.21)
    told = text(reckoned(life, make_alarm(5, kind=Kind.LOW_AIR, wearer=2)))
    assert "4 alarms waited for the officer, 0 notices beside" in told
    assert "in 1 h 0 min 0 s, of which 1 h 0 min 0 s under air" in told
    # A time to answer goes up.
    assert "time to acknowledge, caution: median 4.3 s, nine in ten within 4.3 s" in told
    assert "   3 no signal (75.0 %): 1 Alpha 1 (3)" in told
    assert "chattering: no signal, 1 Alpha 1: 3 times in a minute" in told
    assert "stood long: no signal, 1 Alpha 1: 59 min 59 s" in told
    assert "not acknowledged, still waits: 1" in told


def test_a_flood_stands_in_the_text(make_alarm: Make) -> None:
    told = text(reckoned(*(make_alarm(n, wearer=n + 1) for n in range(10))))
    assert "flood: 10 alarms, 9 min 56 s" in told


def test_the_fields_are_not_rounded(make_alarm: Make) -> None:
    q = reckoned(*(make_alarm(n, wearer=n, taken_after_s=1.2345) for n in range(1, 8)))
    read = json.loads(json.dumps(fields(q)))
    assert read["average_per_10_min"] == pytest.approx(7 / 6, abs=1e-12)
    assert read["acknowledged"]["caution"]["median_s"] == 1.2345
    assert read["acknowledged"]["danger"] == {
        "times": 0, "median_s": None, "ninety_percent_s": None, "longest_s": None, "others": {},
    }  # fmt: skip
    assert read["priorities"] == {"danger": 0, "caution": 7, "notice": 0}
    assert len(read["figures"]) == len(figures(q))
