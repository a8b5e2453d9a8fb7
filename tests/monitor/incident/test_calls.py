"""Which frame that says help without proof is news."""

import pytest

from monitor.incident.calls import SHOWN_MAX, Calls, News
from monitor.incident.rows import Standing
from tests.monitor.incident.conftest import report

OPEN, OLD, OLD_NOW, FIRST = (
    Standing.UNPROVEN_DISTRESS, Standing.OLD, Standing.OLD_NOW, Standing.NOT_PROVEN,
)  # fmt: skip


def hear(
    calls: Calls, sequence: int, standing: Standing, *, helps: bool = True, boot: int = 1
) -> News:
    return calls.hear(report(101, sequence, boot=boot), standing, helps=helps)


@pytest.mark.parametrize("standing", [OPEN, OLD])
def test_the_same_frame_again_says_nothing(standing: Standing) -> None:
    calls = Calls()
    assert hear(calls, 7, standing) is News.PRESS
    assert [hear(calls, 7, standing) for _ in range(5)] == [News.NOTHING] * 5
    # Whatever else came between, and after the officer has ended the alarm.
    hear(calls, 8, standing, helps=False)
    calls.forget()
    assert hear(calls, 7, standing) is News.NOTHING
    assert hear(calls, 9, standing) is News.PRESS


def test_so_many_frames_are_known_again() -> None:
    calls = Calls()
    for number in range(1, SHOWN_MAX + 2):
        hear(calls, number, OLD)
    assert hear(calls, 2, OLD) is News.NOTHING
    assert hear(calls, 1, OLD) is not News.NOTHING


def test_a_pack_that_has_lost_its_counter_twice_says_new_things_under_old_numbers() -> None:
    calls = Calls()
    hear(calls, 7, OLD)
    other = report(101, 7, uptime_ms=1_234)
    assert calls.hear(other, OLD, helps=True) is not News.NOTHING


@pytest.mark.parametrize(("standing", "press"), [
    (OPEN, News.PRESS), (OLD, News.PRESS), (OLD_NOW, News.PRESS_NOW), (FIRST, News.PRESS_NOW),
])  # fmt: skip
def test_a_call_goes_on_until_a_report_without_it_or_a_new_boot(
    standing: Standing, press: News
) -> None:
    calls = Calls()
    hear(calls, 1, standing)
    assert hear(calls, 2, standing) is News.GOES_ON
    hear(calls, 4, standing, helps=False)
    assert hear(calls, 5, standing) is press
    # A report that was overtaken on its way ends nothing.
    hear(calls, 3, standing, helps=False)
    assert hear(calls, 6, standing) is News.GOES_ON
    assert hear(calls, 7, standing, boot=2) is press


@pytest.mark.parametrize("weak", [OPEN, OLD])
@pytest.mark.parametrize("strong", [FIRST, OLD_NOW])
def test_the_first_that_no_recording_can_have_is_told_apart_once(
    weak: Standing, strong: Standing
) -> None:
    calls = Calls()
    hear(calls, 1, weak)
    assert hear(calls, 2, strong) is News.STRONGER
    assert hear(calls, 3, weak) is News.GOES_ON
    assert hear(calls, 4, strong) is News.GOES_ON
    calls.forget()
    assert hear(calls, 5, strong) is News.STRONGER


def test_what_is_played_between_makes_no_press_of_a_call_that_goes_on() -> None:
    calls = Calls()
    hear(calls, 1, OLD_NOW)
    hear(calls, 900, OLD, helps=False)
    assert hear(calls, 2, OLD_NOW) is News.GOES_ON
