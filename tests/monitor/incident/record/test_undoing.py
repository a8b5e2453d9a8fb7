"""A step taken back: the fold stands as one in which it was never noted."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.incident.events import NewObjective, ReachObjective, StartBack
from monitor.incident.orders.events import GiveOrder
from monitor.incident.picture import Phase
from monitor.incident.record.events import Undo
from protocol.packets import Apparatus, Equipment, Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
EQUIPMENT = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
SLIPS = ("come_out", "reach_objective", "new_objective", "start_back")
ACTS = {
    "come_out": events.ComeOut,
    "reach_objective": ReachObjective,
    "new_objective": NewObjective,
    "start_back": StartBack,
    "enter": events.Enter,
}


@pytest.fixture
def tell(new_story: "type[Story]") -> Any:
    """Ten minutes of one wearer, from 300 bar at 12 bar a minute; in after 60 s."""

    def make(slip: str = "", *, undone: bool = True) -> "Story":
        rules = new_story().incident.opened
        assert rules is not None
        update = {"turn_back_rule": "double", "turn_back_reserve_bar": 55.0}
        story = new_story(rules.procedure.model_copy(update=update))
        story.list_and_join()
        story.hear(0, kind=Kind.SIGN_ON, equipment=EQUIPMENT, pressure_dbar=3000)
        story.connect()
        for t in range(0, 601, 5):
            story.hear((t + 1) * S, pressure_dbar=3000 - t * 2)
            if t == 60 and slip != "enter":
                story.act((t + 1) * S, events.Enter, wearers=(1,), location="loft")
            if t == 300 and slip:
                assert story.act((t + 2) * S, ACTS[slip], id="act-slip-1", wearers=(1,)) is None
            if t == 330 and slip and undone:
                why = story.act((t + 2) * S, Undo, of="act-slip-1", wearers=(1,))
                assert why is None
        return story

    return make


def view(story: "Story") -> Any:
    (wearer,) = story.picture().wearers
    return wearer


@pytest.mark.parametrize("slip", SLIPS)
def test_the_line_is_as_if_the_step_had_never_been_noted(tell: Any, slip: str) -> None:
    never, taken_back = view(tell()), view(tell(slip))
    assert taken_back == never


def test_the_same_of_having_gone_in(tell: Any, new_story: Any) -> None:
    taken_back = view(tell("enter"))
    assert (taken_back.phase, taken_back.entered_ns) == (Phase.ON_AIR, None)


@pytest.mark.parametrize("slip", [slip for slip in SLIPS if slip != "new_objective"])
def test_without_it_the_line_would_be_another(tell: Any, slip: str) -> None:
    """Else the test above would prove nothing. Sent on while on the way in changes nothing."""
    never, slipped = view(tell()), view(tell(slip, undone=False))
    assert replace(slipped, state_for_ns=0) != replace(never, state_for_ns=0)


def test_only_who_noted_it_within_five_minutes_and_only_the_last(tell: Any) -> None:
    story = tell("start_back", undone=False)
    now = story.incident.now
    others = Undo(id="act-undo-1", by="M. Slip", of="act-slip-1", wearers=(1,))
    assert story.incident.would_refuse(others, now) == (
        "R. Harrow noted that: only they take it back."
    )
    mine = Undo(id="act-undo-2", by="R. Harrow", of="act-slip-1", wearers=(1,))
    at = 302 * S
    assert story.incident.would_refuse(mine, at + 300 * S) is None
    assert story.incident.would_refuse(mine, at + 300 * S + 1) == (
        "It was noted more than 5 min ago: correct the record."
    )
    unknown = Undo(id="act-undo-3", by="R. Harrow", of="act-other-1", wearers=(1,))
    assert "no such step" in (story.incident.would_refuse(unknown, now) or "")
    story.act(now, events.ComeOut, wearers=(1,))
    assert "something was noted after it" in (story.incident.would_refuse(mine, now) or "")


def test_one_after_the_other_the_last_first(tell: Any) -> None:
    story = tell("reach_objective", undone=False)
    now = story.incident.now
    story.act(now, StartBack, id="act-slip-2", wearers=(1,))
    assert story.picture().undo.of == "act-slip-2"
    story.act(now, Undo, of="act-slip-2", wearers=(1,))
    assert story.picture().undo.of == "act-slip-1"
    story.act(now, Undo, of="act-slip-1", wearers=(1,))
    assert view(story).objective_ns is None
    assert view(story).back_ns is None


def test_an_order_asks_who_is_not_out_after_all(story: "Story") -> None:
    for number in (1, 2):
        story.act(0, events.ListWearer, wearer=number, name=f"W {number}", crew="Alpha 1")
        story.act(0, events.JoinPack, wearer=number, pack=None, water_volume_l=6.8, rated_bar=300)
    story.act(0, events.Connect, wearers=(1, 2), pressure_bar=300)
    story.act(0, events.Enter, wearers=(1, 2))
    story.act(S, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    story.act(2 * S, events.ComeOut, id="act-slip-1", wearers=(1,))
    assert story.picture().orders[0].out == 1
    story.act(3 * S, Undo, of="act-slip-1", wearers=(1,))
    (order,) = story.picture().orders
    assert (order.out, order.is_open) == (0, True)
    assert [w.phase for w in story.picture().wearers] == [Phase.ENTERED, Phase.ENTERED]


def test_of_two_who_were_named_one_can_be_taken_back(story: "Story") -> None:
    for number in (1, 2):
        story.act(0, events.ListWearer, wearer=number, name=f"W {number}", crew="Alpha 1")
        story.act(0, events.JoinPack, wearer=number, pack=None, water_volume_l=6.8, rated_bar=300)
    story.act(0, events.Connect, wearers=(1, 2), pressure_bar=300)
    story.act(0, events.Enter, wearers=(1, 2))
    story.act(S, events.ComeOut, id="act-slip-1", wearers=(1, 2))
    story.act(2 * S, Undo, of="act-slip-1", wearers=(2,))
    assert [w.phase for w in story.picture().wearers] == [Phase.OUT, Phase.ENTERED]
    left = story.picture().undo
    assert left is not None
    assert left.wearers == (1,)


def test_what_stands_on_it_keeps_it(story: "Story") -> None:
    story.act(0, events.ListWearer, wearer=1, name="W", crew="")
    story.act(0, events.JoinPack, wearer=1, pack=None, water_volume_l=6.8, rated_bar=300)
    story.act(0, events.Connect, wearers=(1,), pressure_bar=300)
    story.act(0, events.Enter, wearers=(1,))
    story.act(S, events.ComeOut, id="act-slip-1", wearers=(1,))
    story.act(2 * S, events.OffAir, wearers=(1,))
    why = story.act(3 * S, Undo, of="act-slip-1", wearers=(1,))
    assert why == "W: something was noted after it."
    assert story.picture().undo is None
