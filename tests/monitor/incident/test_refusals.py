"""Every act that cannot be taken is refused with one plain sentence, and changes nothing."""

from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.incident import Incident
from monitor.incident.picture import Phase

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
ONE = {"wearers": (1,)}
PHASES = ("listed", "checked in", "on air", "entered", "out", "off air")


@pytest.fixture
def in_phase(new_story: "type[Story]") -> Any:
    """Make a story in which wearer 1 is in the named phase, at 10 s."""

    def make(phase: str) -> "Story":
        story = new_story()
        story.act(1 * S, events.ListWearer, wearer=1, name="Wearer 1", call_sign="Alpha 1")
        steps: list[tuple[Any, dict[str, Any]]] = [
            (events.JoinPack, {"wearer": 1, "pack": 101}),
            (events.Connect, ONE),
            (events.Enter, ONE),
            (events.ComeOut, ONE),
            (events.OffAir, ONE),
        ]
        for n, (act, fields) in enumerate(steps[: PHASES.index(phase)]):
            assert story.act((2 + n) * S, act, **fields) is None
        story.incident.advance(10 * S)
        assert story.line().phase == phase
        return story

    return make


NOT_JOINED = "Alpha 1 is not checked in: join a pack, or none, first."
ALREADY = "Alpha 1 is on air already."
UNCONNECTED = "Alpha 1 is not connected to air."
NOT_IN = "Alpha 1 has not entered."
NOT_ON_AIR = "Alpha 1 is not on air."
EXPECTED: dict[Any, tuple[str | None, ...]] = {
    # listed, checked in, on air, entered, out, off air
    events.Connect: (NOT_JOINED, None, ALREADY, ALREADY, ALREADY, None),
    events.Enter: (
        UNCONNECTED,
        UNCONNECTED,
        None,
        "Alpha 1 has entered already.",
        None,
        UNCONNECTED,
    ),
    events.ComeOut: (NOT_IN, NOT_IN, NOT_IN, None, NOT_IN, NOT_IN),
    events.OffAir: (
        NOT_ON_AIR,
        NOT_ON_AIR,
        None,
        "Alpha 1 has not come out yet.",
        None,
        NOT_ON_AIR,
    ),
    events.SpokenReading: (NOT_ON_AIR, NOT_ON_AIR, None, None, None, NOT_ON_AIR),
    events.Locate: (None,) * 6,
}


@pytest.mark.parametrize("act", EXPECTED)
@pytest.mark.parametrize("phase", PHASES)
def test_each_step_in_each_phase(in_phase: Any, act: Any, phase: str) -> None:
    story = in_phase(phase)
    fields: dict[str, Any] = dict(ONE)
    if act is events.SpokenReading:
        fields["pressure_bar"] = 200
    if act is events.Locate:
        fields["location"] = "stairs"
    before = story.picture()
    why = story.act(10 * S, act, **fields)
    assert why == EXPECTED[act][PHASES.index(phase)]
    assert (story.picture() == before) is (why is not None)


@pytest.mark.parametrize("phase", PHASES)
def test_a_pack_can_be_joined_in_every_phase(in_phase: Any, phase: str) -> None:
    story = in_phase(phase)
    assert story.act(10 * S, events.JoinPack, wearer=1, pack=105) is None
    assert story.line().pack == 105
    again = phase in ("listed", "off air", "checked in")
    assert story.line().phase == (Phase.CHECKED_IN if again else phase)


@pytest.mark.parametrize(
    ("act", "fields"),
    [
        (events.JoinPack, {"wearer": 9, "pack": 101}),
        (events.SetCrew, {"wearer": 9, "crew": "Alpha 1"}),
        (events.Connect, {"wearers": (1, 9)}),
        (events.Locate, {"wearers": (9,), "location": "stairs"}),
        (events.Note, {"text": "tired", "wearer": 9}),
    ],
)
def test_a_wearer_who_is_not_on_the_board(in_phase: Any, act: Any, fields: dict[str, Any]) -> None:
    story = in_phase("checked in")
    assert story.act(10 * S, act, **fields) == "There is no wearer 9 on the board."
    assert story.line().phase is Phase.CHECKED_IN


def test_a_place_that_is_taken(in_phase: Any) -> None:
    story = in_phase("listed")
    why = story.act(10 * S, events.ListWearer, wearer=1, name="Somebody else")
    assert why == "Place 1 is taken by Alpha 1."
    assert story.line().name == "Wearer 1"


def test_a_pack_that_somebody_else_wears(in_phase: Any) -> None:
    story = in_phase("checked in")
    story.act(10 * S, events.ListWearer, wearer=2, name="Wearer 2")
    why = story.act(10 * S, events.JoinPack, wearer=2, pack=101)
    assert why == "Pack 101 is joined to Alpha 1."
    assert story.act(10 * S, events.JoinPack, wearer=1, pack=101) is None
    assert story.act(10 * S, events.JoinPack, wearer=2, pack=None) is None


def test_asking_makes_no_contact(in_phase: Any) -> None:
    story = in_phase("checked in")
    act = story.make(events.JoinPack, wearer=1, pack=777)
    assert story.incident.would_refuse(act, 10 * S) is None
    assert story.picture().unjoined == ()


def test_an_act_on_several_is_taken_for_all_or_none(in_phase: Any) -> None:
    story = in_phase("checked in")
    story.act(10 * S, events.ListWearer, wearer=2, name="Wearer 2")
    why = story.act(10 * S, events.Connect, wearers=(1, 2))
    assert why == "Wearer 2 is not checked in: join a pack, or none, first."
    assert story.line(1).phase is Phase.CHECKED_IN
    story.act(10 * S, events.JoinPack, wearer=2, pack=None)
    assert story.act(10 * S, events.Connect, wearers=(1, 2)) is None
    assert [w.phase for w in story.picture().wearers] == [Phase.ON_AIR, Phase.ON_AIR]


