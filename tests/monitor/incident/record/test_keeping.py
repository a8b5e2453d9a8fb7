"""The board itself: real emergency, handing over, stage, corrections, how many one may watch."""

from typing import Any

from monitor.incident import events
from monitor.incident.events import Act
from monitor.incident.record.events import Correct, HandOver, RealEmergency, RecordAct, SetStage
from monitor.incident.record.keeping import DOERS
from monitor.incident.situation import LOG_MAX
from tests.monitor.incident.conftest import PROCEDURE

S = 1_000_000_000


def test_every_act_of_the_record_is_done() -> None:
    assert set(DOERS) == set(RecordAct.__args__)
    assert RecordAct is not Act


def test_an_exercise_becomes_real_from_that_moment(story: Any) -> None:
    assert story.picture().use == "exercise"
    assert story.act(S, RealEmergency, reason="roof") is None
    assert (story.picture().use, story.incident.use) == ("real", "real")
    assert story.act(2 * S, RealEmergency) == "This incident is real already."


def test_the_board_is_handed_over_by_name(story: Any) -> None:
    assert story.act(S, HandOver, to="M. Slip") is None
    assert story.picture().officer == "M. Slip"
    assert story.act(2 * S, HandOver, to="M. Slip") == "M. Slip has the board already."
    assert story.act(3 * S, HandOver, to="R. Harrow") is None


def test_whoever_takes_the_board_is_the_officer(story: Any) -> None:
    story.do(S, events.Holder(board="b2", by="S. Moss"))
    assert story.picture().officer == "S. Moss"
    assert story.act(2 * S, HandOver, to="R. Harrow") is None
    story.do(3 * S, events.Holder(board="", by=""))
    assert story.picture().officer == "R. Harrow"


def test_a_correction_adds_and_changes_nothing(story: Any) -> None:
    story.enter(1)
    wrong = story.make(events.ComeOut, wearers=(1,))
    story.do(S, wrong)
    before = story.picture()
    assert story.act(S, Correct, of=wrong.id, text="wearer 2 came out") is None
    after = story.picture()
    assert (after.wearers, after.alarms) == (before.wearers, before.alarms)
    assert [act.what for _, act in story.incident.log()[:2]] == ["correct", "come_out"]
    assert story.act(S, Correct, of="no-such-act", text="x") == (
        "There is no such act in the record."
    )


def test_more_than_one_board_may_watch_is_a_caution_until_the_stage_is_another(
    new_story: Any,
) -> None:
    """One UK service's policy: at stage 1 at most six. Here: one at stage 1, three elsewhere."""
    story = new_story(PROCEDURE.model_copy(update={"most_wearers": {"1": 1, "any": 3}}))
    story.act(0, SetStage, stage="1")
    story.enter(1)
    assert "too_many" not in story.alarms()
    story.enter(2)
    assert story.alarm("too_many").subject == "2, at most 1"
    assert story.line(2).under_air
    story.act(S, SetStage, stage="2")
    assert "too_many" not in story.alarms()
    assert story.picture().stage == "2"


def test_the_log_keeps_the_last_acts_newest_first(story: Any) -> None:
    for n in range(LOG_MAX + 5):
        story.act(n * S, events.Note, text=f"note {n}")
    log = story.incident.log()
    assert len(log) == LOG_MAX
    assert log[0][0] == (LOG_MAX + 4) * S
