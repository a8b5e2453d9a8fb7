"""The out-of-range rule against the arithmetic of runs.

Feller, An Introduction to Probability Theory and Its Applications, vol. 1, ch. XIII: with losses
each on its own with chance q, the first run of k of them takes (1 - q^k) / ((1 - q) q^k) trials on
average. Figures given to six digits were worked out by an independent program.
"""

import math
from random import Random

import pytest

from monitor.incident.link_rule import (
    LinkHistory,
    LinkRule,
    reports_for,
    rule_of,
    runs_per_report,
)
from protocol.freshness import SequenceAccount

S = 1_000_000_000
FADE = 1 - 1 / 240


# ---------------------------------------------------------------- the arithmetic of runs


def mean_trials(loss: float, run: int) -> float:
    """Feller's closed form."""
    return float((1 - loss**run) / ((1 - loss) * loss**run))


def chance_of_run(loss: float, run: int, trials: int) -> float:
    """The same question asked of a chain: how many losses in a row there are now, or were once."""
    now = [1.0] + [0.0] * run
    for _ in range(trials):
        after = [sum(now[:run]) * (1 - loss)] + [p * loss for p in now[:run]]
        after[run] += now[run]
        now = after
    return now[run]


@pytest.mark.parametrize(
    ("loss", "run", "expected"),
    [
        (0.2, 3, 155), (0.2, 4, 780), (0.4, 4, 63.4375), (0.4, 5, 161.09375), (0.1, 3, 1110),
        (0.3, 5, 586.4609),
    ],
)  # fmt: skip
def test_mean_trials_to_the_first_run(loss: float, run: int, expected: float) -> None:
    """A run begins once in 1 / chance reports; counting starts outside one: less 1 / (1 - q)."""
    ours = 1 / runs_per_report(loss, 1 / (1 - loss), run) - 1 / (1 - loss)
    assert ours == pytest.approx(mean_trials(loss, run), rel=1e-9)
    assert ours == pytest.approx(expected, rel=1e-7)


@pytest.mark.parametrize(
    ("loss", "run", "trials", "expected", "few"),
    [
        (0.2, 4, 720, 0.602833, 0.6021),
        (0.4, 6, 720, 0.832619, 0.8296),
        (0.1, 3, 180, 0.148540, 0.1496),
        (0.3, 5, 720, 0.707756, 0.7062),
    ],
)
def test_chance_of_a_run_in_so_many_reports(
    loss: float, run: int, trials: int, expected: float, few: float
) -> None:
    """``few``: as if runs began independently of one another, 1 - exp(-n chance)."""
    assert chance_of_run(loss, run, trials) == pytest.approx(expected, abs=1e-6)
    chance = runs_per_report(loss, 1 / (1 - loss), run)
    assert 1 - math.exp(-trials * chance) == pytest.approx(few, abs=5e-5)


@pytest.mark.parametrize(
    ("loss", "burst", "run", "expected"),
    [
        (0.2, 1.25, 4, 0.9216),  # each on its own: bursts of 1 / (1 - 0.2)
        (0.2, 3, 4, 14.222),
        (0.05, 3, 2, 8.0),
    ],
)
def test_false_alarms_an_hour(loss: float, burst: float, run: int, expected: float) -> None:
    assert 720 * runs_per_report(loss, burst, run) == pytest.approx(expected, rel=5e-4)


def test_a_burst_that_lets_some_through_is_a_shorter_one() -> None:
    """Bursts of 5 in which 0.8 are lost: a = (1 - 1/5) 0.8 = 0.64, as with bursts of 1 / 0.36."""
    assert 720 * runs_per_report(0.2, 1 / 0.36, 4) == pytest.approx(13.590, rel=5e-5)


# ---------------------------------------------------------------- the least run that will do


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
    """Losses each on its own, in bursts of three, of five; worked out independently."""
    for burst, expected in ((1 / (1 - loss), alone), (3.0, threes), (5.0, fives)):
        shares = [an_hour * interval_s / 3600 for an_hour in (1, 0.1, 0.01)]
        assert tuple(reports_for(loss, burst, share, 99) for share in shares) == expected


def test_it_is_the_formula_with_logarithms() -> None:
    random = Random(1)
    for _ in range(2_000):
        loss, burst = random.uniform(0.001, 0.6), random.uniform(1.05, 9)
        share = random.uniform(0.01, 1) / 720
        again = 1 - 1 / burst
        reports = 1 + math.ceil(math.log(share / (loss * (1 - again))) / math.log(again))
        assert reports_for(loss, burst, share, 60) == min(max(reports, 3), 60)


# ---------------------------------------------------------------- what a link has taught


def told(lost: "set[int]", reports: int) -> tuple[LinkHistory, SequenceAccount]:
    """A link on which these numbers did not come."""
    history, account = LinkHistory(), SequenceAccount()
    for number in range(1, reports + 1):
        if number not in lost and account.take(1, number):
            history.follow(account)
    return history, account


def test_a_link_of_which_nothing_is_known() -> None:
    loss, burst = LinkHistory().estimate(SequenceAccount())
    assert loss == pytest.approx(0.2)
    assert burst == pytest.approx(2.5)


