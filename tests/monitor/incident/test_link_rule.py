"""The out-of-range rule against the arithmetic of runs, urns and links that are known.

A run of at least k losses begins, in each report of a link of Gilbert's with loss l and bursts of
mean length L, with the chance l (1 - a) a^(k-1), a = 1 - 1 / L (Feller, An Introduction to
Probability Theory and Its Applications, vol. 1, ch. XIII). The chance of j draws of one colour from
Polya's urn is a product of quotients (the same, ch. V).
"""

import math
from fractions import Fraction
from random import Random

import pytest

from monitor.incident.link_rule import (
    Counted,
    Link,
    LinkHistory,
    LinkRule,
    alike,
    at_start,
    link_of,
    long_reports,
    missed_in,
    reports_for,
    rule_of,
    tell_fleet,
)
from protocol.freshness import SequenceAccount

S = 1_000_000_000
FADE = (1 - 1 / 1200) ** 5
"""What a report of 5 s leaves of those before it."""


# ---------------------------------------------------------------- the least run that will do


def known_link(loss: float, burst: float, first: int) -> Link:
    """A link of which all is known: the urn is so full that drawing changes nothing."""
    again, much = 1 - 1 / burst, 1e12
    begins = loss * (1 - again) * again ** (first - 1)
    return Link(loss, burst, first, begins, again * much, (1 - again) * much)


@pytest.mark.parametrize(
    ("interval_s", "loss", "alone", "threes", "fives"),
    [
        (5, 0.1, (3, 4, 5), (9, 15, 21), (13, 24, 34)),
        (5, 0.2, (4, 6, 7), (11, 17, 22), (17, 27, 37)),
        (5, 0.4, (7, 10, 12), (13, 18, 24), (20, 30, 40)),
        (20, 0.2, (4, 5, 6), (8, 13, 19), (10, 21, 31)),
        (1, 0.2, (5, 7, 8), (15, 21, 26), (24, 34, 44)),
    ],
)
def test_reports_for_one_false_alarm_in_an_hour_in_ten_in_a_hundred(
    interval_s: int,
    loss: float,
    alone: tuple[int, ...],
    threes: tuple[int, ...],
    fives: tuple[int, ...],
) -> None:
    """Losses each on its own, in bursts of three, of five; worked out by an independent program."""
    for burst, expected in ((1 / (1 - loss), alone), (3.0, threes), (5.0, fives)):
        link = known_link(loss, burst, 3)
        shares = [an_hour * interval_s / 3600 for an_hour in (1, 0.1, 0.01)]
        assert tuple(reports_for(link, share, 99) for share in shares) == expected


def test_of_a_known_link_it_is_the_formula_with_logarithms() -> None:
    random = Random(1)
    for _ in range(2_000):
        loss, burst = random.uniform(0.001, 0.6), random.uniform(1.05, 9)
        share = random.uniform(0.01, 1) / 720
        again = 1 - 1 / burst
        reports = 1 + math.ceil(math.log(share / (loss * (1 - again))) / math.log(again))
        ours = reports_for(known_link(loss, burst, 2), share, 60)
        assert ours == min(max(reports, 3), 60)


def test_of_a_link_hardly_known_it_is_the_urn() -> None:
    """Two long gaps that went on for 7 reports: Beta(7, 2). The integral over all a is a product.

    Of j more: B(7 + j, 2) / B(7, 2) = 7 x 8 / ((7 + j) (8 + j)), from the factorials.
    """
    link = Link(0.2, 5, 3, 0.01, 7, 2)
    for share in (0.009, 0.004, 0.001, 0.0003):
        more = next(
            j for j in range(99) if Fraction(56, (7 + j) * (8 + j)) * Fraction(1, 100) <= share
        )
        assert reports_for(link, share, 99) == 3 + more
    # As well known as a link can be with that mean, 7 / 9, it would wait for much less.
    sure = Link(0.2, 5, 3, 0.01, 7e9, 2e9)
    assert reports_for(sure, 0.0003, 99) < reports_for(link, 0.0003, 99)


# ---------------------------------------------------------------- what a link has taught


def told(lost: "set[int]", reports: int) -> tuple[LinkHistory, SequenceAccount]:
    """A link on which these numbers, one each 5 s, did not come."""
    history, account = LinkHistory(), SequenceAccount()
    for number in range(1, reports + 1):
        if number not in lost:
            gap = account.take(1, number)
            if gap:
                history.follow(account, 5, gap)
    return history, account


def test_a_gap_is_long_from_fifteen_seconds_and_two_reports_on() -> None:
    assert [long_reports(s) for s in (1, 2, 4, 5, 7, 8, 15, 60)] == [15, 8, 4, 3, 3, 2, 2, 2]


