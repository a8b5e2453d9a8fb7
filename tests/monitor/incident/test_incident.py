"""The fold as a whole: the same events and horizons make the same incident, however it is told."""

from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.incident import events
from monitor.incident.decoding import event_of, row_of
from monitor.incident.events import ClockStep, Done, Event, Heard
from monitor.incident.incident import Incident, NotOpenedError
from monitor.incident.orders.events import AnswerByVoice, CloseOrder, EmergencyCrew, GiveOrder
from monitor.incident.procedure import Procedure, TaskPrior
from monitor.incident.record import events as record
from monitor.incident.rows import Row, RowKind, Standing
from monitor.incident.situation import CONTACTS_MAX
from protocol.codec import encode
from protocol.packets import Kind, Motion
from tests.depth import examples

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
PACKS = (101, 102, 103, 104, 105)
WEARERS = (1, 2, 3, 4)
RULES = Procedure(
    name="trial",
    title="Trial rules",
    low_air_fraction=0.35,
    silence_limit_s=90,
    pre_alarm_silence_s=15,
    gas_temperature_c=30,
    projection_rate_l_min=100,
    spoken_reading_valid_s=600,
    turn_back_rule="double",
    turn_back_reserve_bar=55,
    standby=0,
    lone_entrant_allowed=True,
    tasks={"fire": TaskPrior(prior_l_min=100, prior_spread=0.2, source="assumed")},
)
"""With marks to turn back at, and a task that changes what is expected."""


KEPT = (
    record.TickCheck, record.Assign, record.SearchArea, record.PlanRelief, record.MoveBoard,
    record.MoveBoard, record.TickAfterUse, record.ReportDefect, record.ClearDefect,
    record.ChangeCylinder, record.FillCylinder, record.TellEmergency, record.RealEmergency,
    record.PauseExercise, record.HandOver, record.Correct, record.SetStage, GiveOrder,
    AnswerByVoice, CloseOrder, EmergencyCrew,
)  # fmt: skip
"""Acts that keep the record, and orders, which stand while a wearer is moved."""
SETS = ("pack 101", "set of Alpha 1", "S-1")


def kept(draw: Any, kind: type, wearers: tuple[int, ...], t: int) -> dict[str, Any]:
    """Fields of one of these."""

    def one(*choices: Any) -> Any:
        return draw(st.sampled_from(choices))

    number = wearers[0]
    fields: dict[type, dict[str, Any]] = {
        record.TickCheck: {"wearer": number, "check": one("full", "link"), "passed": False},
        record.Assign: {"wearers": wearers, "task": one("", "fire attack"), "brief": "left"},
        record.SearchArea: {"area": one("loft", "hall"), "state": "searched", "wearers": wearers},
        record.PlanRelief: {"crew": one("Alpha 1", "Alpha 2"), "due_ns": one(None, 0, t + 40 * S)},
        record.MoveBoard: {"wearers": wearers, "board": one("", "board B")},
        record.TickAfterUse: {"wearer": number, "step": one("bled", "cylinder off", "made ready")},
        record.ReportDefect: {"set_id": one(*SETS), "text": "leaks"},
        record.ClearDefect: {"set_id": one(*SETS), "text": "new seal"},
        record.ChangeCylinder: {"wearer": number, "cylinder_id": one("", "C-1")},
        record.FillCylinder: {"cylinder_id": one("C-1", "Alpha 1, wear 1")},
        record.TellEmergency: {"wearers": wearers, "to": "command", "text": "as told"},
        record.PauseExercise: {"on": one(True, False)},
        record.HandOver: {"to": one("R. Harrow", "L. Tenon")},
        record.Correct: {"of": "act-000001", "text": "the other one"},
        record.SetStage: {"stage": one("1", "2")},
        GiveOrder: {"order": one("evacuate", "come out", "roll call"), "wearers": wearers,
                    "scope": "these"},
        AnswerByVoice: {"order": one(1, 2), "wearers": wearers},
        CloseOrder: {"order": one(1, 2), "override": one("", "a trial")},
        EmergencyCrew: {"crew": one("Alpha 1", "Alpha 2"),
                        "state": one("ready", "committed", "stood down")},
    }  # fmt: skip
    # Acts without fields of their own get none; all others are about these wearers.
    return fields.get(kind, {} if kind in KEPT else {"wearers": wearers})


