from typing import TYPE_CHECKING

from monitor.incident.deadlines import Due

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
OF_ESTIMATE = {Due.PROJECTED_LOW, Due.PROJECTED_TURN, Due.TURN_SOON}


def waiting(story: "Story") -> set[Due]:
    """Kinds of deadlines of wearer 1."""
    s = story.incident._s
    assert s is not None
    return {kind for _, kind, subject in s.deadlines._heap if subject == 1}


def test_while_readings_come_only_their_age_is_watched(story: "Story") -> None:
    """Silent for 30 s the reading is an estimate, so marks are; heard again, no more.

    From 290 bar to the low-air value, 105, are some 1,000 L in 6.8 L: ten minutes at 100 L/min.
    """
    story.enter(1)
    story.hear(5 * S, 101, pressure_dbar=2900)
    story.incident.advance(30 * S)
    assert waiting(story) & OF_ESTIMATE
    story.hear(31 * S, 101, pressure_dbar=2899)
    assert Due.AIR_AGES in waiting(story)
    for t in range(36, 700, 5):
        story.hear(t * S, 101, pressure_dbar=2899 - t)
    assert Due.AIR_AGES in waiting(story)
    assert not waiting(story) & OF_ESTIMATE


def test_the_estimate_begins_anew_once_the_last_reading_ages(story: "Story") -> None:
    """As if the first silence had not been: both come to low air at the same instant."""
    low_ns = []
    for silent_before in (False, True):
        told = type(story)()
        told.enter(1)
        for t in range(5, 300, 5):
            if not (silent_before and 10 < t < 40):
                told.hear(t * S, 101, pressure_dbar=2900)
        t = 300
        while "overdue" not in told.alarms(t * S) and "no_signal" not in told.alarms(t * S):
            t += 1
        low_ns.append(t)
    assert low_ns[0] == low_ns[1]
