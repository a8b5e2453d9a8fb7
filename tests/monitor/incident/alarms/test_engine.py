import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.alarms.engine import (
    ANNOUNCEMENTS_MAX,
    REFUSALS_MAX,
    STEPS_MAX,
    Aside,
    Engine,
    Key,
    Refusal,
    Step,
)
from monitor.incident.alarms.states import Input, State
from monitor.incident.picture import Priority

DISTRESS = Key(Kind.DISTRESS, wearer=1)
OVERDUE = Key(Kind.OVERDUE, wearer=2)
NO_SIGNAL = Key(Kind.NO_SIGNAL, wearer=3)
FILL_LOW = Key(Kind.FILL_LOW, wearer=4)


@pytest.fixture
def engine() -> Engine:
    return Engine()


def said(engine: Engine) -> list[tuple[str, int, bool]]:
    return [(s.kind, s.t, s.again) for s in engine.take_announcements()]


def test_a_condition_that_does_not_hold_makes_nothing(engine: Engine) -> None:
    engine.put(OVERDUE, 1, condition=False)
    assert engine.by_key == {}
    assert said(engine) == []


def test_only_what_is_over_and_waits_is_settled(engine: Engine) -> None:
    """What holds, and what latches, is not answered by a note of the officer's."""
    for key, states in ((OVERDUE, []), (DISTRESS, [State.LATCHED_UNACKNOWLEDGED])):
        engine.settle(key, 0)
        engine.put(key, 1, condition=True)
        engine.settle(key, 2)
        assert engine.by_key[key].state is State.UNACKNOWLEDGED
        engine.put(key, 3, condition=False)
        engine.settle(key, 4)
        assert [alarm.state for alarm in engine.by_number.values()] == states


def test_saying_the_same_again_does_nothing(engine: Engine) -> None:
    engine.put(OVERDUE, 1, condition=True)
    engine.put(OVERDUE, 2, condition=True)
    assert said(engine) == [("overdue", 1, False)]
    assert engine.by_key[OVERDUE].raised_ns == 1


def test_acknowledging_never_changes_the_condition(engine: Engine) -> None:
    engine.put(OVERDUE, 1, condition=True)
    engine.acknowledge(1, "R. Harrow", 2)
    alarm = engine.by_key[OVERDUE]
    assert alarm.condition
    assert alarm.counts
    assert (alarm.state, alarm.taken_by) == (State.ACKNOWLEDGED, "R. Harrow")


def test_an_alarm_taken_and_gone_is_no_more(engine: Engine) -> None:
    engine.put(OVERDUE, 1, condition=True)
    engine.acknowledge(1, "R. Harrow", 2)
    engine.put(OVERDUE, 3, condition=False)
    assert engine.by_key == {}
    assert engine.by_number == {}


def test_an_alarm_gone_and_not_taken_waits_but_colours_nothing(engine: Engine) -> None:
    engine.put(OVERDUE, 1, condition=True)
    engine.put(OVERDUE, 2, condition=False)
    alarm = engine.by_key[OVERDUE]
    assert alarm.waits
    assert not alarm.counts
    engine.put(OVERDUE, 3, condition=True)
    assert (alarm.number, alarm.raised_ns) == (1, 3)
    assert said(engine) == [("overdue", 1, False), ("overdue", 3, False)]


def test_a_number_is_never_given_twice(engine: Engine) -> None:
    for t in range(5):
        engine.put(OVERDUE, t, condition=True)
        engine.acknowledge(t + 1, "R. Harrow", t)
        engine.put(OVERDUE, t, condition=False)
    engine.put(OVERDUE, 9, condition=True)
    assert engine.by_key[OVERDUE].number == 6


def test_a_latching_alarm_stays_until_it_is_reset(engine: Engine) -> None:
    engine.put(DISTRESS, 1, condition=True)
    engine.put(DISTRESS, 2, condition=False)
    alarm = engine.by_key[DISTRESS]
    assert alarm.latched
    assert alarm.counts
    engine.acknowledge(1, "R. Harrow", 3)
    assert alarm.state is State.LATCHED_ACKNOWLEDGED
    engine.reset(1, 4)
    assert engine.by_key == {}


def test_what_the_table_refuses_changes_nothing_and_is_kept_for_the_log(engine: Engine) -> None:
    engine.put(DISTRESS, 1, condition=True)
    engine.reset(1, 2)
    assert engine.by_key[DISTRESS].state is State.UNACKNOWLEDGED
    refused = Refusal(1, Kind.DISTRESS, State.UNACKNOWLEDGED, Input.RESET, 2)
    assert engine.take_refusals() == (refused,)
    assert engine.take_refusals() == ()