def test_reports_missed_are_those_that_the_rule_would_wait_for() -> None:
    """As the rule has it, k T + J: 16 s are three of 5 s, a nanosecond less is two."""
    assert [missed_in(t, 5) for t in (0, S, 16 * S - 1, 16 * S, 20 * S)] == [0, 0, 2, 3, 3]
    assert missed_in(92 * S, 1) == 91


def test_history_is_every_report_with_a_weight_that_fades() -> None:
    """The same sums report by report: each makes all before it count less."""
    random = Random(2)
    lost = {n for n in range(2, 900) if random.random() < 0.2}
    lost |= {n + k for n in range(100, 900, 90) for k in range(7)}
    history, account = told(lost, 900)
    sent = missing = bursts = long = beyond = 0.0
    run = 0
    for number in range(1, 901):
        gone = number in lost
        sent = sent * FADE + 1
        missing = missing * FADE + gone
        bursts = bursts * FADE + (gone and run == 0)
        ended = not gone and run >= 3
        long = long * FADE + ended
        beyond = beyond * FADE + (run - 3 if ended else 0)
        run = run + 1 if gone else 0
    ours = history.counted(account, 5)
    assert ours.sent == pytest.approx(sent, rel=1e-9)
    assert ours.lost == pytest.approx(missing, rel=1e-9)
    # Whether a burst counts from its first or its last report makes a little difference.
    assert ours.bursts == pytest.approx(bursts, rel=0.02)
    assert ours.long == pytest.approx(long, rel=1e-9)
    assert ours.beyond == pytest.approx(beyond, rel=1e-9)


def test_a_memory_is_twenty_minutes_or_240_reports() -> None:
    """The sum of all weights: 1 / (1 - fade). Of 1 s 1,200 reports, of 5 s and more 240."""
    for interval_s, expected in ((1, 1200), (2, 600), (5, 240.4), (15, 240.4)):
        history, account = LinkHistory(), SequenceAccount()
        account.taken = 60_000
        assert history.counted(account, interval_s).sent == pytest.approx(expected, rel=2e-3)


def test_lone_losses_do_not_hide_long_gaps() -> None:
    """A mean over all runs would be 1.2; of eight lost in a row once in 200 five are beyond."""
    lost = set(range(10, 6_000, 10)) | {n + k for n in range(101, 6_000, 200) for k in range(8)}
    history, account = told(lost, 6_000)
    ours = history.counted(account, 5)
    assert ours.beyond / ours.long == pytest.approx(8 - 3 + 1, abs=1.01)
    assert ours.long / ours.sent == pytest.approx(1 / 200, rel=0.2)


def test_a_silence_longer_than_any_limit_teaches_no_more_than_the_limit() -> None:
    history, account = LinkHistory(), SequenceAccount()
    account.take(1, 1)
    account.take(1, 500)
    history.follow(account, 5, 498)
    assert (history.long, history.beyond) == (1, 18 - 3)


def test_frames_that_come_late_take_their_losses_back_and_the_long_gap() -> None:
    history, account = told(set(range(10, 15)), 20)
    before = history.counted(account, 5)
    assert before.lost == pytest.approx(5, rel=0.05)
    left = []
    for number in range(10, 15):
        assert account.take(1, number) == -1
        history.follow(account, 5, 0)
        left.append((history.long, history.beyond))
    # Of five lost four are left, three, then two, which are no long gap.
    assert left == [(1, 1), (1, 0), (0, 0), (0, 0), (0, 0)]
    after = history.counted(account, 5)
    assert after.lost == pytest.approx(0, abs=0.2)
    assert after.long == pytest.approx(0, abs=0.1)


def test_asking_changes_nothing() -> None:
    history, account = told({5, 6, 7, 30}, 50)
    first = history.counted(account, 5)
    assert [history.counted(account, 5) for _ in range(3)] == [first] * 3


def test_news_are_told_once() -> None:
    history, account = told({5, 6, 7, 8, 30}, 50)
    assert history.news(account) == Counted(50, 5, 2, 1, 1)
    assert history.news(account) == Counted()


def test_the_fleet_counts_ten_thousand_reports() -> None:
    fleet = Counted()
    for _ in range(200):
        tell_fleet(fleet, Counted(100, 20, 4, 2, 8))
    assert fleet.sent == pytest.approx(10_000)
    assert fleet.long == pytest.approx(200)


# ---------------------------------------------------------------- what is taken for a link


