from protocol.packets import OrderKind
from simulators.conformance import plan
from simulators.conformance.plan import Ask, Press, Until, course
from simulators.conformance.questions import (
    BEACONS,
    EARLIER,
    FORMS,
    KINDS,
    LATE,
    OLD,
    REFUSED,
    WIDE,
)


def test_every_kind_of_order_is_put_and_everything_else_too() -> None:
    asked = [step for step in course() if isinstance(step, Ask)]
    first = [question for step in asked for question in step._left]
    assert {kind for kind in OrderKind if KINDS[kind] in first} == set(OrderKind)
    for table in (REFUSED, FORMS, BEACONS, EARLIER, WIDE):
        assert set(table) <= set(first)
    assert [step._question for step in course() if isinstance(step, Until)] == [OLD, LATE]


def test_nobody_is_told_to_press_before_an_order_has_stood_alone() -> None:
    steps = course()
    press = next(at for at, step in enumerate(steps) if isinstance(step, Press))
    assert isinstance(steps[press - 1], plan.Wait)
    assert isinstance(steps[press - 2], Ask)


def test_with_nobody_at_the_pack_it_still_ends_in_time() -> None:
    """All waits for a person, and the two longest quiet times."""
    waits = sum(step._longest_ns for step in course() if isinstance(step, Press | Until))
    assert waits / 1e9 < 230