def act(draw: Any, story: "Story", t: int) -> None:
    wearers = tuple(draw(st.lists(st.sampled_from(WEARERS), min_size=1, max_size=3, unique=True)))
    kind = draw(st.sampled_from([
        events.Connect, events.Enter, events.ComeOut, events.OffAir, events.SpokenReading,
        events.JoinPack, events.Acknowledge, events.Reset, events.EnrolAgain,
        events.PutAside, events.TakeBack, events.ReachObjective, events.NewObjective,
        events.StartBack, events.AugmentSupply, events.SetCrew, *KEPT,
    ]))  # fmt: skip
    fields: dict[str, Any] = kept(draw, kind, wearers, t)
    if kind is events.SpokenReading:
        fields["pressure_bar"] = draw(st.integers(0, 300))
    elif kind is events.JoinPack:
        fields = {"wearer": wearers[0], "pack": draw(st.sampled_from((*PACKS, None)))}
        fields["water_volume_l"] = draw(st.sampled_from((None, 3.0, 6.8)))
    elif kind is events.Acknowledge:
        fields = {"alarms": (draw(st.integers(1, 6)),)}
    elif kind is events.Reset:
        fields = {"alarm": draw(st.integers(1, 6)), "reason": "a trial"}
    elif kind is events.PutAside:
        minutes = draw(st.integers(1, 3))
        fields = {"alarm": draw(st.integers(1, 6)), "minutes": minutes, "reason": "a trial"}
    elif kind is events.TakeBack:
        fields = {"alarm": draw(st.integers(1, 6))}
    elif kind is events.EnrolAgain:
        fields = {"pack": draw(st.sampled_from(PACKS))}
    elif kind is events.SetCrew:
        crew = draw(st.sampled_from(("", "Alpha 1", "Alpha 2")))
        fields = {"wearer": wearers[0], "crew": crew, "leader": draw(st.booleans())}
    elif kind is events.AugmentSupply:
        fields["on"] = draw(st.booleans())
    elif kind not in (events.NewObjective, *KEPT) and draw(st.booleans()):
        fields["at_ns"] = max(0, t - draw(st.integers(-5, 60)) * S)
    if kind is events.Enter:
        fields["task"] = draw(st.sampled_from(("", "fire attack")))
    story.act(t, kind, **fields)


def hear(draw: Any, story: "Story", t: int) -> None:
    story.hear(
        t,
        draw(st.sampled_from(PACKS)),
        draw(st.sampled_from([Standing.LIVE] * 6 + list(Standing))),
        sequence=draw(st.sampled_from([None, None, None, 2, 5])),
        boot=draw(st.sampled_from([1, 1, 1, 2])),
        kind=draw(st.sampled_from([Kind.STATUS] * 5 + [Kind.SIGN_OFF, Kind.EVENT])),
        motion=draw(st.sampled_from([Motion.MOVING, Motion.PRE_ALARM, Motion.ALARM])),
        distress=draw(st.sampled_from([False] * 5 + [True])),
        pressure_dbar=draw(st.sampled_from([None, 2900, 1500, 1100, 1000])),
        interval_s=draw(st.sampled_from([5, 5, 1, 20])),
    )


def base_fact(draw: Any, story: "Story", horizon: int) -> None:
    """What the recorder says of itself stands right after the last horizon."""
    t = horizon + 1
    span = draw(st.integers(0, 100)) * S
    fact: events.Fact = draw(
        st.sampled_from(
            [
                events.Stall(from_ns=horizon, to_ns=horizon + span),
                events.Resumed(down_ns=span, known_by="unknown", wall_ns=span),
                events.LinkState(link=1, name="udp", up=span < 50 * S),
                events.Refused(link=1, counts={"TAG": 1}),
            ]
        )
    )
    story.do(t, fact)


@st.composite
def histories(draw: Any, make: "type[Story]") -> tuple[list[Event], list[int]]:
    """Events, and horizons that no later event lies at or before."""
    story = make(RULES)
    for n in WEARERS:
        story.list_and_join(n, 100 + n, crew=f"Alpha {(n + 1) // 2}")
    story.enter(*draw(st.sampled_from([(), (1,), WEARERS])))
    horizons = []
    horizon = t = 1
    for _ in range(draw(st.integers(1, 6))):
        if draw(st.booleans()):
            base_fact(draw, story, horizon)
        t = horizon + 1
        for _ in range(draw(st.integers(0, 4))):
            t += draw(st.integers(0, 60)) * S // 2
            draw(st.sampled_from([act, hear, hear]))(draw, story, t)
        horizon = t + draw(st.integers(0, 50)) * S
        horizons.append(horizon)
    return story.events, horizons


