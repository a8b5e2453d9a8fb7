from itertools import pairwise

import pytest

from simulators.channel import Channel
from simulators.randoms import child


def channel(loss_up: float = 0.0, loss_down: float = 0.0, seed: int = 1) -> Channel:
    return Channel(
        child(seed, "up"), child(seed, "down"), loss_up=loss_up, loss_down=loss_down, level_dbm=-70
    )


def test_a_clear_path_loses_nothing() -> None:
    path = channel()
    assert all(path.up(t) is not None and path.down(t) for t in range(1000))


def test_loss_has_the_share_asked_for_each_way() -> None:
    path = channel(0.10, 0.30)
    n = 20_000
    up = sum(path.up(t) is None for t in range(n)) / n
    down = sum(not path.down(t) for t in range(n)) / n
    # Three standard errors: 3 sqrt(q (1 - q) / n) = 0.0064 and 0.0097.
    assert up == pytest.approx(0.10, abs=0.0064)
    assert down == pytest.approx(0.30, abs=0.0097)


def test_losses_are_independent() -> None:
    path = channel(0.5)
    lost = [path.up(t) is None for t in range(20_000)]
    twice = sum(a and b for a, b in pairwise(lost)) / len(lost)
    assert twice == pytest.approx(0.25, abs=0.01)


def test_a_shadow_has_a_beginning_and_an_end() -> None:
    path = channel()
    path.shade(100, 50, 1.0)
    assert not any(path.down(t) for t in range(100, 150))
    assert path.up(149) is None
    assert path.up(150) is not None
    assert path.down(150)


def test_a_shadow_does_not_shift_what_comes_after() -> None:
    clear, shaded = channel(0.2), channel(0.2)
    shaded.shade(0, 500, 1.0)
    after = [(clear.up(t), shaded.up(t)) for t in range(1000)][500:]
    assert all(a == b for a, b in after)


def test_the_level_is_near_what_was_asked_and_weaker_in_a_shadow() -> None:
    path = channel()
    levels = [level for t in range(500) if (level := path.up(t)) is not None]
    assert sum(levels) / len(levels) == pytest.approx(-70, abs=1)
    path.shade(500, 1000, 0.5)
    levels = [level for t in range(500, 1500) if (level := path.up(t)) is not None]
    assert sum(levels) / len(levels) == pytest.approx(-70 - 12.5, abs=1)
