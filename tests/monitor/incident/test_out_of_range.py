"""The out-of-range time-out at its exact deadline.

Rule: silence over k T + J, with k learnt from the link (test_link_rule) and J = 1 s. Of a link of
which little is known, with a report every 5 s and nobody to share with, k is 6: 6 x 5 + 1 = 31 s.
With two who share it is 8, with four 11. A deadline is the instant at which the limit is reached; a
frame at that very instant is still in time.
"""

from random import Random
from typing import TYPE_CHECKING

import pytest

from monitor.incident import contact, events
from monitor.incident.air import gas
from monitor.incident.picture import AirFrom, Priority, Signal
from monitor.incident.rows import Standing
from protocol.packets import Kind
from tests.depth import seeds

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
LIMIT = 31 * S
LIMIT_OF_TWO, LIMIT_OF_FOUR = 41 * S, 56 * S
NEVER_HEARD = 46 * S
HEARD = 10 * S
DUE = HEARD + LIMIT


@pytest.fixture
def entered(story: "Story") -> "Story":
    """Wearer 1 with pack 101 under air, last heard at ``HEARD``."""
    story.incident.advance(HEARD)
    story.enter(1)
    return story


def test_a_gap_is_three_intervals_and_a_second() -> None:
    assert contact.gap_after_ns(5) == 16 * S
    assert contact.gap_after_ns(1) == 4 * S


def test_signal_gap_shows_at_its_exact_instant_and_alarms_nobody(entered: "Story") -> None:
    assert entered.line(t=HEARD + 16 * S - 1).signal is Signal.HEARD
    assert entered.line().air.source is AirFrom.TELEMETRY
    line = entered.line(t=HEARD + 16 * S)
    assert (line.signal, line.state) == (Signal.GAP, "signal gap")
    assert line.air.source is AirFrom.ESTIMATE
    assert entered.alarms() == []


def test_one_nanosecond_before_at_and_after(entered: "Story") -> None:
    assert entered.line(t=DUE - 1).signal is Signal.GAP
    assert entered.alarms() == []
    assert entered.line(t=DUE).signal is Signal.LOST
    assert entered.alarm("no_signal").raised_at_ns == DUE
    assert entered.line(t=DUE + 1).state == "NO SIGNAL"
    assert entered.alarm("no_signal").priority is Priority.CAUTION


def test_a_late_tick_fires_it_at_its_own_time(entered: "Story") -> None:
    assert entered.alarm("no_signal", t=DUE + 20 * S).raised_at_ns == DUE
    (said,) = entered.incident.take_announcements()
    assert (said.kind, said.t, said.wearers) == ("no_signal", DUE, (1,))


def test_a_frame_just_before_or_at_the_deadline_is_in_time(new_story: "type[Story]") -> None:
    for early in (1, 0):
        story = new_story()
        story.incident.advance(HEARD)
        story.enter(1)
        story.hear(DUE - early)
        assert story.alarms(t=DUE + 1) == []
        assert story.alarms(t=DUE - early + LIMIT - 1) == []
        assert story.alarms(t=DUE - early + LIMIT) == ["no_signal"]


def test_a_frame_at_the_deadline_is_in_time_also_where_another_deadline_lies_just_before(
    story: "Story",
) -> None:
    story.incident.advance(HEARD - 1)
    story.enter(1)
    story.incident.advance(HEARD)
    story.enter(2)
    story.hear(HEARD + LIMIT_OF_TWO, 102)
    assert [a.wearers for a in story.picture(t=HEARD + LIMIT_OF_TWO).alarms] == [(1,)]


def test_a_frame_one_nanosecond_after_is_too_late(entered: "Story") -> None:
    entered.hear(DUE + 1)
    line = entered.line()
    assert line.signal is Signal.HEARD
    alarm = entered.alarm("no_signal")
    assert alarm.state == "returned, unacknowledged"
    assert alarm.raised_at_ns == DUE
    entered.take("no_signal")
    assert entered.alarms() == []
    assert entered.line().state == "ok"


