"""Cautions and notices that mates of a crew share: one line, opened again when another joins."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority
from monitor.incident.rows import Standing

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
WORD_NS = 600 * S
"""How long a word stands, by the trial rules."""


def announced(story: "Story") -> list[tuple[str, tuple[int, ...]]]:
    """What was announced as new since the last look."""
    return [(a.kind, a.wearers) for a in story.incident.take_announcements() if not a.again]


@pytest.fixture
def pair(story: "Story") -> "Story":
    """A crew of two, inside at 0; both packs are heard."""
    story.enter(1, 2)
    return story


def slow(story: "Story", t_s: int, *wearers: int) -> None:
    """Their packs report each 11 s."""
    for wearer in wearers:
        story.hear(t_s * S, 100 + wearer, interval_s=11)


def keep_heard(story: "Story", from_s: int, to_s: int) -> None:
    for t in range(from_s, to_s, 5):
        for wearer in (1, 2):
            interval_s = 11 if wearer == 1 else 5
            story.hear(t * S, 100 + wearer, interval_s=interval_s, pressure_dbar=2900 - t // 5)


def test_mates_are_one_line_and_one_sound(pair: "Story") -> None:
    slow(pair, 5, 1)
    assert announced(pair) == [("slow_reports", (1,))]
    assert pair.alarm("slow_reports").subject == "1 Alpha 1"
    slow(pair, 6, 2)
    assert announced(pair) == []
    alarm = pair.alarm("slow_reports")
    assert (alarm.subject, alarm.crew, alarm.wearers) == ("Alpha 1, Alpha 2", "Alpha 1", (1, 2))
    assert alarm.detail == "a report each 11 s, at most 10 s", "of both the same is to be said"
    assert [pair.line(w).state for w in (1, 2)] == ["SLOW REPORTS", "SLOW REPORTS"]
    pair.hear(10 * S, 101, interval_s=5)
    assert pair.alarm("slow_reports").subject == "2 Alpha 2"
    assert pair.line(1).state == "ok"


def test_another_crew_is_another_call(pair: "Story") -> None:
    pair.list_and_join(3, 103, crew="Bravo 1")
    pair.enter(3)
    slow(pair, 5, 1, 2, 3)
    assert announced(pair) == [("slow_reports", (1,)), ("slow_reports", (3,))]


def test_one_without_a_crew_has_a_line_of_their_own(story: "Story") -> None:
    for wearer in (1, 2):
        story.list_and_join(wearer, 100 + wearer, crew="")
    story.enter(1, 2)
    slow(story, 5, 1, 2)
    subjects = [alarm.subject for alarm in story.picture().alarms]
    assert subjects == ["1 Alpha 1", "2 Alpha 2"]


def test_the_crew_is_named_where_its_members_are_not_called_after_it(pair: "Story") -> None:
    for wearer in (1, 2):
        pair.act(1 * S, events.SetCrew, wearer=wearer, crew="Delta 4")
    slow(pair, 5, 1, 2)
    assert pair.alarm("slow_reports").subject == "Delta 4: Alpha 1, Alpha 2"


def test_whoever_joins_at_once_is_named_as_new(pair: "Story") -> None:
    slow(pair, 5, 1)
    pair.take("slow_reports")
    announced(pair)
    slow(pair, 20, 2)
    alarm = pair.alarm("slow_reports")
    assert (alarm.acknowledged, alarm.detail) == (True, "1 new: Alpha 2")
    assert announced(pair) == []


def test_after_two_minutes_a_mate_who_joins_opens_it_again(pair: "Story") -> None:
    slow(pair, 5, 1)
    pair.take("slow_reports")
    announced(pair)
    keep_heard(pair, 10, 125)
    pair.hear(125 * S, 102, interval_s=11)
    assert announced(pair) == [("slow_reports", (1, 2))]
    assert not pair.alarm("slow_reports").acknowledged


def test_of_a_crew_without_packs_whoever_runs_out_of_air_is_told_alone(story: "Story") -> None:
    """From 290 and from 300 bar, at 100 L/min out of 6.8 L, 14.7 bar a minute by Boyle's law.

    105 bar are reached after 12.6 min and 13.3 min, after the word is due; a real gas holds less,
    so somewhat before. Between the two one is a danger, and the other a caution still.
    """
    for wearer, bar in ((1, 290), (2, 300)):
        story.list_and_join(wearer, None)
        story.act(0, events.JoinPack, wearer=wearer, pack=None, water_volume_l=6.8, rated_bar=300)
        story.act(0, events.Connect, wearers=(wearer,), pressure_bar=float(bar))
    story.act(0, events.Enter, wearers=(1, 2))
    story.incident.advance(WORD_NS)
    assert announced(story) == [("no_word", (1,))]
    number = story.alarm("no_word").number
    said: list[tuple[str, tuple[int, ...]]] = []
    while not said:
        story.incident.advance(story.now + S)
        said = announced(story)
    assert said == [("no_word", (1,))]
    assert WORD_NS < story.now < 12.6 * 60 * S
    found = {a.wearers: a for a in story.picture().alarms}
    assert found[1,].priority is Priority.DANGER
    assert (found[2,].priority, found[2,].number) == (Priority.CAUTION, number)
    story.incident.advance(round(13.3 * 60) * S)
    assert announced(story) == [("no_word", (2,))]
    assert {a.priority for a in story.picture().alarms} == {Priority.DANGER}


def test_no_word_of_a_whole_crew_is_one_line(story: "Story") -> None:
    for wearer in (1, 2, 3):
        story.list_and_join(wearer, None)
        story.act(0, events.JoinPack, wearer=wearer, pack=None, water_volume_l=6.8, rated_bar=300)
    story.act(0, events.Connect, wearers=(1, 2, 3), pressure_bar=300.0)
    # On another supply no cylinder runs out.
    story.act(0, events.AugmentSupply, wearers=(1, 2, 3), on=True)
    story.act(0, events.Enter, wearers=(1, 2, 3))
    story.incident.advance(WORD_NS - 1)
    assert announced(story) == []
    story.incident.advance(WORD_NS)
    assert announced(story) == [("no_word", (1,))]
    assert story.alarm("no_word").wearers == (1, 2, 3)
    assert story.alarm("no_word").subject == "Alpha 1, Alpha 2, Alpha 3"
    story.act(605 * S, events.SpokenReading, wearers=(1, 2), pressure_bar=250)
    assert story.alarm("no_word").subject == "3 Alpha 3"


def aside(story: "Story", kind: str, t_s: int) -> None:
    number = story.alarm(kind).number
    why = story.act(t_s * S, events.PutAside, alarm=number, minutes=5, reason="known")
    assert why is None


def test_whoever_joins_one_that_was_put_aside_opens_it_again(pair: "Story") -> None:
    slow(pair, 5, 1)
    aside(pair, "slow_reports", 6)
    assert pair.picture().put_aside[0].subject == "1 Alpha 1"
    pair.hear(10 * S, 101, interval_s=5)
    slow(pair, 12, 1)
    assert pair.alarms() == [], "of the first it is known"
    announced(pair)
    slow(pair, 13, 2)
    assert announced(pair) == [("slow_reports", (1, 2))]


def test_another_joins_one_that_was_put_aside_and_is_over(pair: "Story") -> None:
    slow(pair, 5, 1)
    aside(pair, "slow_reports", 6)
    pair.hear(10 * S, 101, interval_s=5)
    announced(pair)
    slow(pair, 13, 2)
    assert announced(pair) == [("slow_reports", (2,))]
    assert pair.incident.take_refusals() == ()


def test_put_aside_it_is_so_until_the_last_of_them_is_off_air(pair: "Story") -> None:
    slow(pair, 5, 1, 2)
    aside(pair, "slow_reports", 6)
    pair.act(7 * S, events.ComeOut, wearers=(1, 2))
    pair.act(7 * S, events.OffAir, wearers=(1,))
    assert pair.picture().put_aside[0].subject == "2 Alpha 2"
    pair.act(8 * S, events.OffAir, wearers=(2,))
    assert pair.picture().put_aside == ()


def test_one_put_aside_is_not_asked_for_anew(pair: "Story") -> None:
    """Taken for the first, who leaves; the mate who is left is put aside before the 15 s are up."""
    slow(pair, 5, 1)
    pair.take("slow_reports")
    slow(pair, 6, 2)
    pair.hear(7 * S, 101, interval_s=5)
    aside(pair, "slow_reports", 10)
    announced(pair)
    pair.incident.advance(30 * S)
    assert announced(pair) == []
    assert len(pair.picture().put_aside) == 1


def test_frames_of_a_crew_that_prove_nothing_are_one_caution(pair: "Story") -> None:
    for t in range(0, 40, 5):
        for wearer in (1, 2):
            pair.hear((t + 1) * S, 100 + wearer, Standing.NOT_PROVEN)
    assert announced(pair) == [("not_proven", (1,))]
    assert pair.alarm("not_proven").wearers == (1, 2)


def test_what_the_own_radio_makes_of_all_is_one_caution_for_all_crews(story: "Story") -> None:
    """No beacon goes out: no pack proves that it is live. One of eight is in no crew."""
    for wearer in range(1, 9):
        crew = {7: "Delta 1", 8: ""}.get(wearer, f"{('Alpha', 'Bravo', 'Cedar')[wearer % 3]} 1")
        story.list_and_join(wearer, 100 + wearer, crew=crew)
    for t in range(0, 40, 5):
        for wearer in range(1, 9):
            story.hear((t + 1) * S, 100 + wearer, Standing.NOT_PROVEN)
    assert announced(story) == [("not_proven", (1,))]
    alarm = story.alarm("not_proven")
    assert alarm.wearers == tuple(range(1, 9))
    assert alarm.subject == "Bravo 1, Cedar 1, Alpha 1, Delta 1 + 1 more", (
        "34 cells, as many as fit"
    )
    story.take("not_proven")
    for wearer in range(1, 8):
        story.hear(41 * S, 100 + wearer)
    alarm = story.alarm("not_proven")
    assert (alarm.wearers, alarm.subject, alarm.acknowledged) == ((8,), "8 Alpha 8", True)
    assert [story.line(w).state for w in (1, 8)] == ["checked in", "NOT PROVEN"]
    assert announced(story) == []


def test_a_pack_of_nobody_that_proves_nothing_has_a_line_of_its_own(pair: "Story") -> None:
    for t in range(0, 40, 5):
        pair.hear((t + 1) * S, 101, Standing.NOT_PROVEN)
        pair.hear((t + 1) * S, 190, Standing.NOT_PROVEN)
    found = [a.subject for a in pair.picture().alarms if a.kind == "not_proven"]
    assert sorted(found) == ["1 Alpha 1", "pack 190"]
    pair.list_and_join(3, 190)
    found = [a.subject for a in pair.picture().alarms if a.kind == "not_proven"]
    assert len(found) == 2, "one that stood alone stays in its line, number and all"


def test_a_crew_that_breathes_before_it_is_noted_on_air_is_asked_for_once(story: "Story") -> None:
    """Both lose 2 bar each 5 s from 290 bar on: 24 bar a minute, measured over 2 + 5 bar."""
    for wearer in (1, 2):
        story.list_and_join(wearer, 100 + wearer)
    for t in range(0, 30, 5):
        for wearer in (1, 2):
            story.hear((t + 1) * S, 100 + wearer, pressure_dbar=2900 - 4 * t)
    assert announced(story) == [("not_on_air", (1,))]
    assert story.alarm("not_on_air").wearers == (1, 2)
    story.act(31 * S, events.Connect, wearers=(1, 2))
    assert "not_on_air" not in story.alarms(), "the officer's note is the answer"
