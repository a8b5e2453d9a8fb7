"""The forecast against hand-made cases, a brute-force scan and the process it stands for.

The check vector: prior 50 L/min, spread 0.30; packets each 5 s; three minutes at 36 and three at
60 L/min; 822 L above the pressure asked for; gauge variance 10. Its figures come from another
implementation, the times from a scan of the formula.
"""

import math
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.incident.air import forecast
from monitor.incident.air.forecast import (
    LOWER_1,
    LOWER_5,
    LOWER_10,
    MEDIAN,
    POPULATION,
    Outlook,
    Prior,
    outlook,
    own_prior,
)
from monitor.incident.air.rate import NOTHING, Consumption, Sums

VECTOR_PRIOR = Prior(50, 0.30)
LITRES = 822.0
GAUGE = 10.0


def counted(*stretches: tuple[float, float]) -> Consumption:
    consumption = Consumption()
    for used_l, seconds in stretches:
        consumption.take(used_l, seconds)
    return consumption


def breathed(*stretches: tuple[float, float]) -> Sums:
    return counted(*stretches).sums


def of_vector() -> Outlook:
    return outlook(breathed(*[(3.0, 5.0)] * 36, *[(5.0, 5.0)] * 36), VECTOR_PRIOR)


def test_the_check_vector_state() -> None:
    found = of_vector()
    assert found.m == pytest.approx(0.8207, abs=0.00005)
    assert found.x == pytest.approx(0.1214, abs=0.00005)
    assert found.s == pytest.approx(0.3025, abs=0.00005)
    assert found.v_m == pytest.approx(0.033767, abs=0.0000005)


@pytest.mark.parametrize(
    ("z", "minutes"),
    [
        (MEDIAN, 16.32), (LOWER_10, 11.76), (-LOWER_10, 25.03), (LOWER_5, 10.86), (-LOWER_5, 29.04),
    ],
)  # fmt: skip
def test_the_check_vector_times(z: float, minutes: float) -> None:
    assert of_vector().seconds_until(LITRES, GAUGE, z) / 60 == pytest.approx(minutes, abs=0.005)


@pytest.mark.parametrize(
    ("z", "seconds", "litres"),
    [
        (LOWER_5, 120, 658.5), (LOWER_5, 300, 425.2), (LOWER_5, 600, 60.6),
        (LOWER_1, 120, 635.7), (LOWER_1, 300, 369.3), (LOWER_1, 600, 0.0),
    ],
)  # fmt: skip
def test_the_check_vector_in_silence(z: float, seconds: float, litres: float) -> None:
    found = of_vector().least_left_l(LITRES, GAUGE, seconds, z)
    assert found == pytest.approx(litres, abs=0.05)


def test_the_first_minutes_by_hand() -> None:
    # Prior 60 L/min, spread 0.40: t0 = 2 x 150 x (0.42 / 0.40)^2 = 330.75 s. One packet: 10 L in
    # 10 s. m = (330.75 + 10) / 340.75 = 1; recent (10 + 20) / (10 + 20) = 1, so x = 0.
    # No whole minute yet: S = 0.42; v_m = 1 / (1 / 0.16 + 10 / (2 x 0.1764 x 150)) = 0.15530.
    found = outlook(breathed((10, 10)), POPULATION)
    assert (found.m, found.x, found.s) == pytest.approx((1.0, 0.0, 0.42))
    assert found.v_m == pytest.approx(0.15530, abs=0.00001)


def test_with_nothing_heard_the_prior_speaks() -> None:
    found = outlook(NOTHING, Prior(60, 0.40))
    assert (found.m, found.x, found.s) == pytest.approx((1.0, 0.0, 0.42))
    assert found.v_m == pytest.approx(0.16)
    assert found.seconds_until(600, 0, MEDIAN) == pytest.approx(600, abs=0.05)


def test_a_fresh_spell_of_work_fades() -> None:
    # Deviation 1 L/s, time constant 150 s: in the long run 150 L beside the long-run rate.
    found = Outlook(m=1.0, x=1.0, s=0.4, v_m=0.03)
    assert found.used_l(1e5) == pytest.approx(1e5 + 150)
    # At first the full rate: 2 L/s.
    assert found.used_l(0.1) == pytest.approx(0.2, rel=0.001)


