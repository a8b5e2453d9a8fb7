from math import exp, sqrt
from statistics import mean, pstdev

import pytest

from simulators.radio import Shadowing
from simulators.randoms import child
from simulators.shadowing import Field
from simulators.whereabouts import Point

S = 1_000_000_000
PLAN = Shadowing(spread_db=8, over_m=5, over_s=120)
FIELDS = 3000
HERE = Point(20, 7, 1)


@pytest.fixture(scope="module")
def fields() -> list[Field]:
    return [Field(child(seed, "shadowing"), PLAN) for seed in range(FIELDS)]


def correlation(fields: list[Field], there: Point, later_ns: int) -> float:
    here = [field.db(HERE, 0) for field in fields]
    other = [field.db(there, later_ns) for field in fields]
    return mean(a * b for a, b in zip(here, other, strict=True)) / 64


def test_levels_are_log_normal_with_the_spread_asked_for(fields: list[Field]) -> None:
    found = [field.db(HERE, 0) for field in fields]
    # Three standard errors: 3 x 8 / sqrt(3000) = 0.44, of the spread 8 / sqrt(6000) x 3 = 0.31.
    assert mean(found) == pytest.approx(0, abs=0.44)
    assert pstdev(found) == pytest.approx(8, abs=0.31)
    # Of a normal distribution 15.9 % lie beyond one deviation each side; 3 sqrt(pq / n) = 0.02.
    assert mean(x > 8 for x in found) == pytest.approx(0.159, abs=0.02)
    assert mean(x < -8 for x in found) == pytest.approx(0.159, abs=0.02)


@pytest.mark.parametrize(
    ("there", "later_s", "apart"),
    [
        (Point(25, 7, 1), 0, 1.0),  # 5 m of 5
        (Point(20, 9.5, 1), 0, 0.5),
        (Point(20, 7, 2), 0, 0.6),  # a floor of 3 m
        (HERE, 120, 1.0),
        (Point(23, 7, 1), 96, 1.0),  # 0.6 and 0.8
        (Point(60, 7, 1), 0, 8.0),
    ],
)
def test_correlation_falls_with_place_and_time(
    fields: list[Field], there: Point, later_s: int, apart: float
) -> None:
    """exp(-r) with r = sqrt((metres / 5)^2 + (seconds / 120)^2)."""
    assert sqrt(sum(((a - b) / 5) ** 2 for a, b in zip(there[:2], HERE[:2], strict=True))) <= apart
    # The error of a correlation from 3,000 pairs is at most 1 / sqrt(3000) = 0.018; three of it.
    assert correlation(fields, there, later_s * S) == pytest.approx(exp(-apart), abs=0.055)


def test_the_same_place_and_time_is_the_same_whoever_asks(fields: list[Field]) -> None:
    assert fields[0].db(HERE, 7) == fields[0].db(HERE, 7) != fields[1].db(HERE, 7)
    assert Field(child(0, "shadowing"), PLAN).db(HERE, 7) == fields[0].db(HERE, 7)