def test_refusals_not_taken_do_not_grow_without_end(engine: Engine) -> None:
    engine.put(DISTRESS, 1, condition=True)
    for t in range(REFUSALS_MAX + 5):
        engine.reset(1, t)
    assert len(engine.take_refusals()) == REFUSALS_MAX


# ---------------------------------------------------------------- put aside


ASIDE = Aside(300, "R. Harrow", "crew told")


def test_put_aside_it_has_no_line_no_sound_and_colours_nothing(engine: Engine) -> None:
    engine.put(NO_SIGNAL, 1, condition=True)
    said(engine)
    assert engine.aside_until_ns(1) is None
    engine.put_aside(1, ASIDE, 2)
    alarm = engine.by_key[NO_SIGNAL]
    assert (alarm.listed, alarm.waits, alarm.counts) == (False, False, False)
    assert engine.aside_until_ns(1) == 300
    engine.put(NO_SIGNAL, 3, condition=False)
    engine.put(NO_SIGNAL, 4, condition=True)
    assert (said(engine), engine.take_refusals()) == ([], ())


@pytest.mark.parametrize("holds", [True, False])
def test_it_comes_back_by_its_condition(engine: Engine, holds: bool) -> None:
    engine.put(NO_SIGNAL, 1, condition=True)
    engine.acknowledge(1, "R. Harrow", 1)
    engine.put_aside(1, ASIDE, 2)
    engine.put(NO_SIGNAL, 3, condition=holds)
    engine.take_back(1, 300)
    assert engine.aside_until_ns(1) is None
    if holds:
        assert engine.by_key[NO_SIGNAL].state is State.UNACKNOWLEDGED
        assert said(engine)[-1] == ("no_signal", 300, False)
    else:
        assert engine.by_key == {}


@pytest.mark.parametrize("gone_meanwhile", [True, False])
def test_a_danger_ends_it_at_once(engine: Engine, gone_meanwhile: bool) -> None:
    engine.put(NO_SIGNAL, 1, condition=True)
    engine.put_aside(1, ASIDE, 2)
    if gone_meanwhile:
        engine.put(NO_SIGNAL, 3, condition=False)
    engine.put(NO_SIGNAL, 4, Priority.DANGER, condition=True)
    alarm = engine.by_key[NO_SIGNAL]
    assert (alarm.state, alarm.aside, alarm.waiting_ns) == (State.UNACKNOWLEDGED, None, 4)
    assert said(engine) == [("no_signal", 1, False), ("no_signal", 4, False)]


def test_what_the_rules_hold_back_is_not_put_aside_any_more(engine: Engine) -> None:
    """The rules then decide when it comes back, which is never later than was asked for."""
    engine.put(NO_SIGNAL, 1, condition=True)
    engine.put_aside(1, ASIDE, 2)
    engine.put(NO_SIGNAL, 3, condition=True, held=True)
    assert engine.by_key[NO_SIGNAL].state is State.SUPPRESSED
    assert engine.aside_until_ns(1) is None
    engine.put(NO_SIGNAL, 4, condition=True)
    assert engine.by_key[NO_SIGNAL].waits
    assert engine.take_refusals() == ()


def test_held_back_and_worse_at_once_it_is_released_and_nothing_is_refused(engine: Engine) -> None:
    engine.put(NO_SIGNAL, 1, condition=True, held=True)
    engine.put(NO_SIGNAL, 2, Priority.DANGER, condition=True)
    assert said(engine) == [("no_signal", 2, False)]
    assert engine.by_key[NO_SIGNAL].priority is Priority.DANGER
    assert engine.take_refusals() == ()


def test_all_of_one_wearer_come_back_together(engine: Engine) -> None:
    battery, other = Key(Kind.BATTERY_LOW, wearer=3), Key(Kind.NO_SIGNAL, wearer=4)
    for number, key in enumerate((NO_SIGNAL, battery, other), 1):
        engine.put(key, 1, condition=True)
        engine.put_aside(number, ASIDE, 2)
    engine.take_back_all(3, 5)
    assert [a.aside for a in engine.by_number.values()] == [None, None, ASIDE]


def test_what_may_be_put_aside(engine: Engine) -> None:
    for key in (DISTRESS, OVERDUE, NO_SIGNAL, Key(Kind.PRE_ALARM, wearer=4)):
        engine.put(key, 1, condition=True)
    assert [a.may_be_put_aside for a in engine.by_number.values()] == [False, False, True, False]
    engine.put(NO_SIGNAL, 2, Priority.DANGER, condition=True)
    assert not engine.by_key[NO_SIGNAL].may_be_put_aside