def integrated_variance(deviation: float, seconds: float, steps: int = 300) -> float:
    """Variance of the integral of the process from a known start, by its covariance.

    Cov(x_u, x_v) = S^2 (e^(-|u - v| / tau) - e^(-(u + v) / tau)), summed over a grid of midpoints.
    """
    h = seconds / steps
    at = [(k + 0.5) * h / 150.0 for k in range(steps)]
    total = sum(math.exp(-abs(u - v)) - math.exp(-u - v) for u in at for v in at)
    return deviation**2 * total * h * h


@pytest.mark.parametrize("seconds", [20, 150, 600, 1800])
def test_the_variance_is_that_of_the_process(seconds: float) -> None:
    found = Outlook(m=1.0, x=0.3, s=0.42, v_m=0.0)
    known_start = found.variance(seconds) - 0.35 * 0.42**2 * faded_s(seconds) ** 2
    assert known_start == pytest.approx(integrated_variance(0.42, seconds), rel=0.003)


def faded_s(seconds: float) -> float:
    """Integral of e^(-s / 150) by midpoints: how long a deviation of now is felt, all told."""
    h = seconds / 10_000
    return h * sum(math.exp(-(k + 0.5) * h / 150) for k in range(10_000))


@pytest.mark.parametrize("seconds", [20, 150, 600, 1800])
def test_the_expected_use_is_that_of_the_process(seconds: float) -> None:
    found = Outlook(m=0.8, x=-0.3, s=0.42, v_m=0.03)
    assert found.used_l(seconds) == pytest.approx(0.8 * seconds - 0.3 * faded_s(seconds))


def test_the_process_itself_drawn_a_thousand_times() -> None:
    """Exact steps of 10 s: x e^(-10/tau) + S sqrt(1 - e^(-20/tau)) N(0, 1)."""
    random = Random(4)
    kept, spread = math.exp(-10 / 150), 0.42 * math.sqrt(1 - math.exp(-20 / 150))
    sums = []
    for _ in range(1000):
        x, total = 0.0, 0.0
        for _ in range(60):
            after = x * kept + random.gauss(0, spread)
            total += (x + after) / 2 * 10
            x = after
        sums.append(total)
    drawn = sum(total * total for total in sums) / 1000
    # Standard error of a variance of 1000 draws: sqrt(2 / 1000) = 4.5 %; three of them.
    expected = Outlook(m=1, x=0, s=0.42, v_m=0).variance(600) - 0.35 * 0.42**2 * faded_s(600) ** 2
    assert drawn == pytest.approx(expected, rel=0.135)


def test_a_share_of_the_variance_of_minute_means() -> None:
    # Mean of the process over h = 60 s: (1/h^2) x the double integral of e^(-|u - v| / 150).
    h = 60 / 200
    at = [(k + 0.5) * h / 150 for k in range(200)]
    total = sum(math.exp(-abs(u - v)) for u in at for v in at)
    assert total * h * h / 3600 == pytest.approx(forecast.MINUTE_MEAN, abs=0.002)


def worst(state: Outlook, gauge: float, z: float, seconds: float) -> float:
    return state.used_l(seconds) + z * math.sqrt(state.variance(seconds) + gauge)


def scanned(state: Outlook, litres: float, gauge: float, z: float) -> int:
    """The first whole second at which the litres are used up."""
    seconds = 0
    while worst(state, gauge, z, seconds) < litres:
        seconds += 1
    return seconds


def random_case(random: Random) -> tuple[Outlook, float, float]:
    m = random.uniform(0.1, 3.0)
    state = Outlook(
        m=m,
        x=random.uniform(-1, 2) * m,
        s=random.uniform(0.1, 1.5) * m,
        v_m=(random.uniform(0.05, 0.4) * m) ** 2,
    )
    return state, random.uniform(0, 1500 * m), random.uniform(0, 60)


@pytest.mark.parametrize("z", [MEDIAN, LOWER_10, LOWER_5, LOWER_1, -LOWER_10, -LOWER_5])
def test_a_time_is_the_scan_s_and_never_later(z: float) -> None:
    random = Random(7)
    for _ in range(150):
        state, litres, gauge = random_case(random)
        found = state.seconds_until(litres, gauge, z)
        # The scan stops at the first whole second past the true instant.
        assert 0 <= scanned(state, litres, gauge, z) - found <= 1.03


