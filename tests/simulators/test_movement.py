from simulators.movement import FOREVER_NS, PAUSE_S, Movement
from simulators.randoms import child

S = 1_000_000_000


def moving(seed: int = 1) -> Movement:
    return Movement(child(seed, "movement"), 0)


def test_pauses_are_short_and_they_come() -> None:
    movement = moving()
    longest = 0
    for t in range(0, 1200 * S, S // 4):
        longest = max(longest, t - movement.last_moved_ns(t))
    assert 2 * S < longest <= PAUSE_S[1] * S


def test_a_hold_is_exact() -> None:
    movement = moving()
    movement.hold(10 * S, 25 * S)
    assert movement.last_moved_ns(10 * S) == 10 * S
    assert movement.last_moved_ns(35 * S - 1) == 10 * S
    assert movement.moves_again_ns(20 * S) == 35 * S
    assert movement.held(35 * S - 1)
    assert not movement.held(35 * S)
    assert movement.last_moved_ns(35 * S) == 35 * S


def test_release_ends_a_collapse() -> None:
    movement = moving()
    movement.hold(10 * S, FOREVER_NS)
    assert movement.last_moved_ns(1000 * S) == 10 * S
    movement.release(1000 * S)
    assert movement.last_moved_ns(1000 * S) == 1000 * S


def test_a_pause_that_outlasts_a_hold_counts_from_its_end() -> None:
    movement = moving()
    t = 0
    while movement.last_moved_ns(t) == t:
        t += S // 10
    end = movement.moves_again_ns(t)
    movement.hold(t, (end - t) // 2)
    half = t + (end - t) // 2
    assert movement.last_moved_ns(half - 1) == t
    assert movement.last_moved_ns(end - 1) == half
    assert movement.moves_again_ns(end - 1) == end


def test_who_moves_moves_again_now() -> None:
    assert moving().moves_again_ns(0) == 0
