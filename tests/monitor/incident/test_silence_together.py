"""Several silent at once: everybody, whose air is low among them, and how such a line ends.

Packs report every 5 s; with so short a history the limits of the trial rules are some 60 s.
"""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority
from protocol.packets import Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
GONE = 300


def said(story: "Story") -> list[tuple[str, tuple[int, ...]]]:
    """What was announced as new since the last look."""
    return [(a.kind, a.wearers) for a in story.incident.take_announcements() if not a.again]


def inside(story: "Story", crews: str, dbar: int = 2900) -> None:
    """Wearers 1, 2, ... in crews of these letters, a blank: in none; heard until 300 s."""
    numbers = tuple(range(1, len(crews) + 1))
    for number, letter in zip(numbers, crews, strict=True):
        story.list_and_join(number, 100 + number, crew=f"Crew {letter}" if letter != " " else "")
    story.enter(*numbers)
    hear(story, numbers, 5, GONE + 1, dbar)


def hear(story: "Story", wearers: tuple[int, ...], from_s: int, to_s: int, dbar: int) -> None:
    for t in range(from_s, to_s, 5):
        for wearer in wearers:
            story.hear(t * S, 100 + wearer, pressure_dbar=dbar - t // 5)


def test_everybody_silent_is_said_and_what_to_look_at_first(story: "Story") -> None:
    inside(story, "AABBCC")
    hear(story, (6,), GONE + 5, GONE + 60, 2900)
    group = story.alarm("several_silent")
    assert (group.word, group.subject) == ("SEVERAL SILENT", "5 of 6")
    story.take("several_silent")
    said(story)
    story.incident.advance((GONE + 200) * S)
    group = story.alarm("several_silent")
    assert (group.word, group.subject) == ("EVERYBODY SILENT", "6 of 6")
    assert group.to_do.startswith("Own radio well?")
    assert not group.acknowledged, "nobody is left: that is news"
    assert said(story) == [("several_silent", (1, 2, 3, 4, 5, 6))]
    assert story.alarms() == ["several_silent"]


def test_that_nobody_is_left_is_announced_once_in_a_group(story: "Story") -> None:
    inside(story, "AABBCC")
    story.incident.advance((GONE + 100) * S)
    assert story.alarm("several_silent").word == "EVERYBODY SILENT"
    story.take("several_silent")
    said(story)
    for again in (100, 250, 400):
        story.hear((GONE + again) * S, 106, pressure_dbar=2700)
        assert story.alarm("several_silent").word == "SEVERAL SILENT"
        story.incident.advance((GONE + again + 149) * S)
        assert story.alarm("several_silent").word == "EVERYBODY SILENT"
    assert said(story) == []


def test_of_whose_packs_are_off_nobody_counts_as_silent(story: "Story") -> None:
    inside(story, "AABBCC")
    for pack in (101, 102):
        story.hear((GONE + 1) * S, pack, kind=Kind.SIGN_OFF)
    story.incident.advance((GONE + 100) * S)
    group = story.alarm("several_silent")
    assert (group.word, group.subject) == ("EVERYBODY SILENT", "4 of 4")


def test_two_of_two_crews_are_everybody(story: "Story") -> None:
    inside(story, "AB")
    story.incident.advance((GONE + 100) * S)
    assert story.alarms() == ["several_silent"]
    group = story.alarm("several_silent")
    assert (group.word, group.priority) == ("EVERYBODY SILENT", Priority.DANGER)


def test_two_of_one_crew_are_a_crew(story: "Story") -> None:
    inside(story, "AA")
    story.incident.advance((GONE + 100) * S)
    assert story.alarms() == ["crew_silent"]


def test_one_alone_is_no_signal(story: "Story") -> None:
    inside(story, " ")
    story.incident.advance((GONE + 100) * S)
    assert story.alarms() == ["no_signal"]


@pytest.mark.parametrize("crews", ["AABBCCDD", "AA"])
def test_whose_air_is_low_is_named_first_and_sounds_at_one_two_four_eight(
    story: "Story", crews: str
) -> None:
    """Wearer n has 12 bar more than the one before and breathes 12 bar a minute, as all do.

    So the estimates reach 105 bar about a minute after one another, beginning with 152 bar.
    """
    numbers = range(1, len(crews) + 1)
    for number, letter in zip(numbers, crews, strict=True):
        story.list_and_join(number, 100 + number, crew=f"Crew {letter}")
    story.enter(*numbers)
    for t in range(5, GONE + 1, 5):
        for number in numbers:
            story.hear(t * S, 100 + number, pressure_dbar=2000 + 120 * number - 2 * t)
    kind = "several_silent" if len(crews) > 2 else "crew_silent"
    story.incident.advance((GONE + 100) * S)
    assert story.alarms() == [kind]
    story.take(kind)
    said(story)
    sounded: list[int] = []
    while story.now < (GONE + 1_200) * S:
        story.incident.advance(story.now + 5 * S)
        if said(story):
            detail = story.alarm(kind).detail
            sounded.append(int(detail.removeprefix("air low by estimate, ").split(":")[0]))
            assert detail.split(": ")[1].startswith("Alpha 1")
            assert ", air low: Alpha 1" in story.alarm(kind).subject, (
                "in view where lines are short"
            )
            assert len(story.alarm(kind).subject) <= 45, "80 less the word and how long"
            story.take(kind)
    assert sounded == [n for n in (1, 2, 4, 8) if n <= len(crews)]
    assert story.alarms() == [kind], "one line tells of all of them"
    assert all(story.line(n).state in {"NO SIGNAL", "CREW SILENT"} for n in numbers)
    assert story.incident.take_refusals() == ()


def test_a_group_held_back_for_the_base_is_told_once_somebodys_air_is_low(story: "Story") -> None:
    story.do(0, events.LinkState(link=1, name="serial", up=True))
    inside(story, "AABB", dbar=2000)
    story.do((GONE + 1) * S, events.LinkState(link=1, name="serial", up=False))
    story.incident.advance((GONE + 200) * S)
    assert story.alarms() == ["receiver_down"]
    story.do((GONE + 201) * S, events.LinkState(link=1, name="serial", up=False))
    while story.alarms() == ["receiver_down"]:
        story.incident.advance(story.now + 60 * S)
    dangers = [a.kind for a in story.picture().alarms if a.kind != "receiver_down"]
    assert dangers == ["several_silent"]
    assert story.alarm("several_silent").detail.startswith("air low by estimate")


def test_those_left_when_the_first_is_heard_need_no_line_of_their_own(story: "Story") -> None:
    inside(story, "AAABB")
    hear(story, (4, 5), GONE + 5, GONE + 81, 2900)
    assert story.alarms() == ["several_silent"]
    said(story)
    story.hear((GONE + 81) * S, 101, pressure_dbar=2800)
    assert story.alarm("several_silent").subject == "2 of 5"
    hear(story, (1, 2, 4, 5), GONE + 85, GONE + 91, 2900)
    hear(story, (1, 2, 3, 4, 5), GONE + 95, GONE + 96, 2900)
    over = story.alarm("several_silent")
    assert (over.state, over.subject) == ("returned, unacknowledged", "all heard")
    assert over.to_do == "Over: several at once no more."
    assert said(story) == []


@pytest.mark.parametrize("taken", [True, False])
def test_who_is_left_15_s_later_is_told_alone(story: "Story", taken: bool) -> None:
    inside(story, "AAABB")
    hear(story, (4, 5), GONE + 5, GONE + 80, 2900)
    if taken:
        story.take("several_silent")
    said(story)
    hear(story, (1, 4, 5), GONE + 80, GONE + 96, 2900)
    assert story.alarms() == ["several_silent"]
    # The first was heard at 80 s; at 95 s those who are left are told alone.
    story.incident.advance((GONE + 95) * S)
    for wearer in (2, 3):
        found = [a for a in story.picture().alarms if a.wearers == (wearer,)]
        assert [a.kind for a in found] == ["no_signal"]
        assert found[0].acknowledged is taken
    over = [a.subject for a in story.picture().alarms if a.kind == "several_silent"]
    assert over == ([] if taken else ["2 still silent"])
    assert said(story) == ([] if taken else [("no_signal", (2,)), ("no_signal", (3,))])
    assert story.line(2).state == "NO SIGNAL"


def test_who_is_left_is_told_alone_though_the_group_ends_with_a_link(story: "Story") -> None:
    """What a link's coming and going says of the base is for good: the group ends at once."""
    story.do(0, events.LinkState(link=1, name="serial", up=True))
    inside(story, "AAABB")
    hear(story, (4, 5), GONE + 5, GONE + 80, 2900)
    story.hear((GONE + 80) * S, 101, pressure_dbar=2800)
    story.do((GONE + 81) * S, events.LinkState(link=1, name="serial", up=True))
    for wearer in (2, 3):
        assert [a.kind for a in story.picture().alarms if a.wearers == (wearer,)] == ["no_signal"]


def test_a_crew_that_comes_back_one_by_one_is_one_line(story: "Story") -> None:
    inside(story, "AABBBB")
    hear(story, (3, 4, 5, 6), GONE + 5, GONE + 80, 2900)
    assert story.alarms() == ["crew_silent"]
    said(story)
    hear(story, (1, 3, 4, 5, 6), GONE + 80, GONE + 91, 2900)
    assert story.alarms() == ["crew_silent"]
    story.hear((GONE + 94) * S, 102, pressure_dbar=2800)
    assert story.alarm("crew_silent").state == "returned, unacknowledged"
    assert said(story) == []