@pytest.mark.parametrize("litres", [0, -5, -1e9])
def test_at_or_under_the_pressure_no_time_is_left(litres: float) -> None:
    assert of_vector().seconds_until(litres, GAUGE, LOWER_10) == 0
    assert of_vector().seconds_until(litres, GAUGE, MEDIAN) == 0


def test_within_the_error_of_the_gauge_no_time_is_left() -> None:
    # One step of 10 % worse: 1.2816 x sqrt(100) = 12.8 L.
    assert of_vector().seconds_until(12.8, 100, LOWER_10) == 0
    assert of_vector().seconds_until(14, 100, LOWER_10) > 0


def test_what_would_last_beyond_a_day_has_no_time() -> None:
    state = Outlook(m=0.1, x=0.0, s=0.04, v_m=0.0001)
    assert state.seconds_until(1e7, GAUGE, MEDIAN) == math.inf
    assert state.seconds_until(1e7, GAUGE, -LOWER_10) == math.inf
    assert 85_999 < state.seconds_until(8600, GAUGE, MEDIAN) < 86_400


def test_an_upper_bound_may_never_come() -> None:
    # As unsure of the mean as it is large: one in ten would use no air at all.
    assert Outlook(m=1, x=0, s=0.4, v_m=1).seconds_until(500, 10, -LOWER_10) == math.inf


STATES = st.builds(
    lambda m, x, s, v: Outlook(m=m, x=x * m, s=s * m, v_m=(v * m) ** 2),
    st.floats(0.09, 8), st.floats(-1, 5), st.floats(0.01, 5), st.floats(0.001, 0.4),
)  # fmt: skip


@settings(max_examples=200, deadline=None)
@given(STATES, st.floats(0, 4000), st.floats(0, 1000), st.floats(0, 2.5), st.floats(0.001, 1))
def test_a_stricter_bound_is_never_later(
    state: Outlook, litres: float, gauge: float, z: float, more: float
) -> None:
    stricter = state.seconds_until(litres, gauge, z + more)
    assert stricter <= state.seconds_until(litres, gauge, z) + 0.03
    assert stricter <= state.seconds_until(litres, gauge, MEDIAN) + 0.03


@settings(max_examples=200, deadline=None)
@given(STATES, st.floats(0, 4000), st.floats(0, 1000), st.floats(0, 2.5), st.floats(0, 500))
def test_more_air_is_never_less_time(
    state: Outlook, litres: float, gauge: float, z: float, more: float
) -> None:
    with_more = state.seconds_until(litres + more, gauge, z)
    assert with_more >= state.seconds_until(litres, gauge, z) - 0.03


@settings(max_examples=200, deadline=None)
@given(STATES, st.lists(st.floats(0, 7200), min_size=2, max_size=10), st.floats(0, 2.5))
def test_in_silence_the_air_never_rises(state: Outlook, ages: list[float], z: float) -> None:
    left = [state.least_left_l(1500, 20, age, z) for age in sorted(ages)]
    for earlier, later in pairwise(left):
        assert later <= earlier + 1e-6
    assert left[0] <= 1500
    assert left[-1] >= 0


HOSTILE = st.lists(
    st.tuples(
        st.one_of(st.just(0.0), st.floats(-2000, 2000), st.floats(allow_nan=True)),
        st.one_of(st.sampled_from([0.0, -1.0, 1e-9, 1e6]), st.floats(0, 5000)),
    ),
    max_size=40,
)


@settings(max_examples=300, deadline=None)
@given(HOSTILE, st.sampled_from([POPULATION, VECTOR_PRIOR, Prior(5, 0.05), Prior(150, 1.0)]))
def test_whatever_the_gauge_says_there_is_a_number(
    stretches: list[tuple[float, float]], prior: Prior
) -> None:
    tame = [(max(-1e4, min(1e4, used)), seconds) for used, seconds in stretches]
    found = outlook(breathed(*tame), prior)
    assert all(math.isfinite(value) for value in (found.m, found.x, found.s, found.v_m))
    assert found.m >= forecast.LEAST_L_S
    assert found.m + found.x >= -1e-9
    bound = found.seconds_until(1000, 20, LOWER_10)
    assert 0 <= bound <= found.seconds_until(1000, 20, MEDIAN) + 0.03
    assert 0 <= found.least_left_l(1000, 20, 300) <= 1000
    assert not math.isnan(found.seconds_until(1000, 20, -LOWER_10))


