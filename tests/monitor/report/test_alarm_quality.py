"""Every figure by arithmetic shown; definitions after ISA-18.2 and EEMUA 191, from memory."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from monitor.incident.alarms.catalogue import Kind
from monitor.incident.picture import Priority
from monitor.report.alarm_lives import AlarmLife, Answer, Aside, Spell
from monitor.report.alarm_quality import Flood, Quality, quality
from monitor.report.reading import Told

if TYPE_CHECKING:
    from tests.monitor.report.conftest import Raw

S = 1_000_000_000
MIN = 60 * S
HOUR = 60 * MIN
Make = Callable[..., AlarmLife]


def reckoned(*lives: AlarmLife, length: int = HOUR, under_air: tuple[Spell, ...] = ()) -> Quality:
    return quality(lives, length, under_air)


def spread(make_alarm: Make, *minutes: float) -> list[AlarmLife]:
    """One alarm each, of another wearer each, at these minutes."""
    return [make_alarm(60 * at, wearer=n) for n, at in enumerate(minutes, 1)]


def test_nothing_at_all() -> None:
    q = reckoned()
    assert (q.counted, q.peak, q.floods, q.causes, q.chattering) == (0, 0, (), (), ())
    assert q.per_window() == 0
    assert q.per_window(under_air=True) is None
    assert q.share_of(Priority.DANGER) is None
    assert (q.taking.median_ns, q.top_share) == (None, 0)


def test_less_than_ten_minutes_have_no_average_that_is_more_than_ever_came(
    make_alarm: Make,
) -> None:
    """Eleven in 528 s would be 12.5 in ten minutes."""
    lives = spread(make_alarm, *[n / 2 for n in range(11)])
    q = quality(lives, 528 * S, (Spell(0, 528 * S),))
    assert (q.counted, q.per_window(), q.per_window(under_air=True)) == (11, None, None)
    q = quality(lives, 600 * S, ())
    assert q.per_window() == 11


def test_the_average_is_over_the_whole_and_over_the_time_under_air(make_alarm: Make) -> None:
    """Nine in 60 min: 1.5 in ten. Six of them in the 30 min under air: 2 in ten."""
    lives = spread(make_alarm, 1, 11, 12, 13, 14, 15, 20, 45, 50)
    q = reckoned(*lives, under_air=(Spell(10 * MIN, 30 * MIN), Spell(55 * MIN, None)))
    assert q.under_air_ns == 25 * MIN
    assert q.per_window() == pytest.approx(1.5)
    assert q.counted_under_air == 6
    assert q.per_window(under_air=True) == pytest.approx(6 / 2.5)


def test_notices_interrupt_nobody(make_alarm: Make) -> None:
    q = reckoned(make_alarm(5, kind=Kind.PRE_ALARM), make_alarm(6))
    assert (q.counted, q.peak) == (1, 1)
    assert q.by_priority == {Priority.DANGER: 0, Priority.CAUTION: 1, Priority.NOTICE: 1}
    assert q.share_of(Priority.NOTICE) == 0.5


def test_the_peak_is_the_worst_ten_minutes_wherever_they_begin(make_alarm: Make) -> None:
    """Fixed periods from the opening would see 2 and 3; from minute 8 on there are 5."""
    q = reckoned(*spread(make_alarm, 8, 9, 11, 12, 17.9))
    assert (q.peak, q.peak_ns) == (5, 1_074 * S)


def test_ten_minutes_apart_is_not_within_ten_minutes(make_alarm: Make) -> None:
    assert reckoned(*spread(make_alarm, 0, 10)).peak == 1


def test_periods_over_ten_are_counted_from_the_opening(make_alarm: Make) -> None:
    """Ten in the first period, eleven in the second, of 3: 25 min are two and a half."""
    lives = spread(make_alarm, *(n / 10 for n in range(10)), *(10 + n / 10 for n in range(11)))
    q = reckoned(*lives, length=25 * MIN)
    assert (q.periods, q.periods_over) == (3, 1)


def test_a_flood_begins_with_the_tenth_and_ends_under_five(make_alarm: Make) -> None:
    # One a minute from 0 to 11: the tenth comes at 9. In the ten minutes before 17 there are those
    # after 7: 8, 9, 10 and 11, four. At 9 there are ten, and two come after.
    q = reckoned(*spread(make_alarm, *range(12)))
    assert q.floods == (Flood(9 * MIN, 17 * MIN, 12),)
    assert q.flood_share == pytest.approx(8 / 60)


def test_nine_in_ten_minutes_are_no_flood(make_alarm: Make) -> None:
    assert reckoned(*spread(make_alarm, *range(9))).floods == ()


def test_a_flood_that_goes_on_ends_with_the_record(make_alarm: Make) -> None:
    q = reckoned(*spread(make_alarm, *(50 + n for n in range(10))))
    assert q.floods == (Flood(59 * MIN, 60 * MIN, 10),)


def test_two_floods_are_two(make_alarm: Make) -> None:
    burst = [n / 10 for n in range(10)]
    q = reckoned(*spread(make_alarm, *burst, *(30 + at for at in burst)))
    assert [(f.from_ns, f.began) for f in q.floods] == [(0.9 * MIN, 10), (30.9 * MIN, 10)]


def test_causes_by_kind_the_most_frequent_first(make_alarm: Make) -> None:
    lives = [make_alarm(t, wearer=w) for t, w in ((1, 1), (2, 1), (3, 2))]
    q = reckoned(*lives, make_alarm(4, kind=Kind.LOW_AIR, wearer=2))
    first, second = q.causes
    assert (first.kind, first.times, first.share) == (Kind.NO_SIGNAL, 3, 0.75)
    assert first.subjects == (("1 Alpha 1", 2), ("2 Alpha 2", 1))
    assert (second.kind, second.times) == (Kind.LOW_AIR, 1)
    assert q.top_share == 1


def test_the_ten_most_frequent_of_twelve_alarms(make_alarm: Make) -> None:
    """Wearers 1 to 10 twice, 11 and 12 once: 20 of 22."""
    lives = [make_alarm(n, wearer=w) for n in (0, 700) for w in range(1, 11)]
    q = reckoned(*lives, make_alarm(5, wearer=11), make_alarm(6, wearer=12))
    assert q.top_share == pytest.approx(20 / 22)


def test_three_times_in_a_minute_chatter(make_alarm: Make) -> None:
    """An alarm that is over and comes again has a new number, and is the same alarm."""
    again = [make_alarm(t) for t in (100, 130, 159.9)]
    others = [make_alarm(t, wearer=2) for t in (100, 130, 160)]
    (found,) = reckoned(*again, *others).chattering
    assert (found.subject, found.times, found.at_ns) == ("1 Alpha 1", 3, 100 * S)


def test_a_notice_can_chatter(make_alarm: Make) -> None:
    (found,) = reckoned(make_alarm(1, 2, 3, kind=Kind.PRE_ALARM)).chattering
    assert found.times == 3


def test_stale_after_a_day_long_after_a_wear(make_alarm: Make) -> None:
    exactly = make_alarm(0, lasts_s=86_400)
    over = make_alarm(0, wearer=2, lasts_s=86_400.5)
    half = make_alarm(0, wearer=3, lasts_s=1_800)
    stands = make_alarm(86_400, wearer=4)
    q = reckoned(exactly, over, half, stands, length=25 * HOUR)
    assert [s.subject for s in q.stale] == ["2 Alpha 2"]
    assert [s.subject for s in q.long] == ["1 Alpha 1", "2 Alpha 2", "4 Alpha 4"]


def test_time_to_take_median_and_nine_in_ten(make_alarm: Make) -> None:
    """1 to 10 s: of the two in the middle, 5 and 6, the longer; nine in ten within 9."""
    lives = [make_alarm(n, wearer=n, taken_after_s=n) for n in range(1, 11)]
    q = reckoned(*lives, make_alarm(1, wearer=11), make_alarm(2, kind=Kind.PRE_ALARM))
    assert (q.taking.taken, q.taking.median_ns, q.taking.ninety_ns) == (10, 6 * S, 9 * S)
    assert q.taking.longest_ns == 10 * S
    assert q.taking.not_taken == ((Answer.WAITS, 1),)


def test_nine_in_ten_of_few_is_the_longest(make_alarm: Make) -> None:
    lives = [make_alarm(n, wearer=n, taken_after_s=n) for n in (1, 2, 3)]
    assert reckoned(*lives).taking.ninety_ns == 3 * S


def test_time_to_take_by_priority(make_alarm: Make) -> None:
    q = reckoned(make_alarm(1, taken_after_s=9), make_alarm(1, kind=Kind.LOW_AIR, taken_after_s=4))
    assert q.taking_of[Priority.DANGER].median_ns == 4 * S
    assert q.taking_of[Priority.CAUTION].median_ns == 9 * S


def test_how_putting_aside_was_used(make_alarm: Make) -> None:
    """5 min, and from minute 50 to the end of the hour: 15 min together."""
    life = make_alarm(1)
    life.asides += [
        Aside(Spell(2 * MIN, 7 * MIN), 5, "R. Harrow", "dead spot", "its time was over"),
        Aside(Spell(50 * MIN), 30, "R. Harrow", "dead spot"),
    ]
    q = reckoned(life, make_alarm(3, wearer=2))
    assert (q.aside.times, q.aside.alarms, q.aside.total_ns) == (2, 1, 15 * MIN)
    assert q.aside.by_kind == (("no signal", 2),)


def test_the_golden_journal_against_its_own_announcements(golden: Told, raw: "Raw") -> None:
    """Announcements and acknowledgements are rows of the journal; the rest is arithmetic."""
    said = {one["number"]: one["t"] for _, one in raw.said(4) if not one["again"]}
    taken = sorted(
        t - said[number] for t, act in raw.said(2, "acknowledge") for number in act["alarms"]
    )
    found = golden.gathered
    q = quality(found.lives.in_order(), found.end_ns, found.wears.under_air(found.end_ns))
    assert q.counted == len(said) == 7
    assert q.per_window() == pytest.approx(len(said) * 600e9 / raw.horizon)
    assert q.peak == sum(t <= 600 * S for t in said.values())
    assert q.taking.taken == len(taken) == 7
    assert (q.taking.median_ns, q.taking.longest_ns) == (taken[3], taken[-1])
    # Nine in ten of six are six.
    assert q.taking.ninety_ns == taken[6]
    connected = min(t for t, _ in raw.said(2, "connect"))
    off = max(t for t, _ in raw.said(2, "off_air"))
    assert q.under_air_ns == off - connected