def test_a_link_of_which_nothing_is_known() -> None:
    """0.15 long gaps in 200 s, 40 reports of 5 s; of two of them, 3 reports beyond."""
    link = link_of(Counted(), at_start(5))
    assert link.long == pytest.approx(0.15 / 40)
    assert (link.goes_on, link.ends) == pytest.approx((3, 2))
    assert link.loss == pytest.approx(0.2)
    assert link.burst == pytest.approx(5)
    slow = link_of(Counted(), at_start(15))
    assert slow.long == pytest.approx(0.15 / (200 / 15))
    assert (slow.goes_on, slow.ends) == pytest.approx((1, 2))


def test_what_is_known_weighs_more_than_the_fleet_and_the_fleet_more_than_the_start() -> None:
    """Own: 4 gaps in 360 reports, 16 beyond. Fleet: 60 gaps in 2,960 reports, 297 beyond.

    Rate: (4 + 40 x 60.15 / 3000) / (360 + 40). Of the fleet's gaps 62 with the start's two; ten of
    them count: 300 x 10 / 62 beyond.
    """
    link = link_of(Counted(360, 30, 10, 4, 16), alike(Counted(2_960, 300, 90, 60, 297), 5))
    assert link.long == pytest.approx((4 + 40 * 60.15 / 3000) / 400)
    assert link.goes_on == pytest.approx(16 + 300 * 10 / 62)
    assert link.ends == pytest.approx(4 + 10)
    assert link.again == pytest.approx(link.goes_on / (link.goes_on + link.ends))


# ---------------------------------------------------------------- the limit


def fresh(interval_s: int, wearers: int, limit_s: float = 90, heard: int = 0) -> LinkRule:
    """Of a link that has lost nothing, in a fleet that has told nothing."""
    link = link_of(Counted(sent=heard), at_start(interval_s))
    return rule_of(link, interval_s, wearers, limit_s, known=True)


@pytest.mark.parametrize(
    ("wearers", "heard", "reports"),
    [(1, 0, 6), (2, 0, 8), (4, 0, 11), (1, 20, 5), (4, 40, 8), (12, 40, 14), (12, 240, 7)],
)
def test_reports_waited_for_on_a_link_without_a_loss(
    wearers: int, heard: int, reports: int
) -> None:
    """0.15 / (40 + heard), and of Beta(3, 2) 3 x 4 / ((3 + j) (4 + j)); shared by all."""
    share, begins = 5 / 3600 / wearers, 0.15 / (40 + heard)
    by_hand = next(j for j in range(99) if begins * 12 / ((3 + j) * (4 + j)) <= share)
    assert 3 + by_hand == reports
    assert fresh(5, wearers, heard=heard).reports == reports


@pytest.mark.parametrize(
    ("interval_s", "wearers", "limit_s", "limit_ns"),
    [
        (5, 4, 90, 56 * S),
        (10, 1, 90, 41 * S),  # 0.15 / 20 x (1.5 / 3.5) (2.5 / 4.5) <= 10 / 3600: two beyond two
        (60, 4, 90, 91 * S),  # held down to 90 s
        (5, 4, 40, 41 * S),  # the procedure's own limit
        (5, 12, 30, 31 * S),
        (7, 12, 61.5, 62 * S + S // 2),
        (5, 1, 90, 31 * S),
    ],
)
def test_the_limit_is_held_between_fixed_seconds(
    interval_s: int, wearers: int, limit_s: float, limit_ns: int
) -> None:
    assert fresh(interval_s, wearers, limit_s).limit_ns == limit_ns


def test_a_link_that_loses_nothing_for_days_is_held_to_the_least() -> None:
    assert fresh(5, 12, heard=100_000).limit_ns == 31 * S


def test_a_pack_never_heard_has_nine_reports() -> None:
    rule = rule_of(link_of(Counted(), at_start(5)), 5, 12, 90, known=False)
    assert (rule.limit_ns, rule.reports, rule.wearers, rule.known) == (46 * S, 9, 1, False)


def test_nobody_under_air_is_as_one() -> None:
    assert fresh(5, 0) == fresh(5, 1)


def test_what_the_rule_says_of_itself() -> None:
    link = Link(0.2, 5, 3, 0.02, 8, 2)
    rule = rule_of(link, 5, 4, 90, known=True)
    assert (rule.interval_s, rule.wearers, rule.loss) == (5, 4, 0.2)
    assert rule.long_an_hour == pytest.approx(0.02 * 720)
    assert rule.long_s == pytest.approx((3 + 8 / 2) * 5)
    # Held to 90 s: the formula alone would wait for longer.
    assert (rule.limit_ns, rule.reports) == (91 * S, 18)