def test_the_gauge_s_own_variance() -> None:
    # 6.8 L at 105 bar and 15 C: dF/dp 0.987 L per bar and litre (computed with CoolProp), so
    # (6.8 x 0.987)^2 x (0.09 + 1/12 + 0.05) = 45.05 x 0.22333 = 10.06.
    assert forecast.gauge_variance_l2(105, 6.8, 15, 1.0) == pytest.approx(10.06, rel=0.02)
    # At 300 bar 0.663: 4.54; steps of a tenth of a bar: 20.33 x 0.14083 = 2.863.
    assert forecast.gauge_variance_l2(300, 6.8, 15, 1.0) == pytest.approx(4.54, rel=0.02)
    assert forecast.gauge_variance_l2(300, 6.8, 15, 0.1) == pytest.approx(2.863, rel=0.02)


def test_no_earlier_wears_leave_the_population_s_prior() -> None:
    assert own_prior([], POPULATION) == pytest.approx(POPULATION)


def test_many_earlier_wears_become_the_wearer_s_own_prior() -> None:
    # Five wears of 20 min at 43 L/min: (60 x 330.75 + 43 x 6000) / 6330.75 = 43.9 L/min.
    # Left unsure of it: 1 / (1 / 0.40^2 + 6000 / (2 x 0.42^2 x 150)) = 0.00838, so that the
    # spread is sqrt(0.20^2 + 0.00838) = 0.220.
    mean, spread = own_prior([(43 * 20, 1200.0)] * 5, POPULATION)
    assert mean == pytest.approx(43.9, abs=0.05)
    assert spread == pytest.approx(0.220, abs=0.0005)


def test_a_minute_at_rest_changes_little() -> None:
    # (60 x 330.75 + 10 x 60) / 390.75 = 52.3 L/min.
    mean, spread = own_prior([(10, 60)], POPULATION)
    assert mean == pytest.approx(52.3, abs=0.05)
    assert 0.38 < spread <= 0.40


@pytest.mark.parametrize("wear", [(-500.0, 600.0), (100.0, 0.0), (100.0, -5.0)])
def test_an_earlier_wear_that_cannot_be_makes_nobody_breathe_backwards(
    wear: tuple[float, float],
) -> None:
    mean, spread = own_prior([wear], POPULATION)
    assert 5 <= mean <= 60
    assert 0.2 <= spread <= 0.40


# ---------------------------------------------------------------- what was seen, and its worth


@pytest.mark.parametrize("seconds", [60.0, 180.0, 600.0, 3600.0])
def test_the_worth_of_a_mean_is_that_of_the_process(seconds: float) -> None:
    """Its variance, summed over a grid of midpoints, is 2 S^2 tau over so many seconds."""
    n = 400
    at = [(k + 0.5) * seconds / n / 150 for k in range(n)]
    variance = sum(math.exp(-abs(u - v)) for u in at for v in at) / n**2
    gauge = seconds / (seconds + 20)  # the steps of the gauge, as in the recent rate
    assert forecast.mean_worth_s(seconds) == pytest.approx(300 / variance * gauge, rel=0.002)


def test_three_minutes_count_as_seven() -> None:
    # y = 1.2: 150 x 1.44 / (0.2 + e^-1.2) = 216 / 0.50119 = 431 s; the gauge leaves 9 in 10.
    assert forecast.mean_worth_s(180) == pytest.approx(431.0 * 180 / 200, abs=0.2)


def test_the_worth_grows_with_the_watch_from_nothing() -> None:
    worth = [forecast.mean_worth_s(10.0**power) for power in range(-9, 6)]
    assert forecast.mean_worth_s(0.0) == 0.0
    assert all(before < after for before, after in pairwise(worth))
    # In the long run T seconds are worth T, and tau more: y^2 / (y - 1) = y + 1 + ...
    assert worth[-1] == pytest.approx(1e5 + 150 - 20, abs=2)


