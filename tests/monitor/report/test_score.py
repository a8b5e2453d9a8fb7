"""A run is judged by hand: what is shown, taken, done in time, late, missed, not asked."""

from dataclasses import replace
from types import MappingProxyType
from typing import Any

import pytest

from monitor.incident import events
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.orders.events import EmergencyCrew, GiveOrder
from monitor.report.score import Expected, Inject, Score, score
from protocol.packets import Motion
from simulators.scenario_file import load, names

S = 1_000_000_000
INJECT = Inject("caught", "distress", frozenset({1}), 5 * S)
TAKE = Expected(
    what="acknowledge", inject="caught", at_ns=0, alarm="distress", order="",
    wearers=frozenset({1}), within_ns=30 * S, needed=True, why="at once",
)  # fmt: skip
BACK = replace(TAKE, what="start_back", within_ns=60 * S)
SCRIPT = "drill script"
CAME = ((10 * S, "caught"),)


@pytest.fixture
def inside(tale: Any) -> Any:
    """Two of a crew are in; what they send is heard each five seconds."""
    for wearer in (1, 2):
        tale.person(wearer)
    for wearer in (1, 2):
        tale.hear(1, wearer)
        tale.act(2, events.Connect, wearers=(wearer,))
        tale.act(3, events.Enter, wearers=(wearer,))
    return tale


def judged(
    tale: Any,
    *expected: Expected,
    injects: Any = (INJECT,),
    came: Any = CAME,
    end_s: int = 200,
    could_not: Any = MappingProxyType({}),
) -> Score:
    found = tale.gathered(end_s)
    acts = [(t, act) for t, act in found.acts if act.by == "R. Harrow"]
    scripted = [(t, act) for t, act in found.acts if act.by == SCRIPT]
    lives = found.lives.in_order()
    return score(injects, expected, came, lives, acts, end_s * S, scripted, could_not)


def distress(tale: Any, t_s: float = 12) -> None:
    tale.hear(t_s, 1, distress=True)


def take(tale: Any, t_s: float, kind: str = "distress") -> None:
    tale.act(t_s, events.Acknowledge, alarms=tale.alarms(t_s, kind))


def test_when_it_was_shown_and_taken(inside: Any) -> None:
    distress(inside)
    take(inside, 20)
    (one,) = judged(inside).shown
    assert (one.verdict, one.shown_ns, one.taken_ns, one.by) == ("shown", 2 * S, 8 * S, "R. Harrow")


def test_shown_later_than_it_must_be(inside: Any) -> None:
    distress(inside, 16)
    (one,) = judged(inside).shown
    assert (one.verdict, one.shown_ns, one.taken_ns) == ("SHOWN LATE", 6 * S, None)


def test_what_stood_there_before_shows_it_at_once(inside: Any) -> None:
    distress(inside, 8)
    (one,) = judged(inside).shown
    assert (one.verdict, one.shown_ns) == ("shown", 0)


def test_an_alarm_of_another_wearer_does_not_show_it(inside: Any) -> None:
    inside.hear(12, 2, distress=True)
    (one,) = judged(inside, TAKE).shown
    assert one.verdict == "NOT SHOWN"
    silent = replace(INJECT, shows="")
    assert judged(inside, injects=(silent,)).shown[0].verdict == "need not show"


@pytest.mark.parametrize(
    ("at_s", "outcome", "after_s"), [(42, "done", 30), (42.1, "late", 30.1), (None, "missed", None)]
)
def test_taken_in_time_late_or_never(
    inside: Any, at_s: float | None, outcome: str, after_s: float | None
) -> None:
    distress(inside)
    if at_s is not None:
        take(inside, at_s)
    found = judged(inside, TAKE)
    (one,) = found.judged
    assert (one.outcome, one.from_ns) == (outcome, 12 * S)
    assert one.after_ns == (None if after_s is None else round(after_s * S))
    assert found.count(outcome) == 1  # type: ignore[arg-type]
    assert found.count(outcome, needed=False) == 0  # type: ignore[arg-type]


def test_a_run_that_ended_first_has_not_missed_it(inside: Any) -> None:
    """Shown at 12 s, 30 s for it: at 41 s there is still time, at 42 s there is not."""
    distress(inside)
    assert judged(inside, TAKE, end_s=41).judged[0].outcome == "not over"
    assert judged(inside, TAKE, end_s=42).judged[0].outcome == "missed"