def test_a_pulse_latches_and_adds_nothing_while_the_condition_holds(engine: Engine) -> None:
    engine.pulse(DISTRESS, 1)
    alarm = engine.by_key[DISTRESS]
    assert alarm.state is State.LATCHED_UNACKNOWLEDGED
    engine.put(DISTRESS, 2, condition=True)
    engine.pulse(DISTRESS, 3)
    assert (alarm.condition, alarm.state) == (True, State.UNACKNOWLEDGED)
    assert said(engine) == [("distress", 1, False), ("distress", 2, False)]


def test_a_notice_is_neither_announced_nor_waits_and_goes_by_itself(engine: Engine) -> None:
    engine.put(FILL_LOW, 1, condition=True)
    assert engine.by_key[FILL_LOW].state is State.ACKNOWLEDGED
    engine.put(FILL_LOW, 2, condition=False)
    assert engine.by_key == {}
    assert said(engine) == []


def test_a_notice_made_a_caution_waits_but_needs_no_key_to_go(engine: Engine) -> None:
    engine.put(FILL_LOW, 1, Priority.CAUTION, condition=True)
    assert engine.by_key[FILL_LOW].waits
    engine.put(FILL_LOW, 2, condition=False)
    assert engine.by_key == {}
    assert said(engine) == [("fill_low", 1, False)]


def test_more_urgent_waits_anew_and_never_becomes_less_urgent(engine: Engine) -> None:
    engine.put(NO_SIGNAL, 1, condition=True)
    engine.acknowledge(1, "R. Harrow", 2)
    engine.put(NO_SIGNAL, 3, Priority.DANGER, condition=True)
    alarm = engine.by_key[NO_SIGNAL]
    assert (alarm.state, alarm.priority, alarm.waiting_ns) == (
        State.UNACKNOWLEDGED,
        Priority.DANGER,
        3,
    )
    engine.put(NO_SIGNAL, 4, Priority.CAUTION, condition=True)
    engine.put(NO_SIGNAL, 5, condition=True)
    assert alarm.priority is Priority.DANGER
    engine.put(NO_SIGNAL, 6, condition=False)
    assert alarm.state is State.RETURNED


def test_held_back_by_design_it_has_no_line_and_no_sound(engine: Engine) -> None:
    engine.put(NO_SIGNAL, 1, condition=True, held=True)
    alarm = engine.by_key[NO_SIGNAL]
    assert (alarm.state, alarm.condition, alarm.listed) == (State.SUPPRESSED, True, False)
    assert said(engine) == []
    engine.put(NO_SIGNAL, 2, condition=True)
    assert alarm.state is State.UNACKNOWLEDGED
    assert said(engine) == [("no_signal", 2, False)]
    engine.put(NO_SIGNAL, 3, condition=True, held=True)
    engine.put(NO_SIGNAL, 4, condition=False)
    assert engine.by_key == {}


def test_a_danger_that_waits_insists_every_thirty_seconds(engine: Engine) -> None:
    s = 1_000_000_000
    engine.put(DISTRESS, 1, condition=True)
    engine.put(NO_SIGNAL, 1, condition=True)
    assert engine.insist_at_ns(1) == 30 * s + 1
    assert engine.insist_at_ns(2) is None
    assert engine.insist_at_ns(3) is None
    engine.insist(1, 30 * s + 1)
    assert engine.by_key[DISTRESS].insisted
    assert engine.insist_at_ns(1) == 60 * s + 1
    assert said(engine)[-1] == ("distress", 30 * s + 1, True)
    engine.acknowledge(1, "R. Harrow", 40 * s)
    assert engine.insist_at_ns(1) is None


def test_a_pack_that_is_joined_keeps_its_alarm(engine: Engine) -> None:
    old, new = Key(Kind.DISTRESS, pack=7), Key(Kind.DISTRESS, wearer=1)
    engine.put(old, 1, condition=True)
    engine.move(old, new)
    assert list(engine.by_key) == [new]
    assert engine.by_number[1].wearers == (1,)
    engine.put(old, 2, condition=True)
    engine.move(old, new)
    assert set(engine.by_key) == {old, new}


def test_announcements_not_taken_do_not_grow_without_end(engine: Engine) -> None:
    for t in range(ANNOUNCEMENTS_MAX + 5):
        engine.pulse(Key(Kind.DISTRESS, pack=t + 1), t)
    taken = engine.take_announcements()
    assert len(taken) == ANNOUNCEMENTS_MAX
    assert taken[-1].t == ANNOUNCEMENTS_MAX + 4


def test_a_danger_that_is_over_insists_no_more(engine: Engine) -> None:
    engine.put(OVERDUE, 1, condition=True)
    engine.put(OVERDUE, 2, condition=False)
    assert engine.by_key[OVERDUE].waits
    assert engine.insist_at_ns(1) is None