def test_the_middle_and_the_bound_know_the_same_and_weigh_it_otherwise() -> None:
    calm = counted(*[(3.0, 5.0)] * 36)  # three minutes at 36 L/min
    found = forecast.outlooks(calm, NOTHING, POPULATION, [])
    assert found.earliest == outlook(calm.sums, POPULATION)
    # By hand: prior 50 L/min at 588 s, 36 at 388: 44.4 L/min.
    weight = 2 * 150 * (0.42 / 0.30) ** 2
    m = (50 * weight + 36 * 431 * 0.9) / (weight + 431 * 0.9)
    assert found.likely.m * 60 == pytest.approx(m, abs=0.05)
    assert found.likely.m < found.earliest.m


def test_a_procedure_s_own_prior_is_the_middle_as_well() -> None:
    found = forecast.outlooks(Consumption(), NOTHING, Prior(82, 0.3), [])
    assert found.likely.m == found.earliest.m == pytest.approx(82 / 60)


def test_rest_before_entering_teaches_nothing() -> None:
    rested = counted(*[(10 / 12, 5.0)] * 48)  # four minutes at 10 L/min
    at_door = forecast.outlooks(rested, None, POPULATION, [])
    assert at_door.earliest == outlook(NOTHING, POPULATION)
    entered = rested.sums
    for _ in range(12):
        rested.take(80 / 12, 5.0)
    found = forecast.outlooks(rested, entered, POPULATION, [])
    alone = outlook(breathed(*[(80 / 12, 5.0)] * 12), POPULATION)
    assert found.earliest.m == pytest.approx(alone.m)
    assert found.earliest.x == pytest.approx(alone.x)
    # Not what four minutes of rest make of it: (60 x 331 + 10 x 240 + 80 x 60) / 631 = 43 L/min.
    assert found.earliest.m * 60 > 60
    assert outlook(rested.sums, POPULATION).m * 60 == pytest.approx(43, abs=0.5)


def test_hard_breathing_before_entering_makes_it_earlier() -> None:
    hard = counted(*[(100 / 12, 5.0)] * 48)
    at_door = forecast.outlooks(hard, None, POPULATION, []).earliest
    assert at_door.m > outlook(NOTHING, POPULATION).m
    prior_s = outlook(NOTHING, POPULATION).seconds_until(800, 10, LOWER_10)
    assert at_door.seconds_until(800, 10, LOWER_10) < prior_s


CONSUMED = st.lists(st.tuples(st.floats(0, 30), st.floats(1, 30)), min_size=0, max_size=60)
WEARS = st.lists(st.tuples(st.floats(0, 3000), st.floats(60, 2400)), max_size=5)


@settings(max_examples=200, deadline=None)
@given(CONSUMED, WEARS, st.floats(20, 2000), st.sampled_from([POPULATION, VECTOR_PRIOR]))
def test_a_wearer_s_own_history_never_makes_the_earliest_time_later(
    seen: list[tuple[float, float]], earlier: list[tuple[float, float]], litres: float, prior: Prior
) -> None:
    consumption = counted(*seen)
    without = forecast.outlooks(consumption, NOTHING, prior, []).earliest
    known = forecast.outlooks(consumption, NOTHING, prior, earlier).earliest
    for z in (LOWER_10, LOWER_1):
        before = without.seconds_until(litres, 10, z)
        assert known.seconds_until(litres, 10, z) <= before + 0.03
    assert known.least_left_l(litres, 10, 120) <= without.least_left_l(litres, 10, 120) + 1e-6


def test_many_calm_wears_make_the_middle_time_later_and_the_earliest_not() -> None:
    calm = [(43 * 20, 1200.0)] * 5
    alone = forecast.outlooks(Consumption(), NOTHING, POPULATION, [])
    known = forecast.outlooks(Consumption(), NOTHING, POPULATION, calm)
    assert known.earliest == alone.earliest
    assert known.likely.m < alone.likely.m


@settings(max_examples=200, deadline=None)
@given(STATES, STATES, st.floats(0, 4000), st.floats(0, 1000), st.floats(0, 2.5))
def test_the_earlier_of_two_is_no_later_than_either(
    one: Outlook, other: Outlook, litres: float, gauge: float, z: float
) -> None:
    both = forecast.earlier_of(one, other).seconds_until(litres, gauge, z)
    assert both <= one.seconds_until(litres, gauge, z) + 0.03
    assert both <= other.seconds_until(litres, gauge, z) + 0.03