def test_a_run_that_ended_first_has_not_failed_to_show_it(inside: Any) -> None:
    """The inject came at 10 s and had 5 s to be shown."""
    assert judged(inside, end_s=14).shown[0].verdict == "the run ended first"
    assert judged(inside, end_s=15).shown[0].verdict == "NOT SHOWN"


def test_taking_another_alarm_is_not_it(inside: Any) -> None:
    distress(inside)
    inside.hear(13, 2, distress=True)
    other = max(inside.alarms(14, "distress"))
    inside.act(15, events.Acknowledge, alarms=(other,))
    assert judged(inside, TAKE).judged[0].outcome == "missed"


def test_nothing_is_asked_where_nothing_came_or_nothing_was_shown(inside: Any) -> None:
    assert judged(inside, TAKE).judged[0].outcome == "not asked"
    found = judged(inside, TAKE, came=())
    assert found.judged[0].outcome == "not asked"
    assert found.never_came == ("caught",)


def test_an_act_counts_from_the_alarm_and_for_one_of_its_wearers(inside: Any) -> None:
    inside.act(11, events.StartBack, wearers=(1,))
    distress(inside)
    crew = replace(BACK, wearers=frozenset({1, 2}))
    assert judged(inside, crew).judged[0].outcome == "missed"  # before the alarm stood there
    inside.act(50, events.StartBack, wearers=(2,))
    (one,) = judged(inside, crew).judged
    assert (one.outcome, one.after_ns) == ("done", 38 * S)


def test_what_the_script_did_was_not_missed_unless_it_came_before_it_was_asked(
    inside: Any,
) -> None:
    """Shown at 12 s: the script's act at 11 s is not it, that at 30 s is, 18 s after."""
    inside.act(11, events.StartBack, by=SCRIPT, wearers=(1,))
    distress(inside)
    assert judged(inside, BACK).judged[0].outcome == "missed"
    inside.act(30, events.StartBack, by=SCRIPT, wearers=(1,))
    found = judged(inside, BACK)
    (one,) = found.judged
    assert (one.outcome, one.after_ns, one.by) == ("scripted", 18 * S, SCRIPT)
    assert found.count("missed") == 0


def test_what_the_officer_did_is_the_officers_whatever_the_script_did(inside: Any) -> None:
    distress(inside)
    inside.act(30, events.StartBack, by=SCRIPT, wearers=(1,))
    inside.act(40, events.StartBack, wearers=(1,))
    (one,) = judged(inside, BACK).judged
    assert (one.outcome, one.after_ns, one.by) == ("done", 28 * S, "R. Harrow")