def test_history_is_every_report_with_a_weight_that_fades() -> None:
    """The same sums report by report: each makes all before it count less by 1 in 240."""
    random = Random(2)
    lost = {n for n in range(2, 900) if random.random() < 0.2}
    lost |= {n + k for n in range(100, 900, 90) for k in range(7)}
    history, account = told(lost, 900)
    sent, missing, bursts = 40.0, 8.0, 3.2
    for number in range(1, 901):
        gone = number in lost
        sent = sent * FADE + 1
        missing = missing * FADE + gone
        bursts = bursts * FADE + (gone and number - 1 not in lost)
    loss, burst = history.estimate(account)
    assert loss == pytest.approx(missing / sent, rel=1e-9)
    # Whether a burst counts from its first or its last report makes a little difference.
    assert burst == pytest.approx(missing / bursts, rel=0.02)


def test_every_tenth_report_lost() -> None:
    """No longer than losses each on its own: 1 / (1 - 0.1)."""
    loss, burst = told_estimate(set(range(10, 3_000, 10)), 3_000)
    assert loss == pytest.approx(0.1, abs=0.003)
    assert burst == pytest.approx(1 / 0.9, abs=0.003)


def test_five_of_fifty_lost_together() -> None:
    loss, burst = told_estimate({n + k for n in range(40, 5_000, 50) for k in range(5)}, 5_000)
    assert loss == pytest.approx(0.1, abs=0.01)
    assert burst == pytest.approx(5, rel=0.01)


def told_estimate(lost: "set[int]", reports: int) -> tuple[float, float]:
    history, account = told(lost, reports)
    return history.estimate(account)


def test_an_endless_burst_is_a_share_below_one() -> None:
    loss, burst = told_estimate(set(range(2, 9_999)), 9_999)
    assert 0.99 < loss < 1
    assert burst >= 1 / (1 - loss)


def test_a_link_that_loses_nothing_for_days_is_still_one() -> None:
    history, account = told({10}, 200_000)
    rule = rule_of(history, account, 5, 1, 90)
    assert (rule.limit_ns, rule.reports) == (31 * S, 3)
    account.take(1, 200_003)
    history.follow(account)
    assert history.estimate(account)[0] < 0.01


def test_a_frame_that_comes_late_takes_its_loss_back() -> None:
    late, account = LinkHistory(), SequenceAccount()
    for number in range(1, 600):
        came = number if number % 7 else number + 1
        came = came if number % 7 != 1 or number == 1 else number - 1
        if account.take(1, came):
            late.follow(account)
    assert account.lost == 0
    loss, _ = late.estimate(account)
    never, _ = told_estimate(set(), 600)
    assert loss == pytest.approx(never, abs=0.01)


def test_asking_changes_nothing() -> None:
    history, account = told({5, 6, 30}, 50)
    first = history.estimate(account)
    assert [history.estimate(account) for _ in range(3)] == [first] * 3


# ---------------------------------------------------------------- the limit


def fresh(interval_s: int, wearers: int, limit_s: float = 90, heard: int = 1) -> LinkRule:
    history, account = told(set(), heard)
    return rule_of(history, account, interval_s, wearers, limit_s)


@pytest.mark.parametrize(
    ("wearers", "heard", "reports"),
    [
        (1, 0, 9), (6, 0, 9), (1, 1, 9), (2, 1, 11), (4, 1, 12), (4, 2, 12), (6, 8, 13),
        (1, 100, 7), (1, 300, 4), (12, 300, 9), (12, 900, 3),
    ],
)  # fmt: skip
def test_reports_waited_for_on_a_link_without_a_loss(
    wearers: int, heard: int, reports: int
) -> None:
    """Share lost: 8 w / (40 w + 240 (1 - w)) with w = (239/240)^heard, L = 2.5, shared by all."""
    left = FADE**heard
    loss = 8 * left / (40 * left + 240 * (1 - left))
    sharing = wearers if heard else 1
    formula = 1 + math.ceil(math.log(5 / 3600 / sharing / (loss * 0.4)) / math.log(0.6))
    assert max(formula, 3) == reports
    assert fresh(5, wearers, heard=heard).reports == reports


@pytest.mark.parametrize(
    ("interval_s", "limit_s", "limit_ns"),
    [
        (1, 90, 31 * S),  # 13 s is held up to 30 s
        (3, 90, 31 * S),  # 10 x 3 s
        (4, 90, 41 * S),  # 10 x 4 s
        (5, 90, 46 * S),  # 9 x 5 s
        (10, 90, 81 * S),  # 8 x 10 s
        (60, 90, 91 * S),  # held down to 90 s
        (10, 40, 41 * S),  # the procedure's own limit
        (5, 30, 31 * S),
        (7, 61.5, 62 * S + S // 2),
    ],
)
def test_the_limit_is_held_between_fixed_seconds(
    interval_s: int, limit_s: float, limit_ns: int
) -> None:
    assert fresh(interval_s, 1, limit_s).limit_ns == limit_ns


def test_nobody_under_air_is_as_one() -> None:
    assert fresh(5, 0) == fresh(5, 1)


def test_what_the_rule_says_of_itself() -> None:
    history, account = told({n + k for n in range(40, 5_000, 50) for k in range(5)}, 5_000)
    rule = rule_of(history, account, 5, 4, 90)
    assert (rule.interval_s, rule.wearers, rule.known) == (5, 4, True)
    assert (rule.loss, rule.burst) == history.estimate(account)
    # Held to 90 s: the formula alone would wait for longer.
    assert (rule.limit_ns, rule.reports) == (91 * S, 18)
    assert 720 * 4 * runs_per_report(0.1, 5, 18) > 1