def test_a_latched_danger_insists_though_its_condition_is_gone(engine: Engine) -> None:
    engine.put(DISTRESS, 1, condition=True)
    engine.put(DISTRESS, 2, condition=False)
    assert engine.insist_at_ns(1) == 30_000_000_000 + 1


def test_steps_are_kept_for_the_record_once_asked_for(engine: Engine) -> None:
    engine.put(OVERDUE, 1, condition=True)
    assert engine.take_steps() == ()
    engine.keep_steps()
    engine.acknowledge(1, "R. Harrow", 2)
    engine.put(OVERDUE, 3, condition=False)
    danger, holds = Priority.DANGER, True
    taken, gone = Input.ACKNOWLEDGE, Input.CLEAR
    waits, seen, over = State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.NORMAL
    assert engine.take_steps() == (
        Step(1, OVERDUE, danger, waits, seen, taken, 2, holds, "R. Harrow", (2,), ()),
        Step(1, OVERDUE, danger, seen, over, gone, 3, not holds, "", (2,), ()),
    )
    assert engine.take_steps() == ()


def test_a_step_that_nobody_made_names_nobody(engine: Engine) -> None:
    """A notice counts as taken at once, by itself."""
    engine.keep_steps()
    engine.put(FILL_LOW, 1, condition=True)
    raised, taken = engine.take_steps()
    assert (raised.before, raised.after) == (State.NORMAL, State.UNACKNOWLEDGED)
    assert (taken.what, taken.by) == (Input.ACKNOWLEDGE, "")


def test_steps_nobody_takes_do_not_grow_without_end(engine: Engine) -> None:
    engine.keep_steps()
    for t in range(STEPS_MAX):
        engine.put(FILL_LOW, t, condition=t % 2 == 0)
    assert len(engine.take_steps()) == STEPS_MAX


def test_what_flickers_is_one_alarm_until_its_off_delay_is_over(engine: Engine) -> None:
    """Low air: 60 s by the catalogue, counted anew from each time at which it is over."""
    key, off = Key(Kind.LOW_AIR, wearer=1), 60_000_000_000
    for t in (10, 20, 30):
        engine.put(key, t, condition=True)
        engine.put(key, t + 5, condition=False)
    assert (engine.by_key[key].raised_ns, engine.by_key[key].over_ns) == (10, 35)
    assert said(engine) == [("low_air", 10, False)]
    assert engine.ends_at_ns(1) == 35 + off
    engine.put(key, 34 + off, condition=False)
    assert engine.by_key[key].condition
    engine.end(1, 35 + off)
    assert engine.by_key[key].state is State.RETURNED
    assert engine.ends_at_ns(1) is None


def test_what_is_over_for_good_has_no_off_delay(engine: Engine) -> None:
    key = Key(Kind.LOW_AIR, wearer=1)
    engine.put(key, 1, condition=True)
    engine.put(key, 2, condition=False)
    engine.put(key, 3, condition=False, at_once=True)
    assert engine.by_key[key].state is State.RETURNED
    assert engine.ends_at_ns(1) is None


@given(
    kind=st.sampled_from([kind for kind in Kind if CATALOGUE[kind].off_delay_s]),
    told=st.lists(st.tuples(st.integers(1, 70_000_000_000), st.booleans()), min_size=1),
)
def test_no_off_delay_costs_a_first_alarm_any_time(
    kind: Kind, told: list[tuple[int, bool]]
) -> None:
    """Whenever the condition is there, so is the alarm, and it began with it at the latest."""
    engine, key, t, since = Engine(), Key(kind, wearer=1), 0, None
    for after, condition in told:
        t += after
        engine.put(key, t, condition=condition)
        since = (t if since is None else since) if condition else None
        if since is not None:
            alarm = engine.by_key[key]
            assert alarm.condition
            assert alarm.raised_ns <= since


def test_who_joins_without_a_sound_is_a_step_of_the_record(engine: Engine) -> None:
    engine.keep_steps()
    key = Key(Kind.PACK_OFF, crew="Alpha 1")
    engine.put(key, 1, condition=True, wearers=(3,))
    engine.acknowledge(1, "R. Harrow", 2)
    engine.take_steps()
    engine.put(key, 3, condition=True, wearers=(3, 4))
    engine.put(key, 4, condition=True, wearers=(3,))
    engine.put(key, 5, condition=True, wearers=(3, 4))
    (step,) = engine.take_steps()
    assert (step.what, step.before, step.t) == (None, step.after, 3)
    assert (step.joined, step.wearers) == ((4,), (3, 4))
    engine.put(key, 6, condition=True, wearers=(3, 4, 5), joined=True)
    (worse,) = engine.take_steps()
    assert (worse.what, worse.joined) == (Input.WORSEN, (5,))