def test_an_act_may_hang_on_an_instant(inside: Any) -> None:
    roll = replace(TAKE, what="give_order", inject="", at_ns=20 * S, alarm="", order="roll call",
                   wearers=frozenset())  # fmt: skip
    inside.act(30, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    assert judged(inside, roll).judged[0].outcome == "missed"
    inside.act(45, GiveOrder, order="roll call", everybody=True, scope="everybody")
    (one,) = judged(inside, roll).judged
    assert (one.outcome, one.after_ns) == ("done", 25 * S)


def test_taken_faster_than_it_can_be_read(inside: Any) -> None:
    distress(inside)
    take(inside, 12.9)
    ((t, life, after_ns),) = judged(inside).unread
    assert (t, life.kind, after_ns) == (round(12.9 * S), "distress", round(0.9 * S))


def test_one_second_is_enough_to_read_it(inside: Any) -> None:
    distress(inside)
    take(inside, 13)
    assert judged(inside).unread == ()


def test_orders_that_nothing_asks_for_are_to_be_talked_over(inside: Any) -> None:
    inside.act(30, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    inside.act(31, EmergencyCrew, crew="Alpha", state="ready")
    ((t, act),) = judged(inside).unasked
    assert (t, act.what) == (30 * S, "give_order")
    asked = replace(TAKE, what="give_order", order="evacuate")
    assert judged(inside, asked).unasked == ()


def test_what_is_good_to_do_is_counted_apart(inside: Any) -> None:
    distress(inside)
    take(inside, 20)
    found = judged(inside, replace(TAKE, needed=False))
    assert (found.count("done"), found.count("done", needed=False)) == (0, 1)


def test_what_could_not_happen_is_neither_not_shown_nor_asked_for(inside: Any) -> None:
    """The wearer is out: no board can show it, and nobody has anything to do about it."""
    at_once = replace(TAKE, alarm="", what="emergency_crew")
    why = {"caught": "wearer 1 is out"}
    found = judged(inside, TAKE, at_once, could_not=why)
    assert [one.verdict for one in found.shown] == ["could not happen: wearer 1 is out"]
    assert [one.outcome for one in found.judged] == ["not asked", "not asked"]
    found = judged(inside, TAKE, at_once)
    assert [one.verdict for one in found.shown] == ["NOT SHOWN"]
    assert [one.outcome for one in found.judged] == ["not asked", "missed"]


def test_what_was_shown_all_the_same_did_happen(inside: Any) -> None:
    distress(inside)
    take(inside, 20)
    found = judged(inside, TAKE, could_not={"caught": "wearer 1 is out"})
    assert [one.verdict for one in found.shown] == ["shown"]
    assert [one.outcome for one in found.judged] == ["done"]


@pytest.mark.parametrize(
    ("kind", "frame"),
    [
        ("distress", {"distress": True}),
        ("low_air", {"low_air": True, "bar": 50.0}),
        ("motion_alarm", {"motion": Motion.ALARM}),
    ],
)
def test_each_kind_of_inject_by_a_truth_made_by_hand(inside: Any, kind: str, frame: Any) -> None:
    """It comes at 10 s; the frame that tells of it at 12 s; it must be shown within 5 s."""
    inside.hear(12, 1, **frame)
    (one,) = judged(inside, injects=(replace(INJECT, shows=kind),)).shown
    assert (one.verdict, one.shown_ns) == ("shown", 2 * S)


def test_a_silence_is_shown_at_its_limit_and_not_before(inside: Any) -> None:
    """Nothing more is heard of either: whatever the limit, it is told after the inject at 10 s."""
    silent = replace(INJECT, shows="several_silent", within_ns=120 * S)
    found = judged(inside, injects=(silent,), end_s=300)
    alone = judged(inside, injects=(replace(silent, shows="no_signal"),), end_s=300)
    assert "shown" in {one.verdict for one in (*found.shown, *alone.shown)}


LIBRARY = [(inject.shows, inject) for name in names() for inject in load(name).injects]
SHOWN_KINDS = sorted({shows for shows, _ in LIBRARY if shows is not None})
OF_NOBODY = {
    shows for shows, one in LIBRARY if shows is not None and not (one.wearers or one.shows_for)
}


def by_hand(kind: str, *lives: Any) -> Any:
    """An inject of that kind at 10 s, which must be shown within 5 s, and what the board had."""
    wearers = frozenset() if kind in OF_NOBODY else frozenset({1})
    inject = Inject("it", kind, wearers, 5 * S)
    (one,) = score((inject,), (), ((10 * S, "it"),), lives, (), 100 * S).shown
    return one


@pytest.mark.parametrize("kind", SHOWN_KINDS)
def test_each_kind_of_the_library_by_an_alarm_made_by_hand(kind: str, make_alarm: Any) -> None:
    """Shown 2 s after the inject and taken 8 s after that; or late; or only before; or not."""
    one = by_hand(kind, make_alarm(12, kind=Kind(kind), taken_after_s=8))
    assert (one.verdict, one.shown_ns, one.taken_ns, one.by) == ("shown", 2 * S, 8 * S, "R. Harrow")
    late = by_hand(kind, make_alarm(16, kind=Kind(kind)))
    assert (late.verdict, late.shown_ns, late.taken_ns) == ("SHOWN LATE", 6 * S, None)
    edge = by_hand(kind, make_alarm(15, kind=Kind(kind)))
    assert (edge.verdict, edge.shown_ns) == ("shown", 5 * S)
    before = by_hand(kind, make_alarm(2, kind=Kind(kind), lasts_s=8))
    assert (before.verdict, before.shown_ns) == ("NOT SHOWN", None)
    other = next(k for k in Kind if k != kind)
    assert by_hand(kind, make_alarm(12, kind=other)).verdict == "NOT SHOWN"
    another = by_hand(kind, make_alarm(12, kind=Kind(kind), wearer=2))
    assert another.verdict == ("shown" if kind in OF_NOBODY else "NOT SHOWN")


def test_the_library_has_every_kind_that_a_drill_is_about() -> None:
    """So none of them is left without a truth made by hand."""
    assert {
        "crew_silent", "distress", "foreign_frames", "gauge", "loss_of_pressure", "low_air",
        "motion_alarm", "no_signal", "pre_alarm", "receiver_down", "same_identity",
        "several_silent", "turn_back",
    } <= set(SHOWN_KINDS)  # fmt: skip