# ---------------------------------------------------------------- back-dating


@pytest.mark.parametrize(
    ("at_ns", "why"),
    [
        (10 * S + 1, "That time has not come yet."),
        (-1, "That time is before the incident was opened."),
        (10 * S, None),
        (3 * S, None),
        (3 * S - 1, "Alpha 1: that is before on air was noted."),
    ],
)
def test_a_step_is_never_dated_into_the_future_or_before_the_step_it_follows(
    in_phase: Any, at_ns: int, why: str | None
) -> None:
    story = in_phase("on air")
    assert story.act(10 * S, events.Enter, wearers=(1,), at_ns=at_ns) == why


def test_connecting_may_be_dated_back_to_before_the_check_in_but_not_the_last_wear(
    in_phase: Any,
) -> None:
    story = in_phase("checked in")
    assert story.act(10 * S, events.Connect, wearers=(1,), at_ns=0) is None
    assert story.line().wear_ns == 10 * S
    story = in_phase("off air")
    why = story.act(10 * S, events.Connect, wearers=(1,), at_ns=6 * S - 1)
    assert why == "Alpha 1: that is before off air was noted."


def test_clocks_run_from_the_time_given(in_phase: Any) -> None:
    story = in_phase("checked in")
    story.act(10 * S, events.Connect, wearers=(1,), at_ns=4 * S, pressure_bar=290)
    line = story.line()
    assert (line.wear_ns, line.state_for_ns, line.air.reading_age_ns) == (6 * S, 6 * S, 6 * S)


# ---------------------------------------------------------------- alarms


@pytest.fixture
def alarmed(in_phase: Any) -> "Story":
    """Wearer 1 entered, with a distress (1) and a low air (2) raised at 10 s."""
    story: Story = in_phase("entered")
    story.hear(10 * S, distress=True, low_air=True)
    assert story.alarms() == ["distress", "low_air"]
    return story


def test_an_alarm_that_is_not_there(alarmed: "Story") -> None:
    assert alarmed.act(11 * S, events.Acknowledge, alarms=(3,)) == "There is no alarm 3 any more."
    why = alarmed.act(11 * S, events.Reset, alarm=3, reason="none")
    assert why == "There is no alarm 3 any more."


def test_an_alarm_taken_twice(alarmed: "Story") -> None:
    assert alarmed.act(11 * S, events.Acknowledge, alarms=(1,)) is None
    why = alarmed.act(12 * S, events.Acknowledge, alarms=(1,))
    assert why == "Alarm 1 does not wait to be taken."


def test_dangers_are_never_taken_together(alarmed: "Story") -> None:
    why = alarmed.act(11 * S, events.Acknowledge, alarms=(1, 2))
    assert why == "A danger is taken alone."
    assert not any(alarm.acknowledged for alarm in alarmed.picture().alarms)


def test_cautions_in_view_are_taken_together(story: "Story") -> None:
    for wearer in (1, 2):
        story.list_and_join(wearer, None, crew="")
        told = {"wearer": wearer, "pack": None, "apparatus": "closed circuit"}
        assert story.act(0, events.JoinPack, **told) is None
    story.connect(1, 2)
    story.incident.advance(600 * S)
    assert story.alarms() == ["no_word", "no_word"]
    why = story.act(601 * S, events.Acknowledge, alarms=(1, 1))
    assert why == "One alarm is named twice."
    assert story.act(601 * S, events.Acknowledge, alarms=(1, 2)) is None
    assert all(alarm.acknowledged for alarm in story.picture().alarms)


def test_what_came_again_after_the_screen_is_not_taken(alarmed: "Story") -> None:
    alarmed.hear(20 * S)
    alarmed.hear(30 * S, distress=True)
    why = alarmed.act(31 * S, events.Acknowledge, alarms=(1,), seen_ns=25 * S)
    assert why == "Alarm 1 came again after what was on the screen."
    assert alarmed.act(31 * S, events.Acknowledge, alarms=(1,), seen_ns=30 * S) is None


def test_a_reset_of_what_does_not_latch(alarmed: "Story") -> None:
    alarmed.act(11 * S, events.ComeOut, wearers=(1,))
    alarmed.act(12 * S, events.OffAir, wearers=(1,))
    why = alarmed.act(13 * S, events.Reset, alarm=2, reason="off air")
    assert why == "Alarm 2 needs no reset."


def test_enrolling_again_needs_a_clash(alarmed: "Story") -> None:
    for pack in (101, 999):
        why = alarmed.act(11 * S, events.EnrolAgain, pack=pack)
        assert why == f"The numbers of pack {pack} did not go back."


# ---------------------------------------------------------------- closing


def test_closing_with_somebody_under_air_needs_a_reason(in_phase: Any) -> None:
    story = in_phase("entered")
    why = story.act(11 * S, events.Close)
    assert why == "Still under air: Alpha 1. Closing now needs a reason."
    assert story.act(11 * S, events.Close, override="  ") == why
    assert not story.incident.closed
    assert story.act(11 * S, events.Close, override="board moved to entry B") is None
    assert story.incident.closed


def test_a_closed_incident_takes_nothing_more(in_phase: Any) -> None:
    story = in_phase("off air")
    story.act(11 * S, events.Close)
    assert story.act(12 * S, events.Note, text="late") == "The incident is closed."
    story.hear(13 * S, distress=True)
    picture = story.picture(t=900 * S)
    assert picture.closed
    assert picture.alarms == ()


def test_before_it_is_opened_nothing_is_taken(story: "Story") -> None:
    note = story.make(events.Note, text="early")
    assert Incident().would_refuse(note, 0) == "The incident is not open yet."