def test_the_detail_states_the_rule(entered: "Story") -> None:
    assert entered.alarm("no_signal", t=HEARD + 47 * S).detail == "silent 47 s, limit 31 s"


def test_a_shorter_interval_brings_the_deadline_forward(entered: "Story") -> None:
    entered.hear(20 * S, interval_s=1)
    assert entered.alarms(t=20 * S + 31 * S - 1) == []
    assert entered.alarms(t=20 * S + 31 * S) == ["no_signal"]


def test_a_longer_interval_puts_it_off(entered: "Story") -> None:
    # Four reports of 10 s: test_link_rule has the sum.
    entered.hear(20 * S, interval_s=10)
    assert entered.alarms(t=20 * S + 41 * S - 1) == []
    assert entered.alarms(t=20 * S + 41 * S) == ["no_signal"]


# ---------------------------------------------------------------- the limit moves


def test_with_fewer_who_share_the_deadline_moves_earlier(story: "Story") -> None:
    story.incident.advance(HEARD)
    story.enter(1, 2)
    assert story.line(1).silence_limit_ns == LIMIT_OF_TWO
    story.act(20 * S, events.ComeOut, wearers=(2,))
    story.act(20 * S, events.OffAir, wearers=(2,))
    assert story.line(1).silence_limit_ns == LIMIT
    assert story.alarms(t=DUE - 1) == []
    assert story.alarm("no_signal", t=DUE + S).raised_at_ns == DUE


def test_a_deadline_that_has_then_passed_is_an_alarm_at_once(story: "Story") -> None:
    story.incident.advance(HEARD)
    story.enter(1, 2)
    story.act(DUE, events.ComeOut, wearers=(2,))
    story.act(DUE + S, events.OffAir, wearers=(2,))
    assert story.alarms() == []
    assert story.alarm("no_signal", t=DUE + 2 * S).raised_at_ns == DUE + S
    assert story.alarm("no_signal").detail == "silent 33 s, limit 31 s"


def test_with_more_who_share_it_moves_later(entered: "Story") -> None:
    entered.incident.advance(20 * S)
    entered.enter(2)
    entered.hear(HEARD + LIMIT_OF_TWO, 102)
    assert entered.alarms(t=HEARD + LIMIT_OF_TWO - 1) == []
    assert entered.alarm("no_signal", t=HEARD + LIMIT_OF_TWO).wearers == (1,)


def test_a_limit_that_grows_after_the_link_went_lets_go_of_no_alarm(entered: "Story") -> None:
    """Lost at 46 s, alone; then two share, and for them it would be 56 s."""
    entered.do(HEARD, events.LinkState(link=1, name="serial", up=True))
    assert "no_signal" in entered.alarms(t=DUE)
    entered.enter(2)
    entered.do(DUE + 1, events.LinkState(link=1, name="serial", up=False))
    entered.do(DUE + 2, events.LinkState(link=1, name="serial", up=True))
    assert entered.line(1).signal is Signal.LOST
    assert "no_signal" in entered.alarms()


def test_what_is_lost_states_the_limit_that_it_is_lost_by(entered: "Story") -> None:
    entered.incident.advance(DUE + S)
    entered.enter(2)
    line = entered.line(1)
    assert line.silence_limit_ns == LIMIT
    assert line.link_rule.startswith("silent 32 s, limit 31 s: 6 reports of 5 s; ")
    assert entered.line(2).silence_limit_ns == LIMIT_OF_TWO


def test_a_good_link_is_missed_sooner(entered: "Story") -> None:
    """Learnt from 900 reports without a loss, with an event's frames close together at the end."""
    for number in range(900):
        entered.hear(HEARD + number * 5 * S, pressure_dbar=2900 - number)
    last = HEARD + 899 * 5 * S
    for copy in range(3):
        last += S // 10 * copy
        entered.hear(last, pressure_dbar=2000)
    assert entered.alarms(t=last + 31 * S - 1) == []
    assert entered.alarm("no_signal", t=last + 40 * S).raised_at_ns == last + 31 * S


