from typing import TYPE_CHECKING

import pytest

from monitor.incident import acts, events
from monitor.incident.picture import Phase, Signal
from monitor.incident.situation import ACT_IDS_MAX, NOTES_MAX, Situation
from protocol.packets import Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000


def test_a_whole_wear_and_another(story: "Story") -> None:
    story.list_and_join(1, 101)
    assert story.line().phase is Phase.CHECKED_IN
    for t, act, phase in [
        (10, events.Connect, Phase.ON_AIR),
        (20, events.Enter, Phase.ENTERED),
        (30, events.ComeOut, Phase.OUT),
        (40, events.Enter, Phase.ENTERED),
        (50, events.ComeOut, Phase.OUT),
        (60, events.OffAir, Phase.OFF_AIR),
    ]:
        assert story.act(t * S, act, wearers=(1,)) is None
        line = story.line()
        assert (line.phase, line.state_for_ns) == (phase, 0)
        assert line.under_air is (phase is not Phase.OFF_AIR)
    assert story.line().wear_ns is None
    assert story.picture().came_out == 1
    story.act(70 * S, events.Connect, wearers=(1,))
    line = story.line(t=75 * S)
    assert (line.phase, line.wear_ns, line.pre_alarms) == (Phase.ON_AIR, 5 * S, 0)
    assert story.picture().came_out == 0


def test_the_same_id_does_nothing_a_second_time(story: "Story") -> None:
    story.list_and_join(1, 101)
    connect = {"wearers": (1,), "id": "the-same-id"}
    assert not story.incident.has_taken("the-same-id")
    story.act(10 * S, events.Connect, **connect)
    assert story.incident.has_taken("the-same-id")
    story.act(20 * S, events.OffAir, wearers=(1,))
    story.act(30 * S, events.Connect, **connect)
    assert story.line().phase is Phase.OFF_AIR


def test_ids_remembered_are_bounded(story: "Story") -> None:
    for n in range(ACT_IDS_MAX + 1):
        story.act(1 * S, events.Note, id=f"note-{n:06}", text="x")
    assert not story.incident.has_taken("note-000000")
    assert story.incident.has_taken("note-000001")


def test_notes_are_kept_with_their_time_up_to_a_limit(story: "Story") -> None:
    opened = story.incident.opened
    assert opened is not None
    s = Situation(opened, 0)
    s.now = 5 * S
    for n in range(NOTES_MAX + 1):
        acts.act_on(s, story.make(events.Note, text=f"{n}"))
    assert len(s.notes) == NOTES_MAX
    assert s.notes[0][0] == 5 * S


def test_a_crew_has_one_leader_the_one_named_last(story: "Story") -> None:
    for n in (1, 2, 3):
        story.act(0, events.ListWearer, wearer=n, name=f"W {n}", crew="Alpha 1", leader=n < 3)
    assert [w.leader for w in story.picture().wearers] == [False, True, False]
    story.act(0, events.ListWearer, wearer=4, name="W 4", crew="Alpha 2", leader=True)
    assert [w.leader for w in story.picture().wearers] == [False, True, False, True]
    story.act(0, events.SetCrew, wearer=3, crew="Alpha 1", leader=True)
    assert [w.leader for w in story.picture().wearers] == [False, False, True, True]
    story.act(0, events.SetCrew, wearer=3, crew="Alpha 2")
    assert [(w.crew, w.leader) for w in story.picture().wearers][2] == ("Alpha 2", False)


def test_places(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.connect(1)
    story.act(10 * S, events.Enter, wearers=(1,), location="floor 2", task="search")
    story.act(20 * S, events.Locate, wearers=(1,), location="stairs")
    line = story.line()
    assert (line.location, line.location_at_ns) == ("stairs", 20 * S)
    story.act(30 * S, events.SpokenReading, wearers=(1,), pressure_bar=200)
    assert story.line().location_at_ns == 20 * S


def test_a_wearer_without_telemetry(story: "Story") -> None:
    story.list_and_join(1, None)
    line = story.line()
    assert (line.pack, line.signal, line.phase) == (None, Signal.NONE, Phase.CHECKED_IN)
    assert (line.motion, line.silence_limit_ns, line.signal_dbm) == ("", None, None)
    story.connect(1)
    assert story.line().state == "no telemetry"
    picture = story.picture()
    assert (picture.under_air, picture.signals_expected) == (1, 0)


def test_another_pack_under_air_is_expected_from_then_on(story: "Story") -> None:
    story.enter(1)
    story.act(20 * S, events.JoinPack, wearer=1, pack=222)
    assert story.line().signal is Signal.NEVER
    assert [view.pack for view in story.picture().unjoined] == [101]
    # Nine intervals of 5 s and one second of jitter.
    assert story.alarms(t=66 * S - 1) == []
    assert story.alarms(t=66 * S) == ["no_signal"]


def test_a_pack_that_is_given_away_takes_its_distress_along(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.list_and_join(2, 102)
    story.hear(1 * S, distress=True)
    story.act(2 * S, events.JoinPack, wearer=1, pack=None)
    assert sorted(a.subject for a in story.picture().alarms) == ["1 Alpha 1", "pack 101"]
    story.act(3 * S, events.JoinPack, wearer=2, pack=101)
    views = {a.subject: a.latched for a in story.picture().alarms}
    assert views == {"1 Alpha 1": True, "2 Alpha 2": False}


def test_a_reset_of_a_pack_of_nobody(story: "Story") -> None:
    story.hear(1 * S, distress=True)
    story.hear(2 * S)
    story.take("distress")
    assert story.act(3 * S, events.Reset, alarm=1, reason="a trial") is None
    assert story.alarms() == []


def test_a_reset_about_the_base(story: "Story") -> None:
    story.do(1 * S, events.Resumed(down_ns=S, known_by="unknown", wall_ns=5 * S))
    alarm = story.alarm("time_unknown")
    assert (alarm.subject, alarm.wearers) == ("base", ())
    story.take("time_unknown")
    assert story.act(3 * S, events.Reset, alarm=1, reason="gauges read") is None
    assert story.alarms() == []


@pytest.mark.parametrize("kind", [Kind.SIGN_ON, Kind.STATUS])
def test_a_pack_heard_after_its_sign_off_is_on_again(story: "Story", kind: Kind) -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, kind=Kind.SIGN_OFF)
    assert story.line().signal is Signal.SIGNED_OFF
    story.hear(2 * S, boot=2, sequence=1, kind=kind)
    assert story.line().signal is Signal.HEARD


def test_a_receipt_of_an_older_boot_changes_nothing(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, boot=2, sequence=5, kind=Kind.SIGN_OFF)
    story.hear_receipt(2 * S, boot=1, sequence=9)
    assert story.line().signal is Signal.SIGNED_OFF
    story.hear_receipt(3 * S, boot=2, sequence=6)
    assert story.line().signal is Signal.HEARD
    story.hear_receipt(4 * S, 303, sequence=1, boot=4)
    (view,) = story.picture().unjoined
    assert (view.pack, view.signal, view.pressure_bar) == (303, Signal.HEARD, None)


def test_a_new_wear_begins_without_the_place_of_the_last_one(story: "Story") -> None:
    story.enter(1)
    assert story.line().location == "floor 2"
    story.act(20 * S, events.ComeOut, wearers=(1,))
    story.act(21 * S, events.OffAir, wearers=(1,))
    assert story.line().location == "floor 2"
    story.connect(1)
    assert (story.line().location, story.line().location_at_ns) == ("", None)
