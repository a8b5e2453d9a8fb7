from math import log10

import pytest

from simulators.path_loss import LAWS, Band, Building, loss_db


@pytest.mark.parametrize(
    ("building", "mhz", "floors", "loss"),
    [
        # L = 20 log f + N log 20 m + Lf(n) - 28, worked out from the table of ITU-R P.1238
        # (editions up to -9); 1.9 GHz stands for the band of 1.8 to 2 GHz.
        ("office", 900, 0, 74.0),
        ("office", 900, 1, 83.0),
        ("office", 900, 2, 93.0),
        ("office", 900, 3, 98.0),
        ("office", 1900, 1, 91.6),
        ("residential", 1900, 2, 82.0),
        ("commercial", 1900, 2, 75.2),
        # 10 x 3.79 log 20 + 21.01 + 10 x 1.34 log 0.9 = 49.31 + 21.01 - 0.61 (P.1238-11,
        # industrial, no line of sight).
        ("hall", 900, 0, 69.7),
    ],
)
def test_losses_at_twenty_metres(building: Building, mhz: Band, floors: int, loss: float) -> None:
    assert loss_db(building, mhz, 20, floors) == pytest.approx(loss, abs=0.1)


def test_a_metre_away_only_the_constant_is_left() -> None:
    assert loss_db("office", 900, 1, 0) == pytest.approx(20 * log10(900) - 28)


def test_floors_beyond_the_third_take_what_the_third_took() -> None:
    law = LAWS["office", 900].floors_db
    assert loss_db("office", 900, 10, 5) - loss_db("office", 900, 10, 3) == pytest.approx(
        2 * (law[2] - law[1])
    )


def test_farther_and_higher_is_never_less() -> None:
    for building, mhz in LAWS:
        losses = [loss_db(building, mhz, metres, 0) for metres in (1, 2, 5, 50, 5000)]
        assert losses == sorted(losses)
        through = [loss_db(building, mhz, 10, floors) for floors in range(8)]
        assert through == sorted(through)
