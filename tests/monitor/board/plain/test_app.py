"""The plain board on fakes, step by step."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import UTC
from typing import Any

import pytest

from monitor.board.plain.app import PlainBoard
from monitor.board.plain.commands import Leave
from monitor.board.session.revive import ENDED, STARTING
from monitor.desk import Held, NoAnswer, Role, Taken
from monitor.errors import BadJournal
from monitor.incident.picture import DefectView, Signal

S = 1_000_000_000


@dataclass
class Plain:
    """A plain board with its fakes and what it has said."""

    board: PlainBoard
    source: Any
    desk: Any
    reviver: Any
    clock: Any
    said: list[str] = field(default_factory=list)

    def step(self, ns: int = 1) -> list[str]:
        """Let time pass, take a step; what was said."""
        self.clock.pass_ns(ns)
        self.said.clear()
        self.board.step()
        return list(self.said)

    def type(self, line: str) -> list[str]:
        self.said.clear()
        self.board.typed(line)
        return list(self.said)


@pytest.fixture
def make_plain(make_board: Callable[..., Any], clock: Any) -> Callable[..., Plain]:
    def make(shown: Any) -> Plain:
        fakes = make_board(shown)
        said: list[str] = []
        ids = iter(f"test-act-{n}" for n in range(1_000))
        board = PlainBoard(
            fakes.source, fakes.desk, fakes.reviver, clock, lambda: next(ids), said.append, UTC
        )
        return Plain(board, fakes.source, fakes.desk, fakes.reviver, clock, said)

    return make


def test_connecting_asks_the_gauge_where_no_pack_tells_it(make_plain: Any, scenes: Any) -> None:
    quiet = scenes.quiet()
    one = replace(quiet.wearers[3], signal=Signal.NONE, pack=None)
    plain = make_plain(replace(quiet, wearers=(*quiet.wearers[:3], one, *quiet.wearers[4:])))
    plain.step()
    assert plain.type("on 3 4")[1:] == [
        (
            "What does the gauge of 4 Alpha 2-2 show? start 4 280; "
            "until then it counts from the least fill."
        )
    ]


def test_what_is_taken_is_known_at_once(make_plain: Any, scenes: Any) -> None:
    """As on the drawn board: the next line may build on it."""
    plain = make_plain(scenes.quiet())
    plain.step()
    plain.type("out 4")
    plain.source.now = replace(
        scenes.quiet(), defects=(DefectView("pack 204", "leaks", 0, "R. Harrow"),)
    )
    plain.source.moving = False
    plain.desk.answer_last()
    plain.step()
    assert plain.type("cleared")[0].startswith("DEFECT CLEARED")


def test_taken_is_said_once_the_act_has_been_read(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    plain.type("out 4")
    plain.source.unread = True
    plain.desk.answer_last()
    assert plain.step() == []
    plain.source.unread = False
    assert plain.step() == ["TAKEN: out 4."]


def test_first_step_says_where_we_are(make_plain: Any, scenes: Any) -> None:
    said = make_plain(scenes.quiet()).step()
    assert "An aid, not a certified safety device." in said[0]
    assert said[-1] == "This board may act."
    assert "14:32:07 Kiln Lane, entry A, EXERCISE." in said


def test_a_new_danger_rings(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(replace(scenes.quiet(), sound="bell"))
    plain.step()
    plain.source.now = replace(scenes.trouble(), sound="bell")
    assert plain.step() == []  # not urgent, not yet a second
    plain.source.announced = True
    said = plain.step()
    assert said[0].startswith("\a14:32:07 DANGER 3, MOTION ALARM")
    assert not said[1].startswith("\a")
    assert plain.step(10 * S) == []
    assert plain.step(S) == ["\a14:32:07 Not taken: MOTION ALARM, 4 Alpha 2-2."]
    plain.source.now = scenes.trouble()
    assert plain.step(20 * S) == ["14:32:07 Sound on."]


def test_taking_asks_then_taken(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.trouble())
    plain.step()
    assert plain.type("take") == ["Not taken: this alarm has only just come."]
    plain.step(S)
    assert plain.type("take") == ["ASKED: MOTION ALARM, 4 Alpha 2-2."]
    plain.desk.answer_last()
    assert plain.step() == ["TAKEN: MOTION ALARM, 4 Alpha 2-2."]
    assert plain.type("out 4") == ["ASKED: out 4."]
    plain.desk.answer_last(why="Wearer 4 is not in.")
    assert plain.step() == ["NOT DONE: out 4: Wearer 4 is not in."]


def test_held_sent_and_without_an_answer(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.trouble())
    plain.step()
    plain.type("out 4")
    act = plain.desk.asked[-1].id
    for message, words in (
        (Held(id=act), "HELD, NOT ON DISK YET: out 4."),
        (Held(id=act, sent=True), "SENT, NOT ON DISK YET: out 4."),
        (NoAnswer(id=act), "NO ANSWER, USE VOICE: out 4: it may be done or not."),
        (Taken(id=act), "TAKEN AFTER ALL: out 4."),
    ):
        plain.desk.answers.append(message)
        assert plain.step() == [words]


def test_display_stopped_is_said_and_said_again(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    plain.source.moving = False
    assert plain.step(S - 1) == []
    (said,) = plain.step(1)
    assert said.startswith(
        "\aDISPLAY STOPPED, VALUES OLD, USE VOICE AND PAPER: nothing new for 1 s"
    )
    assert plain.step(5 * S) == []
    assert len(plain.step(5 * S)) == 1
    plain.source.moving = True
    assert "The display lives again." in plain.step(1)
    assert plain.reviver.wells == 1


def test_a_display_that_lives_on_other_links_does_not_say_that_it_lives_again(
    make_plain: Any, scenes: Any
) -> None:
    """A recorder that hears elsewhere moves the horizon as well as one that hears the packs."""
    before = scenes.quiet()
    plain = make_plain(before)
    plain.step()
    plain.source.moving = False
    plain.step(S)
    elsewhere = replace(before.links[0], name="udp 41900")
    plain.source.now = replace(before, links=(elsewhere,))
    plain.source.moving = True
    said = plain.step(1)
    names = ", ".join(link.name for link in before.links if link.up)
    assert names
    assert f"\aThe display shows new values, BUT NOTHING IS HEARD BY: {names}." in said
    assert not any("lives again" in one for one in said)


def test_a_journal_that_cannot_be_read_is_said(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    plain.source.fault = BadJournal("broken", "x", "y")
    (said,) = plain.step(2 * S)
    assert "the journal cannot be read: broken" in said


def test_nothing_is_answered_before_something_was_read(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    assert plain.type("who") == ["Nothing has been read yet."]
    plain.source.horizon = -1
    plain.source.moving = False
    plain.step()
    assert plain.type("who") == ["Nothing has been read yet."]


def test_a_board_for_which_there_is_no_seat_is_told_why_and_when_there_is_one(
    make_plain: Any, scenes: Any
) -> None:
    plain = make_plain(scenes.quiet())
    plain.desk.role, plain.desk.full = None, 32
    told = "VIEW ONLY: NO SEAT for this board, 32 are open already. Close one."
    assert plain.step()[-1] == told
    assert told not in plain.step(S)
    assert plain.type("out 4") == ["VIEW ONLY: nothing done."]
    plain.desk.role, plain.desk.full = Role(holder=True, by="R. Harrow"), 0
    assert plain.step(S) == ["This board may act."]


def test_view_only_does_nothing(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.desk.role = Role(holder=False, by="S. Moss")
    assert plain.step()[-1] == "VIEW ONLY: S. Moss has the board."
    assert plain.type("out 4") == ["VIEW ONLY: nothing done."]
    assert plain.desk.asked == []
    assert len(plain.type("who")) == 9


def test_leaving(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    plain.type("quit")
    assert plain.board.left == Leave(stop=False)


def test_leaving_and_stopping(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    assert plain.type("quit stop") == ["ASKED: stop recording."]
    assert plain.board.left is None
    assert "NOT STOPPED: the recorder did not answer." in plain.step(3 * S)
    plain.type("quit stop")
    plain.desk.say_stopping()
    assert plain.step() == ["Recording has stopped."]
    assert plain.board.left == Leave(stop=True)


def test_a_board_stays_when_somebody_else_stops_the_recorder(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    plain.desk.say_stopping()
    assert plain.step() == []
    assert plain.board.left is None
    assert plain.reviver.ends == 1


def test_recording_that_was_stopped_is_taken_up_again_when_asked(
    make_plain: Any, scenes: Any
) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    assert plain.type("record") == ["Recording goes on already."]
    plain.source.moving = False
    plain.reviver.cause = ENDED
    plain.step(1)
    (said,) = plain.step(2 * S)
    assert said.endswith(f"; {ENDED}; type record to start it again.")
    assert plain.type("record") == []
    assert plain.reviver.agains == 1
    plain.reviver.cause = STARTING
    (said,) = plain.step(1)  # at once, not after the ten seconds between warnings
    assert said.endswith(f"; {STARTING}.")


def test_a_closed_incident_is_not_recorded_again(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(replace(scenes.quiet(), closed=True))
    plain.step()
    assert plain.type("record") == ["Nothing started: the incident is closed."]
    assert plain.reviver.agains == 0


def test_a_closed_incident_is_quiet(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(replace(scenes.quiet(), closed=True))
    plain.step()
    plain.source.moving = False
    assert plain.step(60 * S) == []
    assert plain.board.closed


def test_it_beats_once_a_second(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    for _ in range(20):
        plain.step(S // 4)
    assert 4 <= len(plain.desk.beats) <= 6


def test_all_of_one_wearer_is_said(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.trouble())
    plain.step()
    said = plain.type("wearer 4")
    assert plain.source.details == 1
    assert said[0].startswith("4 Alpha 2-2: MOTION ALARM for 34 s, 147 bar")
    assert "Turn back at 143 bar." in said
    assert "14:24 204 bar by voice." in said
    assert said[-1].startswith("Real gas: 14:38")


def test_a_step_on_the_way_is_asked(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    assert plain.type("back 4 5") == ["ASKED: back 4 5."]
    assert plain.desk.asked[0].what == "start_back"
    assert plain.type("lowest 4 170") == ["ASKED: lowest 170 bar, crew of wearer 4."]
    assert plain.desk.asked[1].lowest


def test_an_order_is_one_line_and_its_answers_are_said(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    assert plain.type("evacuate all by: M. Ash") == ["ASKED: EVACUATE everybody."]
    act = plain.desk.asked[0]
    assert (act.what, act.order, act.everybody) == ("give_order", "evacuate", True)
    assert act.on_order_of == "M. Ash"
    plain.source.now = scenes.evacuation(trouble=False)
    said = plain.step(S)
    assert any("Order 1, EVACUATE everybody, by R. Harrow" in sentence for sentence in said)
    assert any("5 Alpha 3-1: COMING OUT for 18 s" in sentence for sentence in said)
    assert any("Emergency crew COMMITTED Alpha 1." in sentence for sentence in said)
    assert plain.type("voice 6") == ["ASKED: by voice: 6 Alpha 3-2: evacuate."]


def test_a_plain_board_that_only_looks_gives_no_order(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.desk.role = Role(holder=False, by="S. Moss")
    plain.step()
    assert plain.type("evacuate all") == ["VIEW ONLY: nothing done."]
    assert plain.desk.asked == []


# ---------------------------------------------------------------- sheets


def test_a_sheet_is_filled_in_line_by_line(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    assert plain.type("task 3 4")[0] == "TASK AND BRIEF of Alpha 2 (3, 4). cancel leaves it."
    assert plain.type("1")[0].startswith("brief?")
    assert plain.type("left hand wall")[0].startswith("communications?")
    assert plain.type("") == ["ASKED: search: Alpha 2 (3, 4)."]
    asked = plain.desk.asked[-1]
    assert (asked.task, asked.brief, asked.wearers) == ("search", "left hand wall", (3, 4))
    assert plain.type("who")[0].startswith("1 ")


def test_an_alarm_can_be_taken_in_the_middle_of_a_sheet(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.trouble())
    plain.step()
    plain.step(1_000_000_000)
    plain.type("stage")
    assert plain.type("take") == ["ASKED: MOTION ALARM, 4 Alpha 2-2."]
    assert plain.type("2") == ["ASKED: stage 2."]


def test_a_sheet_is_left_by_a_word_and_nothing_is_done(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.step()
    plain.type("stage")
    assert plain.type("Cancel") == ["Nothing done."]
    assert plain.desk.asked == []


def test_a_screen_that_may_not_act_opens_no_sheet(make_plain: Any, scenes: Any) -> None:
    plain = make_plain(scenes.quiet())
    plain.desk.role = Role(holder=False, by="S. Moss")
    plain.step()
    assert plain.type("stage") == ["VIEW ONLY: nothing done."]
    assert plain.type("log") == ["nothing was done yet"]
