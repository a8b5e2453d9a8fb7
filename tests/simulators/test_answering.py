from math import log
from statistics import mean, median, stdev

import pytest

from protocol.packets import Order, OrderKind
from simulators.answering import Answering, Answers, Manner
from simulators.movement import FOREVER_NS
from simulators.randoms import child

S = 1_000_000_000


def order(what: OrderKind = OrderKind.EVACUATE) -> Order:
    return Order(1, 1, 1, 0, False, 9, 1, what)


def answering(manner: Manner = "as ordered", seed: int = 1, **answers: float) -> Answering:
    return Answering(child(seed, "answers"), Answers.model_validate(answers), manner)


def test_delays_are_log_normal() -> None:
    delays = []
    for seed in range(4000):
        one = answering(seed=seed, median_s=8, spread=0.4)
        one.ordered(100 * S, order())
        delays.append((one.due_ns - 100 * S) / S)
    # Three standard errors of a median of logarithms: 3 x 1.2533 x 0.4 / sqrt(4000) = 0.024.
    assert median(delays) == pytest.approx(8, rel=0.024)
    logs = [log(delay) for delay in delays]
    assert mean(logs) == pytest.approx(log(8), abs=0.019)
    assert stdev(logs) == pytest.approx(0.4, abs=0.014)


def test_without_a_word_half_answer_within_six_seconds_and_one_in_twenty_after_fourteen() -> None:
    delays = []
    for seed in range(4000):
        one = answering(seed=seed)
        one.ordered(0, order())
        delays.append(one.due_ns / S)
    assert median(delays) == pytest.approx(6, rel=0.03)
    # exp(ln 6 + 1.645 x 0.5) = 13.7 s.
    assert mean(delay > 13.7 for delay in delays) == pytest.approx(0.05, abs=0.0104)


@pytest.mark.parametrize(
    ("manner", "what", "presses", "goes"),
    [
        ("as ordered", OrderKind.EVACUATE, True, True),
        ("as ordered", OrderKind.COME_OUT, True, True),
        ("as ordered", OrderKind.ROLL_CALL, True, False),
        ("stays", OrderKind.EVACUATE, True, False),
        ("never", OrderKind.EVACUATE, False, False),
    ],
)
def test_manners(manner: Manner, what: OrderKind, *, presses: bool, goes: bool) -> None:
    one = answering(manner)
    one.ordered(0, order(what))
    assert (one.due_ns < FOREVER_NS, one.goes) == (presses, goes)
    one.answered()
    assert one.due_ns == FOREVER_NS


def test_who_lies_still_answers_after_they_move() -> None:
    one = answering(median_s=5, spread=0)
    one.ordered(0, order())
    one.wait_until(FOREVER_NS)
    assert one.due_ns == FOREVER_NS
    one.wait_until(90 * S)
    assert one.due_ns == 95 * S
    never = answering("never")
    never.ordered(0, order())
    never.wait_until(90 * S)
    assert never.due_ns == FOREVER_NS
