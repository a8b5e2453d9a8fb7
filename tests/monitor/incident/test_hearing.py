"""What of a pack's frames is counted, and where it is told."""

from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.incident.rows import Standing

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
