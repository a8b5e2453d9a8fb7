"""What of a pack's frames is counted, and where it is told."""

from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.incident.rows import Standing
from protocol.packets import Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000


def counts(story: "Story") -> tuple[int, int, int]:
    line = story.line()
    return line.frames_taken, line.frames_lost, line.frames_late


def test_missing_numbers_are_losses_and_a_late_frame_takes_its_loss_back(story: "Story") -> None:
    story.enter()
    assert counts(story) == (1, 0, 0)
    story.hear(5 * S, sequence=5)
    assert counts(story) == (2, 3, 0)
    story.hear(6 * S, sequence=3)
    assert counts(story) == (3, 2, 1)


def test_a_held_frame_is_no_loss_and_one_without_proof_no_frame(story: "Story") -> None:
    story.enter()
    story.hear(20 * S, standing=Standing.HELD, sequence=2)
    story.hear(21 * S, standing=Standing.NOT_PROVEN, sequence=9)
    story.hear(22 * S, sequence=4)
    assert counts(story) == (3, 1, 0)


def test_a_number_heard_twice_counts_once(story: "Story") -> None:
    story.enter()
    story.hear(5 * S, sequence=1)
    assert counts(story) == (1, 0, 1)


def test_a_pack_enrolled_again_begins_anew(story: "Story") -> None:
    story.enter()
    story.hear(5 * S, sequence=50)
    story.hear(6 * S, sequence=2, standing=Standing.OLD)
    assert story.act(7 * S, events.EnrolAgain, pack=101) is None
    story.hear(8 * S, sequence=3)
    assert counts(story) == (3, 48, 0)


def test_what_did_not_count_as_heard_is_counted_by_its_standing(story: "Story") -> None:
    story.enter()
    assert story.picture().doubtful == ()
    for standing in Standing:
        story.hear(5 * S, standing=standing)
    story.hear(6 * S, standing=Standing.HELD)
    assert story.picture().doubtful == (
        ("HELD", 2), ("NOT_PROVEN", 1), ("OLD", 1), ("OLD_NOW", 1), ("UNPROVEN_DISTRESS", 1),
    )  # fmt: skip


def test_without_telemetry_there_are_no_counts(story: "Story") -> None:
    story.list_and_join(1, None)
    assert counts(story) == (0, 0, 0)


def test_of_a_set_that_nobody_has_only_switching_on_begins_a_new_use(story: "Story") -> None:
    """The pressure at connecting is the highest heard in this use of the set."""
    story.hear(1 * S, 101, kind=Kind.SIGN_ON, pressure_dbar=3000)
    story.hear(5 * S, 101, pressure_dbar=3000)
    story.hear(10 * S, 101, kind=Kind.EVENT, pressure_dbar=2500)
    story.list_and_join(1, 101)
    story.connect(1)
    assert story.line().air.start_bar == 300
    other = type(story)()
    other.hear(1 * S, 101, kind=Kind.SIGN_ON, pressure_dbar=3000)
    other.hear(5 * S, 101, pressure_dbar=3000)
    other.hear(9 * S, 101, kind=Kind.SIGN_OFF, pressure_dbar=3000)
    other.hear(90 * S, 101, boot=2, kind=Kind.SIGN_ON, pressure_dbar=2500)
    other.hear(95 * S, 101, boot=2, pressure_dbar=2500)
    other.list_and_join(1, 101)
    other.connect(1)
    assert other.line().air.start_bar == 250


def test_what_was_told_up_to_a_reset_is_settled_and_what_was_told_after_is_not(
    story: "Story",
) -> None:
    story.enter()
    story.hear(5 * S, sequence=5, distress=True)
    story.take("distress")
    story.hear(10 * S, sequence=6)
    alarm = story.alarm("distress").number
    assert story.act(11 * S, events.Reset, alarm=alarm, reason="found well") is None
    story.hear(12 * S, sequence=9)
    for t, sequence in ((13, 4), (14, 5), (15, 6)):
        story.hear(t * S, sequence=sequence, distress=True)
        assert "distress" not in story.alarms()
    story.hear(16 * S, sequence=7, distress=True)
    assert "distress" in story.alarms()