def told(
    events_: list[Event], horizons: list[int], ticks: list[int], *, looking: bool = False
) -> list[Any]:
    """The pictures at all horizons; ``ticks``: other instants to advance to where that is fair.

    ``looking``: somebody looks after each event too, which must change nothing.
    """
    incident = Incident()
    pictures: list[Any] = []
    instants = sorted({*horizons, *ticks})
    waiting = list(events_)
    for instant in instants:
        while waiting and waiting[0].t <= instant:
            incident.apply(waiting.pop(0))
            if looking:
                look(incident)
        incident.advance(instant)
        if looking:
            look(incident)
        if instant in horizons:
            pictures.append(incident.picture())
    pictures.append(incident.take_announcements())
    # Acts are checked before, and the fold itself never asks for what the table refuses.
    assert incident.take_refusals() == ()
    return pictures


def look(incident: Incident) -> None:
    """As a board and a screen of one wearer do."""
    if incident.opened is not None:
        incident.picture()
        for wearer in WEARERS:
            incident.air_detail(wearer)


@pytest.fixture(scope="session")
def any_history(new_story: "type[Story]") -> Any:
    return histories(new_story)


@settings(max_examples=examples(30), deadline=None)
@given(st.data())
def test_pictures_are_equal_however_advancing_is_spread(any_history: Any, data: Any) -> None:
    events_, horizons = data.draw(any_history)
    last = horizons[-1]
    coarse = told(events_, horizons, [])
    ticks = data.draw(st.lists(st.integers(0, last), max_size=30))
    fine = told(events_, horizons, ticks, looking=True)
    assert fine == coarse
    # A reader that skips horizons sees the same at those it does look at.
    some = sorted({*data.draw(st.lists(st.sampled_from(horizons))), last})
    skipping = told(events_, some, [])
    assert skipping == [p for h, p in zip(horizons, coarse, strict=False) if h in some] + [
        coarse[-1]
    ]


@settings(max_examples=examples(15), deadline=None)
@given(st.data())
def test_a_reader_of_the_journal_agrees_with_the_recorder(any_history: Any, data: Any) -> None:
    events_, horizons = data.draw(any_history)
    read = [event_of(written(event)) for event in events_]
    assert read == events_
    assert told([e for e in read if e is not None], horizons, []) == told(events_, horizons, [])


def written(event: Event) -> Row:
    if isinstance(event, Done):
        return row_of(event.t, event.what)
    frame = encode(event.packet, bytes(32))
    return Row(event.t, RowKind.FRAME, frame, event.link, event.late_ns, event.standing,
               event.signal_dbm)  # fmt: skip


def test_the_same_history_tells_apart_two_that_differ(story: "Story") -> None:
    # Two runs that agree prove something only if runs that should differ do.
    story.enter(1)
    story.hear(5 * S)
    events_ = list(story.events)
    assert told(events_, [90 * S], []) != told(events_[:-1], [90 * S], [])


# ---------------------------------------------------------------- the door


def test_nothing_comes_before_opening(new_story: "type[Story]") -> None:
    incident = Incident()
    with pytest.raises(NotOpenedError):
        incident.picture()
    story = new_story()
    story.hear(5 * S)
    incident.apply(story.events[1])
    incident.apply(Done(1, events.ClockStep(by_ns=1, wall_ns=1)))
    incident.advance(9 * S)
    assert incident.opened is None
    assert (incident.now, incident.closed, incident.heard_packs) == (0, False, ())
    assert incident.take_announcements() == ()
    assert not incident.has_taken("anything")
    incident.apply(story.events[0])
    assert incident.opened is not None
    assert incident.picture().name == "Kiln Lane"


def test_a_second_opening_does_nothing(story: "Story") -> None:
    opened = story.incident.opened
    assert opened is not None
    story.list_and_join(1, 101)
    story.do(5 * S, opened.model_copy(update={"name": "Elsewhere"}))
    assert story.picture().name == "Kiln Lane"
    assert len(story.picture().wearers) == 1


