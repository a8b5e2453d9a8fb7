"""Alarms of several: who joins one, when it is said again, who gets a line of their own."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import Priority
from protocol.packets import Kind
from tests.monitor.incident.falling import EQUIPMENT, HALF

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
LATE_NS = 120 * S
"""The procedure's time to start back; also for how long a group says nothing new of a joiner."""
MARK_DBAR = 2020
"""Under half of the usable air: (105 + 300) / 2 = 202.5 bar."""


class Six:
    """Six crews of two, all inside; each pack is heard each 5 s at least."""

    def __init__(self, story: "Story") -> None:
        self.story, self.t_s = story, 0
        self.dbar = dict.fromkeys(range(1, 13), 3000)
        self.each = dict.fromkeys(range(1, 13), 1)
        for wearer in self.dbar:
            story.list_and_join(wearer, 100 + wearer, crew=f"Crew {(wearer + 1) // 2}")
            story.hear(0, 100 + wearer, kind=Kind.SIGN_ON, equipment=EQUIPMENT, pressure_dbar=3000)
        everybody = tuple(self.dbar)
        story.act(0, events.Connect, wearers=everybody, pressure_bar=300.0)
        story.act(0, events.Enter, wearers=everybody, location="kiln hall")

    def fall(self, t_s: int, *wearers: int, dbar: int = MARK_DBAR) -> None:
        """Live on to a second, at which these tell this pressure."""
        while self.t_s < t_s:
            self.t_s = min(self.t_s + 5, t_s)
            # A tenth of a bar in 5 s, 8 L/min: no gauge rests while its wearer moves.
            self.dbar = {wearer: bar - self.each[wearer] for wearer, bar in self.dbar.items()}
            if self.t_s == t_s:
                self.dbar |= dict.fromkeys(wearers, dbar)
            for wearer, bar in self.dbar.items():
                self.story.hear(self.t_s * S, 100 + wearer, pressure_dbar=bar)

    def announced(self) -> list[tuple[str, tuple[int, ...]]]:
        """What was announced as new since the last look."""
        said = self.story.incident.take_announcements()
        return [(a.kind, a.wearers) for a in said if not a.again]


@pytest.fixture
def six(new_story: "type[Story]") -> Six:
    rules = HALF.model_copy(update={"withdrawal_start_s": 120, "turn_back_reserve_bar": None})
    return Six(new_story(rules))