def test_losses_told_by_frames_held_back_count_too(entered: "Story") -> None:
    """A fifth of 40 at the start; then 6 of 8 more: 14 of 48 are 29.2 %, rounded up."""
    assert "loss 20 %" in entered.line().link_rule
    entered.hear(20 * S, standing=Standing.HELD, sequence=8)
    assert "loss 30 %" in entered.line().link_rule
    assert entered.alarm("no_signal", t=HEARD + 91 * S).raised_at_ns == DUE


def test_a_long_silence_makes_the_next_one_longer(entered: "Story") -> None:
    """Four reports missed are 20 s: a long gap, the first. Its frame comes at 35 s."""
    entered.hear(35 * S, sequence=6)
    limit = entered.line().silence_limit_ns
    assert limit is not None
    assert limit > LIMIT
    assert entered.line(t=35 * S + limit - 1).signal is Signal.GAP
    assert entered.line(t=35 * S + limit).signal is Signal.LOST


def test_time_that_nobody_listened_to_makes_no_silence_longer(entered: "Story") -> None:
    entered.do(34 * S, events.Stall(from_ns=11 * S, to_ns=34 * S))
    entered.hear(35 * S, sequence=6)
    assert entered.line().silence_limit_ns == LIMIT


@pytest.mark.parametrize("seed", seeds(1, 4))
def test_the_alarm_comes_when_the_stated_limit_is_reached(
    seed: int, new_story: "type[Story]"
) -> None:
    """Whatever a link has taught, in whatever order: never early, never late by a nanosecond.

    A third shares the false alarms; of two crews of one, the rule of the fleet says nothing.
    """
    random, story = Random(seed), new_story()
    for n in (1, 2):
        story.list_and_join(n, 100 + n, crew=f"Alpha {n}")
    story.enter(1, 2, 3)
    story.hear(0, 103, kind=Kind.SIGN_OFF)
    heard = dict.fromkeys((1, 2), 0)
    numbers = dict.fromkeys((1, 2), 1)
    exact = 0
    for _ in range(250):
        wearer = random.randint(1, 2)
        numbers[wearer] += random.choice((1, 1, 1, 2, 6))
        until = story.now + random.choice((S // 10, 2 * S, 5 * S, 5 * S, 50 * S))
        while story.now < until:
            lines = {n: story.line(n) for n in heard}
            waiting = [n for n in heard if lines[n].signal is not Signal.LOST]
            dues = [heard[n] + (lines[n].silence_limit_ns or 0) for n in waiting]
            # What the fleet tells may move a limit at any moment, so it is asked at every one.
            then = min(t for t in (until, story.now + 3 * S, *dues) if t > story.now)
            exact += then in dues
            for t in (then - 1, then):
                for n, since in heard.items():
                    line = story.line(n, t=max(t, story.now))
                    over = story.now - since >= (line.silence_limit_ns or 0)
                    assert (line.signal is Signal.LOST) is over
        story.hear(until, 100 + wearer, sequence=numbers[wearer])
        heard[wearer] = until
    assert exact > 10


@pytest.mark.parametrize("seed", seeds(1))
def test_the_alarm_comes_in_time_however_many_come_and_go(
    seed: int, new_story: "type[Story]"
) -> None:
    """With each who comes or goes all limits change; what has then been silent too long is lost."""
    random, story = Random(seed), new_story()
    others = tuple(range(2, 9))
    story.enter(1, *others)
    for other in others:  # they share, and are not silent
        story.hear(0, 100 + other, kind=Kind.SIGN_OFF)
    until, inside, alarms = 0, True, 0
    for _ in range(20):
        heard = until
        story.hear(heard)
        for step_s in sorted(random.sample(range(1, 95), 12)):
            due = heard + (story.line(1).silence_limit_ns or 0)
            until = heard + step_s * S
            if story.now < due <= until:
                alarms += 1
                assert story.line(1, t=due - 1).signal is not Signal.LOST
                assert story.line(1, t=due).signal is Signal.LOST
            story.incident.advance(until)
            steps = (events.ComeOut, events.OffAir) if inside else (events.Connect, events.Enter)
            inside = not inside
            assert [story.act(until, act, wearers=others) for act in steps] == [None, None]
            line = story.line(1, t=until)
            over = until >= heard + (line.silence_limit_ns or 0)
            assert (line.signal is Signal.LOST) is over
        until += S
    assert alarms > 5


# ---------------------------------------------------------------- what is not heard


@pytest.mark.parametrize("standing", [Standing.NOT_PROVEN, Standing.HELD, Standing.OLD])
def test_only_a_live_frame_ends_silence(entered: "Story", standing: Standing) -> None:
    entered.hear(DUE - 5 * S, standing=standing)
    assert "no_signal" not in entered.alarms(t=DUE - 1)
    assert "no_signal" in entered.alarms(t=DUE)


def test_a_late_older_frame_counts_as_heard_but_changes_no_value(entered: "Story") -> None:
    entered.hear(12 * S, sequence=4, pressure_dbar=2500)
    entered.hear(20 * S, sequence=3, pressure_dbar=2600, interval_s=1, low_air=True)
    line = entered.line(t=20 * S)
    assert line.air.reading_bar == 250
    assert line.silence_ns == 0
    # It takes one of two losses back.
    assert line.frames_lost == 1
    assert entered.alarms(t=20 * S + LIMIT - 1) == []
    assert entered.alarms(t=20 * S + LIMIT) == ["no_signal"]


def test_a_receipt_counts_as_heard(entered: "Story") -> None:
    entered.hear_receipt(20 * S, sequence=2)
    assert entered.alarms(t=20 * S + LIMIT - 1) == []
    assert entered.alarms(t=20 * S + LIMIT) == ["no_signal"]


# ---------------------------------------------------------------- reboot and sign-off


def test_a_pack_that_reboots_keeps_its_wearer(entered: "Story") -> None:
    entered.hear(20 * S, sequence=1, boot=2, pressure_dbar=2800)
    line = entered.line(t=21 * S)
    assert (line.wearer, line.signal, line.air.reading_bar) == (1, Signal.HEARD, 280)
    assert entered.alarms(t=20 * S + LIMIT - 1) == []
    assert entered.alarms(t=20 * S + LIMIT) == ["no_signal"]


def test_a_pack_that_has_signed_off_is_never_out_of_range(entered: "Story") -> None:
    entered.act(11 * S, events.ComeOut, wearers=(1,))
    entered.act(12 * S, events.OffAir, wearers=(1,))
    entered.hear(13 * S, kind=Kind.SIGN_OFF)
    line = entered.line(t=1000 * S)
    assert (line.signal, line.state) == (Signal.SIGNED_OFF, "off air")
    assert entered.alarms() == []


def test_a_sign_off_under_air_is_a_danger_and_being_heard_ends_it(entered: "Story") -> None:
    entered.hear(20 * S, kind=Kind.SIGN_OFF)
    assert entered.alarm("pack_off").priority is Priority.DANGER
    assert entered.alarms(t=20 * S + LIMIT) == ["pack_off"]
    # A frame sent before the sign-off that comes late does not undo it; a new one does.
    entered.hear(70 * S, sequence=1)
    assert entered.alarm("pack_off").state == "unacknowledged"
    entered.hear(71 * S, sequence=1, boot=2)
    assert entered.alarm("pack_off").state == "returned, unacknowledged"
    assert "no_signal" in entered.alarms(t=71 * S + LIMIT)


def test_copies_of_a_sign_off_add_nothing(entered: "Story") -> None:
    for n in range(5):
        entered.hear(20 * S + n, kind=Kind.SIGN_OFF)
    assert entered.alarms() == ["pack_off"]
    assert len(entered.incident.take_announcements()) == 1


# ---------------------------------------------------------------- never heard, not joined


def test_a_pack_never_heard_is_expected_from_connecting_on(story: "Story") -> None:
    story.list_and_join(1, 101)
    assert story.alarms(t=500 * S) == []
    story.connect(1)
    assert story.line().signal is Signal.NEVER
    assert story.line().state == "never heard"
    assert story.alarms(t=500 * S + NEVER_HEARD - 1) == []
    assert story.alarms(t=500 * S + NEVER_HEARD) == ["no_signal"]
    assert story.line().silence_ns is None


def test_silence_before_the_wear_alarms_at_connecting(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S)
    assert story.line(t=100 * S).signal is Signal.LOST
    assert story.alarms() == []
    story.connect(1)
    assert story.alarms() == ["no_signal"]


def test_a_pack_of_nobody_is_shown_and_alarms_nobody(story: "Story") -> None:
    story.hear(1 * S, 555, pressure_dbar=2000)
    (view,) = story.picture(t=3 * S).unjoined
    assert (view.pack, view.pressure_bar, view.silence_ns) == (555, 200, 2 * S)
    assert view.signal is Signal.HEARD
    assert story.picture(t=100 * S).unjoined[0].signal is Signal.LOST
    assert story.alarms() == []


# ---------------------------------------------------------------- the base did not listen


def test_a_stall_is_not_counted_against_packs_but_the_age_is(entered: "Story") -> None:
    entered.incident.advance(20 * S)
    entered.do(20 * S + 1, events.Stall(from_ns=20 * S, to_ns=30 * S))
    assert entered.alarms(t=DUE + 10 * S - 1) == []
    line = entered.line()
    assert line.silence_ns == LIMIT + 10 * S - 1
    assert entered.alarms(t=DUE + 10 * S) == ["no_signal"]
    assert entered.alarm("no_signal").raised_at_ns == DUE + 10 * S


def test_a_stall_over_the_deadline_is_noted_before_the_deadline_fires(entered: "Story") -> None:
    entered.incident.advance(35 * S)
    # Everything waits in the recorder: the stall's row may even stand after the deadline.
    entered.do(55 * S, events.Stall(from_ns=35 * S, to_ns=55 * S))
    assert entered.alarms() == []
    assert entered.alarms(t=DUE + 20 * S - 1) == []
    assert entered.alarms(t=DUE + 20 * S) == ["no_signal"]


def test_a_frame_read_during_the_stall_counts_from_when_it_was_read(entered: "Story") -> None:
    entered.incident.advance(20 * S)
    entered.do(20 * S + 1, events.Stall(from_ns=20 * S, to_ns=30 * S))
    entered.hear(25 * S)
    # Five seconds of the stall lie after it.
    assert entered.alarms(t=25 * S + LIMIT + 5 * S - 1) == []
    assert entered.alarms(t=25 * S + LIMIT + 5 * S) == ["no_signal"]


def test_the_recorders_restart_counts_only_what_was_listened_to(entered: "Story") -> None:
    entered.incident.advance(20 * S)
    down = 300 * S
    entered.do(
        20 * S + 1,
        events.Resumed(down_ns=down, known_by="boot clock", wall_ns=1_700_000_320 * S),
    )
    assert entered.alarms(t=DUE + down - 1) == []
    assert entered.line().silence_ns == LIMIT + down - 1
    assert entered.alarms(t=DUE + down) == ["no_signal"]


def test_a_suspended_machine_is_a_stall_like_any_other(entered: "Story") -> None:
    entered.incident.advance(20 * S)
    hours = 8 * 3600 * S
    entered.do(20 * S + 1, events.Stall(from_ns=20 * S, to_ns=20 * S + hours))
    # No pack is to blame, but air was breathed all the same: nothing is left by the estimate.
    assert entered.alarms(t=DUE + hours - 1) == ["overdue"]
    assert entered.alarms(t=DUE + hours) == ["overdue", "no_signal"]


def test_time_found_to_be_missing_is_not_counted_against_packs(entered: "Story") -> None:
    entered.do(20 * S, events.TimeMoved(by_ns=60 * S, known_by="pack uptime"))
    entered.hear(20 * S + 60 * S, 102)
    # Listened to for 10 s only: no alarm. But not heard for 70 s, so a gap, and that air is gone.
    assert entered.line(1).signal is Signal.GAP
    assert entered.alarms() == []
    assert entered.line(1).air.source is AirFrom.ESTIMATE
    assert entered.alarms(t=DUE + 60 * S - 1) == []
    assert entered.alarms(t=DUE + 60 * S) == ["no_signal"]


@pytest.mark.parametrize("by_s", [3600, -3600])
def test_a_step_of_the_wall_clock_moves_no_deadline(entered: "Story", by_s: int) -> None:
    entered.do(
        20 * S,
        events.ClockStep(by_ns=by_s * S, wall_ns=(1_700_000_020 + by_s) * S),
    )
    assert entered.alarms(t=DUE - 1) == []
    assert entered.picture().wall_ns == (1_700_000_000 + by_s) * S + DUE - 1
    assert entered.alarms(t=DUE) == ["no_signal"]


# ---------------------------------------------------------------- by voice


def test_a_spoken_reading_stands_in_for_the_signal_under_its_own_timer(entered: "Story") -> None:
    entered.incident.advance(DUE)
    spoke = DUE + 4 * S
    entered.act(spoke, events.SpokenReading, wearers=(1,), pressure_bar=290)
    assert entered.line().signal is Signal.BY_VOICE
    assert entered.alarm("no_signal").state == "returned, unacknowledged"
    entered.take("no_signal")
    # The rules of this story let a reading stand for 600 s.
    assert entered.line(t=spoke + 600 * S - 1).signal is Signal.BY_VOICE
    assert entered.alarms() == []
    assert entered.line(t=spoke + 600 * S).signal is Signal.LOST
    assert "no_signal" in entered.alarms()


def test_speaking_while_silent_but_not_yet_lost_counts_too(entered: "Story") -> None:
    entered.act(DUE - 2 * S, events.SpokenReading, wearers=(1,), pressure_bar=250)
    assert entered.line(t=DUE).signal is Signal.BY_VOICE
    assert entered.alarms() == []


def test_speaking_before_the_last_frame_does_not(entered: "Story") -> None:
    entered.act(11 * S, events.SpokenReading, wearers=(1,), pressure_bar=285)
    entered.hear(12 * S)
    assert entered.alarms(t=12 * S + LIMIT) == ["no_signal"]


def test_without_telemetry_the_last_word_is_the_link(story: "Story") -> None:
    story.list_and_join(1, None)
    story.connect(1, pressure_bar=290)
    assert story.line().signal is Signal.NONE
    # Nobody told the cylinder, so the estimate falls as in the smallest.
    assert "no_word" not in story.alarms(t=600 * S - 1)
    alarm = story.alarm("no_word", t=600 * S)
    assert alarm.priority is Priority.CAUTION
    assert alarm.detail == "last word 600 s ago, limit 600 s"
    story.act(610 * S, events.SpokenReading, wearers=(1,), pressure_bar=200)
    assert story.alarm("no_word").state == "returned, unacknowledged"
    assert story.line().signal is Signal.BY_VOICE
    assert story.line().state == "by voice"


# ---------------------------------------------------------------- silent air, several silent


def test_no_signal_becomes_a_danger_when_the_estimate_reaches_the_low_air_value(
    entered: "Story",
) -> None:
    # 290 bar at HEARD in 6.8 L at 30 C; low at 35 % of 300 = 105 bar; 100 L/min. The contents are
    # checked against outside values in test_gas; here the rule: whole seconds, rounded down.
    between = gas.usable_l(290, 6.8, 30) - gas.usable_l(105, 6.8, 30)
    low_at = HEARD + int(between / 100 * 60) * S
    entered.incident.advance(DUE)
    entered.take("no_signal")
    assert entered.alarm("no_signal", t=low_at - 1).priority is Priority.CAUTION
    alarm = entered.alarm("no_signal", t=low_at)
    assert (alarm.priority, alarm.acknowledged) == (Priority.DANGER, False)


def test_three_silent_together_are_one_danger(story: "Story") -> None:
    for n in (1, 2, 3, 4):
        story.list_and_join(n, 100 + n, crew=f"Alpha {(n + 1) // 2}")
    story.incident.advance(10 * S)
    story.enter(1, 2, 3, 4)
    for n in (1, 2, 3, 4):
        story.hear(20 * S + n * S, 100 + n)
    assert story.alarms(t=23 * S + LIMIT_OF_FOUR) == ["several_silent"]
    group = story.alarm("several_silent", t=24 * S + LIMIT_OF_FOUR)
    assert group.wearers == (1, 2, 3, 4)
    assert group.subject == "4 of 4"
    assert group.priority is Priority.DANGER
    assert [w.state for w in story.picture().wearers] == ["NO SIGNAL"] * 4
    said = [a.kind for a in story.incident.take_announcements() if not a.again]
    assert said.count("several_silent") == 1
    assert len(said) <= 3
    # Two are heard again: the two that remain are a crew of whom nobody is. The group tells of them
    # for 15 s more, as long as packs that come back one after another take.
    story.hear(90 * S, 101)
    story.hear(90 * S + 1, 102)
    assert story.alarms() == ["several_silent"]
    assert story.alarm("several_silent").subject == "2 of 4"
    story.incident.advance(105 * S + 1)
    assert sorted(story.alarms()) == ["crew_silent", "several_silent"]
    story.take("several_silent")
    assert story.alarms() == ["crew_silent"]
    assert story.alarm("crew_silent").wearers == (3, 4)
    # One of them is heard: the other's caution is back, after as long.
    story.hear(110 * S, 103)
    story.take("crew_silent")
    assert story.alarms() == ["crew_silent"]
    assert story.alarms(t=125 * S) == ["no_signal"]


def test_a_taken_group_takes_in_who_joins_and_waits_anew_once_it_has_doubled(
    story: "Story",
) -> None:
    for n in range(1, 7):
        story.list_and_join(n, 100 + n, crew="")
    story.enter(1, 2, 3, 4, 5, 6)
    told = story.incident.take_announcements

    def hear(packs: tuple[int, ...], from_s: int, until_s: int) -> None:
        for t in range(from_s, until_s, 5):
            for pack in packs:
                story.hear(t * S, pack, pressure_dbar=None)

    hear((104, 105, 106), 5, 100)
    story.take("several_silent")
    assert [a.kind for a in told()][-1] == "several_silent"
    # Two more are in it and are named, and nobody has to take it again for them.
    hear((106,), 100, 250)
    alarm = story.alarm("several_silent")
    assert (alarm.acknowledged, alarm.wearers) == (True, (1, 2, 3, 4, 5))
    assert alarm.detail == "2 new: Alpha 4, Alpha 5"
    # Who comes back adds nothing, and has to be counted again when silent again.
    story.hear(250 * S, 105)
    assert story.alarm("several_silent").detail == "1 new: Alpha 4"
    assert told() == ()
    # Three of then, and as many new ones: it has doubled.
    assert story.alarm("several_silent", t=420 * S).wearers == (1, 2, 3, 4, 5, 6)
    assert not story.alarm("several_silent").acknowledged
    assert [a.kind for a in told() if not a.again] == ["several_silent"]


def test_a_line_that_waits_stays_when_others_fall_silent_together(story: "Story") -> None:
    """Heard again but not taken; then a group that it is not in, and a change in its pack."""
    story.enter(1, 2, 3, 4)
    for t in range(0, 70, 5):
        for n in (2, 3, 4):
            story.hear(t * S, 100 + n)
    assert story.alarms(t=70 * S) == ["no_signal"]
    story.hear(70 * S, 101, battery_percent=90)
    assert story.alarm("no_signal").state == "returned, unacknowledged"
    for t in range(75, 190, 5):
        story.hear(t * S, 101, battery_percent=90)
    assert story.alarms() == ["several_silent", "no_signal"]
    story.hear(190 * S, 101, battery_percent=89)
    assert story.alarms() == ["several_silent", "no_signal"]
    assert story.alarm("no_signal").wearers == (1,)


def test_a_reading_is_stale_after_seconds_however_seldom_the_pack_reports(
    entered: "Story",
) -> None:
    """Three reports of 10 s, the longest interval under air, and a second: 31 s."""
    entered.hear(20 * S, interval_s=60)
    assert entered.line(t=51 * S - 1).air.source is AirFrom.TELEMETRY
    assert entered.line(t=51 * S).air.source is AirFrom.ESTIMATE
    assert entered.line(t=51 * S).signal is Signal.HEARD


def test_silences_that_began_apart_are_a_danger_once_there_are_three(story: "Story") -> None:
    for n in (1, 2, 3):
        story.list_and_join(n, 100 + n, crew=f"Alpha {n}")
    story.enter(1, 2, 3)
    for t in range(5, 400, 5):
        for n in (1, 2, 3):
            if t <= n * 100:
                story.hear(t * S, 100 + n, pressure_dbar=3000 - t)
    assert story.alarms(t=300 * S) == ["no_signal"] * 2
    assert story.alarms(t=400 * S) == ["several_silent"]


def test_with_no_link_left_the_packs_are_not_to_blame(entered: "Story") -> None:
    up = events.LinkState(link=1, name="udp 41900", up=True)
    entered.do(11 * S, up)
    entered.do(12 * S, events.LinkState(link=1, name="udp 41900", up=False, detail="gone"))
    receiver = entered.alarm("receiver_down")
    assert (receiver.priority, receiver.subject) == (Priority.DANGER, "udp 41900")
    assert entered.alarms(t=DUE) == ["receiver_down"]
    assert entered.line().state == "no signal"
    # The estimate goes on, and is never held back.
    assert "no_signal" in entered.alarms(t=2000 * S)
    entered.do(2001 * S, up)
    assert entered.alarm("receiver_down").state == "returned, unacknowledged"


def test_with_the_link_back_silence_counts_on_from_where_it_stood(entered: "Story") -> None:
    # Last heard at 10 s, so 2 s of silence are listened to before the link goes.
    entered.do(12 * S, events.LinkState(link=1, name="udp 41900", up=False))
    entered.incident.advance(DUE)
    assert entered.line().state == "no signal"
    back = DUE + 1
    entered.do(back, events.LinkState(link=1, name="udp 41900", up=True))
    assert "no_signal" not in entered.alarms()
    assert entered.line().state == "signal gap"
    due = back + LIMIT - 2 * S
    assert "no_signal" not in entered.alarms(t=due - 1)
    assert "no_signal" in entered.alarms(t=due)


def test_a_silence_that_was_too_long_before_the_link_went_is_an_alarm_when_it_is_back(
    entered: "Story",
) -> None:
    entered.incident.advance(DUE)
    entered.do(DUE + 1, events.LinkState(link=1, name="udp 41900", up=False))
    entered.do(DUE + 2, events.LinkState(link=1, name="udp 41900", up=True))
    assert "no_signal" in entered.alarms()


def test_one_link_of_two_down_is_a_caution_and_holds_nothing_back(entered: "Story") -> None:
    entered.do(11 * S, events.LinkState(link=1, name="udp 41900", up=True))
    entered.do(12 * S, events.LinkState(link=2, name="serial", up=False))
    assert entered.alarm("receiver_down").priority is Priority.CAUTION
    assert "no_signal" in entered.alarms(t=DUE)