def test_time_never_goes_back(story: "Story") -> None:
    story.incident.advance(10 * S)
    story.incident.advance(5 * S)
    assert story.incident.now == 10 * S
    story.hear(7 * S, 555)
    assert story.incident.now == 10 * S
    assert story.picture().unjoined[0].silence_ns == 0


def test_packs_heard_in_order_of_first_contact(story: "Story") -> None:
    story.hear(1 * S, 103)
    story.hear(2 * S, 101)
    story.hear(3 * S, 102, standing=Standing.NOT_PROVEN)
    assert story.incident.heard_packs == (103, 101)


def test_a_flood_of_invented_packs_is_bounded(story: "Story") -> None:
    story.hear(1 * S, 7)
    heard = story.events[-1]
    assert isinstance(heard, Heard)
    for identity in range(1, CONTACTS_MAX + 10):
        heard.packet.identity = identity
        story.incident.apply(heard)
    assert len(story.incident.heard_packs) == CONTACTS_MAX
    story.act(2 * S, events.ListWearer, wearer=1, name="Wearer 1")
    # A real wearer's pack is taken up whatever the flood, and then heard.
    real = CONTACTS_MAX + 100
    assert story.act(2 * S, events.JoinPack, wearer=1, pack=real) is None
    story.hear(3 * S, real, distress=True)
    assert real in story.incident.heard_packs
    assert story.alarm("distress").wearers == (1,)


def test_packs_that_were_made_up_make_room_for_those_that_a_key_vouches_for(
    story: "Story",
) -> None:
    """Places filled by calls under no key; then a pack that is live, and one that is not proven."""
    story.hear(1 * S, 1, standing=Standing.UNPROVEN_DISTRESS, distress=True)
    made_up = story.events[-1]
    assert isinstance(made_up, Heard)
    for identity in range(1, CONTACTS_MAX + 10):
        made_up.packet.identity = identity
        story.incident.apply(made_up)
    live, unproven = CONTACTS_MAX + 100, CONTACTS_MAX + 101
    story.hear(2 * S, live)
    story.hear(2 * S, unproven, standing=Standing.NOT_PROVEN)
    shown = {pack.pack for pack in story.picture().unjoined}
    assert {live, unproven} <= shown
    assert len(shown) == CONTACTS_MAX
    # Once it is heard live, one that had called so keeps its place; nothing falls due for the rest.
    story.hear(3 * S, 10)
    for identity in range(30_000, 30_100):
        story.hear(3 * S, identity)
    assert 10 in story.incident.heard_packs
    story.incident.advance(200 * S)


def test_what_to_do_in_the_words_of_the_procedure(new_story: "type[Story]") -> None:
    opened = new_story().incident.opened
    assert opened is not None
    story = new_story(opened.procedure.model_copy(update={"do": {"low_air": "Team out now."}}))
    story.enter(1)
    story.hear(5 * S, low_air=True, distress=True)
    assert story.alarm("low_air").to_do == "Team out now."
    assert story.alarm("distress").to_do == "Call the crew. Emergency crew. Tell command."


def test_one_alarm_and_one_wearers_air_are_those_of_the_picture(story: "Story") -> None:
    story.enter(1, 2)
    story.hear(5 * S, 101, distress=True, pressure_dbar=2750)
    (line,) = story.picture().alarms
    assert story.incident.alarm(line.number) == line
    assert story.incident.alarm(line.number + 1) is None
    assert story.incident.air(1) == story.line(1).air
    assert story.incident.air(3) is None


def test_the_wall_clock_is_that_of_the_picture(story: "Story") -> None:
    story.do(10 * S, ClockStep(by_ns=3 * S, wall_ns=1_800_000_000 * S))
    story.incident.advance(12 * S)
    assert story.incident.wall_ns == story.picture().wall_ns == 1_800_000_002 * S


def test_before_the_opening_there_is_no_record_to_give() -> None:
    incident = Incident()
    incident.keep_alarm_steps()
    assert (incident.wall_ns, incident.alarm(1), incident.air(1)) == (0, None, None)
    assert incident.take_alarm_steps() == ()


def test_alarm_steps_are_handed_out_once(story: "Story") -> None:
    story.incident.keep_alarm_steps()
    story.enter(1)
    story.hear(5 * S, 101, distress=True)
    (step,) = story.incident.take_alarm_steps()
    assert (step.key.wearer, step.t) == (1, 5 * S)
    assert story.incident.take_alarm_steps() == ()