def test_crews_that_turn_together_are_announced_once(six: Six) -> None:
    six.fall(300, 1)
    assert six.announced() == [("turn_back", (1, 2))]
    six.fall(305, 3)
    six.fall(310, 5)
    assert six.announced() == []
    alarm = six.story.alarm("turn_back")
    assert (alarm.subject, alarm.wearers) == ("Crew 1, Crew 2, Crew 3", (1, 2, 3, 4, 5, 6))
    assert {six.story.line(w).state for w in range(1, 7)} == {"TURN-BACK DUE"}
    assert six.story.line(7).state == "ok"
    assert [six.story.line(w).state_for_ns // S for w in (1, 3, 5)] == [10, 5, 0], "each its own"


def test_names_that_are_too_long_for_a_line_are_counted(six: Six) -> None:
    for wearer in range(1, 13):
        crew = f"Far too long a cre {(wearer + 1) // 2}"
        six.story.act(1 * S, events.SetCrew, wearer=wearer, crew=crew)
    six.fall(300, 1, 3, 5)
    assert six.story.alarm("turn_back").subject == "Far too long a cre 1 + 2 more"


def test_who_joins_a_taken_group_is_named_as_new_and_makes_no_sound(six: Six) -> None:
    six.fall(300, 1)
    six.story.take("turn_back")
    six.announced()
    six.fall(305, 3)
    alarm = six.story.alarm("turn_back")
    assert (alarm.acknowledged, alarm.detail) == (True, "1 new: Crew 2")
    assert six.announced() == []


def test_after_two_minutes_a_group_that_has_doubled_waits_anew(six: Six) -> None:
    six.fall(300, 1)
    six.story.take("turn_back")
    # Back on another supply nobody's time runs: the first stays in the group past its two minutes.
    six.story.act(301 * S, events.AugmentSupply, wearers=(1, 2), on=True)
    six.announced()
    six.fall(415)
    six.story.hear((300 + 120) * S - 1, 103, pressure_dbar=MARK_DBAR)
    assert six.announced() == []
    six.story.hear((300 + 120) * S, 105, pressure_dbar=MARK_DBAR)
    assert six.announced() == [("turn_back", (1, 2, 3, 4, 5, 6))]


def test_each_keeps_its_deadline_and_is_told_by_name_once_late(six: Six) -> None:
    six.fall(300, 1)
    six.fall(340, 3)
    six.story.take("turn_back")
    six.announced()
    six.fall(419)
    six.story.incident.advance(300 * S + LATE_NS - 1)
    assert six.announced() == []
    six.story.incident.advance(300 * S + LATE_NS)
    assert six.announced() == [("turn_back", (1, 2))]
    found = {a.subject: a for a in six.story.picture().alarms if a.kind == "turn_back"}
    assert found["Crew 1"].priority is Priority.DANGER
    assert not found["Crew 1"].acknowledged
    assert found["Crew 2"].priority is Priority.CAUTION
    assert found["Crew 2"].acknowledged, "the other has been taken, and nothing of it is new"
    six.fall(455)
    six.story.incident.advance(340 * S + LATE_NS - 1)
    assert six.announced() == []
    six.story.incident.advance(340 * S + LATE_NS)
    assert six.announced() == [("turn_back", (3, 4))]


def test_one_crew_alone_that_gets_late_keeps_its_line(six: Six) -> None:
    six.fall(300, 1)
    number = six.story.alarm("turn_back").number
    six.fall(415)
    six.story.incident.advance(300 * S + LATE_NS)
    alarm = six.story.alarm("turn_back")
    assert (alarm.number, alarm.priority) == (number, Priority.DANGER)
    assert alarm.raised_at_ns == 300 * S


def test_who_starts_back_leaves_the_group_and_the_others_stay(six: Six) -> None:
    six.fall(300, 1, 3)
    six.story.act(301 * S, events.StartBack, wearers=(1, 2))
    assert six.story.alarm("turn_back").subject == "Crew 2"
    assert six.story.line(1).state == "ok"
    six.story.act(302 * S, events.StartBack, wearers=(3, 4))
    over = six.story.alarm("turn_back")
    assert (over.state, over.subject) == ("returned, unacknowledged", "Crew 2")
    six.story.take("turn_back")
    assert "turn_back" not in six.story.alarms()


def test_a_crew_is_named_before_it_comes_to_its_mark(six: Six) -> None:
    # 50 L/min for 2 min out of 6.8 L are 14.7 bar: 202.5 + 14.7 = 217.2. 0.4 bar in 5 s are less
    # than that rate, 33 L/min: 217.6 bar after 206 reports, 217.2 after 207.
    six.each[1] = 4
    six.fall(206 * 5)
    assert "turn_soon" not in six.story.alarms()
    six.fall(207 * 5)
    reminder = six.story.alarm("turn_soon")
    assert (reminder.priority, reminder.subject) == (Priority.NOTICE, "Crew 1")
    assert six.announced() == []
    # 202.4 after 244.
    six.fall(244 * 5)
    assert six.announced() == [("turn_back", (1, 2))]
    assert six.story.alarms() == ["turn_back"]


def test_packs_of_a_crew_that_are_switched_off_are_one_danger(six: Six) -> None:
    six.story.hear(10 * S, 101, kind=Kind.SIGN_OFF)
    assert six.announced() == [("pack_off", (1,))]
    assert six.story.alarm("pack_off").subject == "1 Alpha 1"
    six.story.hear(12 * S, 102, kind=Kind.SIGN_OFF)
    assert six.announced() == []
    assert six.story.alarm("pack_off").subject == "Crew 1: Alpha 1, Alpha 2"
    six.story.hear(14 * S, 103, kind=Kind.SIGN_OFF)
    assert six.announced() == [("pack_off", (3,))], "another crew is another call"
    six.story.act(20 * S, events.SetCrew, wearer=2, crew="Crew 2")
    found = {a.subject for a in six.story.picture().alarms if a.kind == "pack_off"}
    assert found == {"1 Alpha 1", "Crew 2: Alpha 2, Alpha 3"}


def test_a_mate_who_is_off_two_minutes_later_is_announced(six: Six) -> None:
    six.story.hear(10 * S, 101, kind=Kind.SIGN_OFF)
    six.story.take("pack_off")
    six.announced()
    del six.dbar[1]
    six.t_s = 10
    six.fall(125)
    six.story.hear(130 * S, 102, kind=Kind.SIGN_OFF)
    assert six.announced() == [("pack_off", (1, 2))]


def off(six: Six, t_s: int, *wearers: int) -> None:
    """These come to the door and switch their packs off."""
    for wearer in wearers:
        six.story.hear(t_s * S, 100 + wearer, kind=Kind.SIGN_OFF)


def test_crews_on_their_way_back_that_switch_off_are_one_danger(six: Six) -> None:
    """The way back of crews 1 and 2 is noted; crew 3 is inside."""
    six.story.act(5 * S, events.StartBack, wearers=(1, 2, 3, 4))
    off(six, 6, 1, 2)
    assert six.announced() == [("pack_off", (1,))]
    off(six, 7, 3, 4)
    assert six.announced() == [], "while it waits it takes in whoever comes"
    assert six.story.alarm("pack_off").subject == "Alpha 1, Alpha 2, Alpha 3, Alpha 4"
    off(six, 8, 5)
    assert six.announced() == [("pack_off", (5,))], "who is inside is told alone, at once"


def test_a_crew_that_joins_a_danger_which_was_taken_is_sounded_for_within_two_minutes(
    story: "Story",
) -> None:
    """Waits from 10 s on, taken at once; a mate, no news, at 20 s; another crew at 30 s."""
    for wearer in (1, 2, 3):
        story.list_and_join(wearer, 100 + wearer, crew=f"Crew {(wearer + 1) // 2}")
    story.enter(1, 2, 3)
    story.act(5 * S, events.StartBack, wearers=(1, 2, 3))
    announced: list[tuple[int, tuple[int, ...]]] = []
    for t, wearer in ((10, 1), (20, 2), (30, 3)):
        story.hear(t * S, 100 + wearer, kind=Kind.SIGN_OFF)
        announced += [(a.t // S, a.wearers) for a in story.incident.take_announcements()]
        if wearer == 1:
            story.take("pack_off")
    assert announced == [(10, (1,))]
    assert story.alarm("pack_off").detail == "2 new: Alpha 2, Alpha 3"
    story.incident.advance(130 * S - 1)
    assert not story.incident.take_announcements()
    story.incident.advance(130 * S)
    assert [a.wearers for a in story.incident.take_announcements()] == [(1, 2, 3)]


def test_a_mate_alone_makes_no_danger_sound_anew_that_was_taken(story: "Story") -> None:
    story.enter(1, 2)
    story.act(5 * S, events.StartBack, wearers=(1, 2))
    story.hear(10 * S, 101, kind=Kind.SIGN_OFF)
    story.take("pack_off")
    story.hear(20 * S, 102, kind=Kind.SIGN_OFF)
    story.incident.take_announcements()
    story.incident.advance(200 * S)
    assert not story.incident.take_announcements()
