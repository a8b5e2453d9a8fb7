"""The words of a service instead of the plain ones."""

from typing import TYPE_CHECKING

import pytest

from monitor import procedures
from monitor.incident.alarms.catalogue import CATALOGUE, line_word, row_word
from monitor.incident.picture import Priority
from monitor.incident.procedure import Words
from monitor.incident.service_words import ROW_WORD_MAX, row_said, said

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
TEAM = Words(
    crew="team", emergency_crew="safety team", turn_back="turn-around", command="the leader"
)


@pytest.mark.parametrize(
    ("plain", "theirs"),
    [
        ("Call the crew. Emergency crew. Tell command.",
         "Call the team. Safety team. Tell the leader."),
        ("Whole crew out. Emergency crew ready.", "Whole team out. Safety team ready."),
        ("TURN-BACK DUE", "TURN-AROUND DUE"),
        ("CREW ALARM", "TEAM ALARM"),
        ("crew alarm", "team alarm"),
        ("LOW AIR", "LOW AIR"),
        ("commander, crews", "commander, crews"),
    ],
)  # fmt: skip
def test_whole_words_with_their_capitals(plain: str, theirs: str) -> None:
    assert said(plain, TEAM) == theirs
    assert said(plain, Words()) == plain


@pytest.mark.parametrize(
    ("plain", "theirs"),
    [
        ("crew alarm", "team alarm"),
        ("TURN-BACK DUE", "TURN-AROUND"),
        ("DISTRESS", "DISTRESS"),
    ],
)
def test_on_a_wearers_line(plain: str, theirs: str) -> None:
    assert row_said(plain, TEAM) == theirs


def test_what_would_be_too_long_there_is_left_as_it_is() -> None:
    assert row_said("crew alarm", Words(crew="working party")) == "crew alarm"
    assert row_said("turn-back due", Words(turn_back="the way back out")) == "turn-back due"


@pytest.mark.parametrize("name", procedures.names())
def test_every_word_of_every_procedure_fits_a_wearers_line(name: str) -> None:
    words = procedures.load(name).words
    for kind in CATALOGUE:
        for priority in Priority:
            assert len(row_said(row_word(kind, priority), words)) <= ROW_WORD_MAX
            assert said(line_word(kind, priority), words)


def test_words_reach_the_alarm_line_and_the_wearers(new_story: "type[Story]") -> None:
    opened = new_story().incident.opened
    assert opened is not None
    story = new_story(opened.procedure.model_copy(update={"words": TEAM}))
    story.enter(1, 2)
    story.hear(5 * S, distress=True)
    assert story.alarm("distress").to_do == "Call the team. Safety team. Tell the leader."
    mate = story.line(2)
    assert (mate.state, mate.crew_alarm) == ("team alarm", True)
    assert not story.line(1).crew_alarm
