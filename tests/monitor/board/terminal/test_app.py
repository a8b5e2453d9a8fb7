"""The board on fakes: what it draws, when, and what its keys bring about. No real time."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from rich.color import Color
from textual.events import Paste
from textual.geometry import Region
from textual.strip import Strip

from monitor.board.session.revive import ENDED, STARTING
from monitor.board.terminal.app import Left
from monitor.board.terminal.lines_view import LinesView
from monitor.board.terminal.themes import Colours
from monitor.desk import Role as DeskRole
from monitor.errors import BadJournal
from monitor.incident.events import Acknowledge, ComeOut, Reset, SpokenReading
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.orders.events import GiveOrder
from monitor.incident.picture import DefectView

S = 1_000_000_000
MakeBoard = Callable[..., Any]


def strips(app: Any) -> list[Strip]:
    view = app.query_one(LinesView)
    return [view.render_line(y) for y in range(app.size.height)]


def text_of(app: Any) -> str:
    return "\n".join(strip.text.rstrip() for strip in strips(app))


def later(board: Any, ns: int) -> None:
    """Let time pass and the board's timer come by."""
    board.clock.pass_ns(ns)
    board.app.tick()


async def test_the_first_screen(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble())
    async with board.app.run_test(size=(80, 24)):
        text = text_of(board.app)
        assert "EXERCISE" in text
        assert "OPEN: NOT AUTHENTICATED" in text
        assert "not a certified safety device" in text
        assert "■ MOTION ALARM   4 Alpha 2-2" in text


async def test_space_asks_then_taken(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("space")
        assert board.desk.asked == []
        assert "only just come" in text_of(board.app)
        later(board, 2 * S)
        await pilot.press("space")
        (act,) = board.desk.asked
        assert isinstance(act, Acknowledge)
        assert act.alarms == (3,)
        assert act.by == "R. Harrow"
        assert act.seen_ns == scenes.T
        assert "ASKED: MOTION ALARM, 4 Alpha 2-2" in text_of(board.app)
        board.desk.answer_last()
        later(board, 1)
        assert "TAKEN: MOTION ALARM, 4 Alpha 2-2" in text_of(board.app)


async def test_s_shows_least_time_first_then_large_figures_then_the_list(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        seen = []
        for _ in range(3):
            await pilot.press("s")
            text = text_of(board.app)
            seen.append(("min to turn" in text, "leader 1" in text))
        assert seen == [(False, False), (True, False), (False, True)]
        await pilot.press("s", "s", "4", "o")
        assert len(board.desk.asked) == 1, "a view is no mode: every key works"


async def test_escape_goes_back_from_help_and_from_large_figures(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("h", "escape")
        assert "leader 1" in text_of(board.app)
        await pilot.press("s", "s", "h", "4", "escape")
        assert "take top (or chosen) alarm" in text_of(board.app), "first the choice goes"
        await pilot.press("escape")
        assert "min to turn" in text_of(board.app), "then the help"
        await pilot.press("escape")
        assert "leader 1" in text_of(board.app), "then the large figures"


async def test_pasted_text_is_text_in_a_sheet_and_no_keys_elsewhere(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        board.app.post_message(Paste("fj"))
        await pilot.pause()
        assert board.desk.asked == []
        assert "NOT DONE: what was pasted goes into a sheet alone" in text_of(board.app)
        await pilot.press("4", "enter", "2", "3")
        board.app.post_message(Paste("left hand wall"))
        await pilot.pause()
        assert "left hand wall_" in text_of(board.app)


async def test_what_is_taken_stands_in_the_picture_below_it(
    make_board: MakeBoard, scenes: Any
) -> None:
    """The next key may build on it; the row had been read without a picture of it being made."""
    before = scenes.quiet()
    board = make_board(before)
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4", "o")
        board.source.now = replace(
            before, defects=(DefectView("pack 204", "leaks", 0, "R. Harrow"),)
        )
        board.source.moving = False
        board.desk.answer_last()
        later(board, S // 10)
        assert "TAKEN: out: 4 Alpha 2-2" in text_of(board.app)
        await pilot.press("enter", "4", "5")
        assert "DEFECT CLEARED" in text_of(board.app)


async def test_taken_is_said_once_the_act_stands_on_the_board(
    make_board: MakeBoard, scenes: Any
) -> None:
    """Its rows come by another way than the desk's answer, and later."""
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4", "o")
        board.source.unread = True
        board.desk.answer_last()
        later(board, S // 10)
        assert "ASKED: out: 4 Alpha 2-2" in text_of(board.app)
        board.source.unread = False
        board.source.now = replace(
            scenes.quiet(), defects=(DefectView("pack 204", "leaks", 0, "R. Harrow"),)
        )
        later(board, S // 10)
        assert "TAKEN: out: 4 Alpha 2-2" in text_of(board.app)
        await pilot.press("enter", "4", "5")
        assert "DEFECT CLEARED" in text_of(board.app)


async def test_not_taken_use_voice(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4", "o")
        assert isinstance(board.desk.asked[0], ComeOut)
        board.desk.answer_last(why="Wearer 4 is not in.")
        later(board, 1)
        assert "NOT DONE: Wearer 4 is not in (out: 4 Alpha 2-2)" in text_of(board.app)


async def test_reading_and_reset(make_board: MakeBoard, scenes: Any) -> None:
    shown = scenes.trouble()
    alarms = tuple(replace(a, latched=True) for a in shown.alarms)
    board = make_board(replace(shown, alarms=alarms))
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4", "g", "1", "4", "7")
        await pilot.press("r", "4", "enter")
        reading, reset = board.desk.asked
        assert isinstance(reading, SpokenReading)
        assert reading.pressure_bar == 147.0
        assert isinstance(reset, Reset)
        assert reset.reason == "mistake"


@pytest.mark.parametrize("way", ["q", "ctrl+c", "ctrl+q", "ctrl+z"])
async def test_every_way_out_asks(make_board: MakeBoard, scenes: Any, way: str) -> None:
    board = make_board(scenes.trouble())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press(way)
        assert board.app.is_running
        assert "LEAVE THE BOARD?" in text_of(board.app)
        assert "MOTION ALARM" in text_of(board.app)
        await pilot.press("1")
    assert board.app.return_value is Left.RECORDING


async def test_the_librarys_own_ways_out_ask_too(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        for action in ("quit", "suspend_process", "help_quit"):
            await pilot.press("escape")
            await board.app.run_action(action)
            assert "LEAVE THE BOARD?" in text_of(board.app)
        await pilot.press("ctrl+p")
        assert len(board.app.screen_stack) == 1


async def test_leaving_and_stopping_waits_for_the_recorder(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("q", "2")
        assert board.desk.stops == 1
        assert board.app.is_running
        later(board, 3 * S)
        assert "NOT STOPPED" in text_of(board.app)
        await pilot.press("q", "2")
        board.desk.say_stopping()
        later(board, 1)
    assert board.app.return_value is Left.STOPPED


async def test_a_board_stays_when_somebody_else_stops_the_recorder(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)):
        board.desk.say_stopping()
        later(board, 1)
        assert board.app.is_running
        assert board.reviver.ends == 1


async def test_display_stopped_after_one_second(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        board.source.moving = False
        later(board, 1)
        later(board, S - 2)
        assert "DISPLAY STOPPED" not in text_of(board.app)
        later(board, S)
        text = text_of(board.app)
        assert "DISPLAY STOPPED" in text
        assert "VALUES OLD" in text
        assert "USE VOICE AND PAPER" in text
        assert "the recorder does not answer" in text
        assert board.reviver.looks > 0
        await pilot.press("space")
        assert board.desk.asked == []
        board.source.moving = True
        later(board, 1)
        assert "DISPLAY STOPPED" not in text_of(board.app)
        assert board.reviver.wells == 1


async def test_a_journal_that_cannot_be_read_stops_the_display(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)):
        board.source.fault = BadJournal("row 7 is not to be understood", "x.journal", "verify it")
        later(board, 1)
        later(board, 2 * S)
        assert "the journal cannot be read" in text_of(board.app)
        assert "DISPLAY STOPPED" in text_of(board.app)


async def test_a_closed_incident_is_not_a_stopped_display(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(replace(scenes.quiet(), closed=True))
    async with board.app.run_test(size=(80, 24)):
        board.source.moving = False
        later(board, 60 * S)
        assert "DISPLAY STOPPED" not in text_of(board.app)
        assert " CLOSED " in text_of(board.app)


async def test_recording_that_was_stopped_is_taken_up_again_with_one_key(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("w")
        assert "recording goes on already" in text_of(board.app)
        assert board.reviver.agains == 0
        board.reviver.cause = ENDED
        board.source.moving = False
        later(board, 1)
        later(board, 2 * S)
        assert f"{ENDED}: w starts it again" in text_of(board.app)
        await pilot.press("w")
        assert board.reviver.agains == 1
        board.reviver.cause = STARTING
        later(board, 1)
        assert STARTING in text_of(board.app)


async def test_a_closed_incident_is_not_recorded_again(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(replace(scenes.quiet(), closed=True))
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("w")
        assert "nothing started: the incident is closed" in text_of(board.app)
        assert board.reviver.agains == 0


async def test_nothing_half_read_is_shown_as_live(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    board.source.behind_polls = 5
    async with board.app.run_test(size=(80, 24)):
        assert board.source.pictures == 1
        assert board.source.polls >= 5
        assert "Alpha 1-1" in text_of(board.app)
        board.source.behind_polls = 2
        board.clock.pass_ns(2 * S)
        board.app.tick()
        assert board.source.pictures == 1
        assert "reading what was missed" in text_of(board.app)


async def test_a_reader_that_gets_no_further_is_a_stopped_display(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    board.source.moving = False
    board.source.behind_polls = 1_000_000
    async with board.app.run_test(size=(80, 24)):
        assert "reading the journal" in text_of(board.app)
        later(board, 2 * S)
        assert "DISPLAY STOPPED" in text_of(board.app)
        assert board.reviver.looks > 0


async def test_an_alarm_is_drawn_at_once_all_else_once_a_second(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)):
        later(board, 2 * S)
        made = board.source.pictures
        for _ in range(9):
            later(board, S // 10)
        assert board.source.pictures == made
        board.source.now = scenes.trouble()
        board.source.announced = True
        later(board, 1)
        assert board.source.pictures == made + 1
        assert "MOTION ALARM" in text_of(board.app)


async def test_the_bell_rings_where_sound_is_left_to_the_boards_until_what_waits_is_taken(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(replace(scenes.quiet(), sound="bell"))
    rung: list[int] = []
    board.app.bell = lambda: rung.append(board.clock.now_boot_ns)
    async with board.app.run_test(size=(80, 24)):
        later(board, 2 * S)
        assert rung == []
        board.source.now = replace(scenes.trouble(), sound="bell")
        later(board, 2 * S)
        later(board, 2 * S)
        assert len(rung) == 1
        # A danger is heard again after 10.25 s.
        later(board, 9 * S)
        assert len(rung) == 2
        board.source.now = replace(scenes.quiet(), sound="bell")
        later(board, 40 * S)
        assert len(rung) == 2
        board.source.now = scenes.trouble()
        later(board, 2 * S)
        assert len(rung) == 2
        board.source.moving = False
        later(board, 2 * S)
        later(board, 2 * S)
        assert len(rung) == 3


async def test_view_only(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble())
    board.desk.role = DeskRole(holder=False, by="S. Moss")
    async with board.app.run_test(size=(80, 24)) as pilot:
        later(board, 2 * S)
        assert "VIEW ONLY  S. Moss has the board" in text_of(board.app)
        await pilot.press("space", "4", "o")
        assert board.desk.asked == []
        await pilot.press("t", "1")
        assert board.desk.takes == 1


async def test_while_the_desk_is_away_acts_are_still_asked(
    make_board: MakeBoard, scenes: Any
) -> None:
    """The desk's client asks them again, or gives them back as not taken."""
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        later(board, 2 * S)
        board.desk.role = None
        later(board, 2 * S)
        assert "NO DESK" in text_of(board.app)
        await pilot.press("4", "o")
        assert len(board.desk.asked) == 1


async def test_a_recorder_of_another_fold_is_refused(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    board.desk.role = DeskRole(holder=True, by="x", fold=FOLD_VERSION + 1)
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
    assert board.app.return_value is Left.OTHER_FOLD


async def test_the_board_beats_from_its_drawing_loop(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)):
        before = len(board.desk.beats)
        for _ in range(3):
            later(board, S)
        assert len(board.desk.beats) == before + 3
        assert board.desk.beats == sorted(board.desk.beats)


async def test_help_sort_and_theme(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble())
    async with board.app.run_test(size=(80, 24)) as pilot:
        dark = strips(board.app)[0]._segments[0].style
        await pilot.press("b")
        assert strips(board.app)[0]._segments[0].style != dark
        await pilot.press("h")
        assert "evacuate all, or the chosen" in text_of(board.app)
        assert "MOTION ALARM" in text_of(board.app)
        await pilot.press("h")
        assert "leave the board (asks)" in text_of(board.app)
        assert "MOTION ALARM" in text_of(board.app)
        await pilot.press("h", "s")
        rows = [line for line in text_of(board.app).splitlines()[9:] if "Alpha" in line]
        # 147 - 142.1 bar at 0.115 bar a second: 42 s to the turn; the next has 148 bar
        assert "Alpha 2-2" in rows[0]
        assert "Alpha 3-1" in rows[1]


async def test_the_screen_of_one_wearer(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble())
    async with board.app.run_test(size=(80, 24)) as pilot:
        assert board.source.details == 0
        await pilot.press("4", "d")
        text = text_of(board.app)
        assert "4 Alpha 2-2  Wearer 4  crew Alpha 2" in text
        assert "silent 2 s, limit 46 s" in text
        assert "turn-back 143" in text
        assert "MOTION ALARM   4 Alpha 2-2  stairs" in text
        assert board.source.details == 1
        await pilot.press("d")
        assert "double air for the way back" in text_of(board.app)
        await pilot.press("d")
        assert "STATE" in text_of(board.app)
        assert "double air" not in text_of(board.app)


async def test_the_screen_of_one_wearer_is_made_anew_with_each_picture(
    make_board: MakeBoard, scenes: Any
) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(120, 40)) as pilot:
        await pilot.press("4", "d")
        later(board, 2 * S)
        made = board.source.details
        for _ in range(3):
            later(board, S)
        assert board.source.details == made + 3
        await pilot.press("down")
        assert "5 Alpha 3-1  Wearer 5" in text_of(board.app)
        assert "Up Down another wearer" not in text_of(board.app)  # a choice is open
        await pilot.press("escape")
        assert "STATE" in text_of(board.app)
        later(board, 2 * S)
        assert board.source.details == made + 4


async def test_nothing_half_read_is_shown_of_one_wearer(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        board.source.behind_polls = 1_000
        board.source.moving = False
        board.app.tick()
        await pilot.press("4", "d")
        assert board.source.details == 0
        assert "turn-back 143" not in text_of(board.app)


async def test_keys_before_the_first_picture(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    board.source.horizon = -1
    board.source.moving = False
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("space")
        assert board.app.is_running
        await pilot.press("q")
    assert board.app.return_value is Left.RECORDING


async def test_a_new_alarm_blinks_at_one_hertz(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble(), blink=True)
    async with board.app.run_test(size=(80, 24)):
        signs = []
        for _ in range(4):
            later(board, S // 2)
            signs.append(strips(board.app)[2].text[0])
        assert sorted(signs) == [" ", " ", "■", "■"]
        assert signs[0] != signs[1]


async def test_a_resize_is_laid_out_anew(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.resize_terminal(120, 40)
        await pilot.pause()
        assert "ON AIR" in text_of(board.app)
        assert {strip.cell_length for strip in strips(board.app)} == {120}


def luminance(color: Color) -> float:
    """Relative luminance, WCAG 2.2."""
    parts = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
        for c in (part / 255 for part in color.get_truecolor())
    ]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


@pytest.mark.parametrize("daylight", [False, True])
@pytest.mark.parametrize("stopped", [False, True])
@pytest.mark.parametrize("keys", [("4",), ("4", "d"), ("f",), ("4", "tab", "1"), ("d",)])
async def test_every_piece_of_the_screen_can_be_read(
    make_board: MakeBoard, scenes: Any, daylight: bool, stopped: bool, keys: tuple[str, ...]
) -> None:
    """Walks what is really drawn; at least 4.5:1 (WCAG 2.2, 1.4.3)."""
    board = make_board(scenes.evacuation(), daylight=daylight)
    async with board.app.run_test(size=(120, 40)) as pilot:
        await pilot.press(*keys)
        if stopped:
            board.source.moving = False
            later(board, 1)
            later(board, 2 * S)
        lines = board.app.screen._compositor.render_strips()
        segments = [s for line in lines for s in line if s.text.strip()]
        assert len(segments) > 40 or stopped
        for segment in segments:
            style = segment.style
            assert style is not None
            assert not style.dim
            assert style.color is not None
            assert style.bgcolor is not None
            pair = sorted((luminance(style.color), luminance(style.bgcolor)))
            assert (pair[1] + 0.05) / (pair[0] + 0.05) >= 4.5, segment


@pytest.mark.parametrize("colours", [Colours.NONE, Colours.SIXTEEN])
async def test_without_colours_danger_is_still_a_block(
    make_board: MakeBoard, scenes: Any, colours: Colours
) -> None:
    board = make_board(scenes.trouble(), colours=colours)
    async with board.app.run_test(size=(80, 24)):
        segment = strips(board.app)[2]._segments[0]
        assert "MOTION ALARM" in segment.text
        assert segment.style is not None
        reversed_or_white = segment.style.reverse or segment.style.bgcolor is not None
        assert reversed_or_white
        assert segment.style.bold


async def test_a_still_board_draws_only_what_changed(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)):
        view = board.app.query_one(LinesView)
        drawn: list[Region] = []

        def note(*regions: Region) -> Any:
            drawn.extend(regions)
            return view

        view.refresh = note
        later(board, 2 * S)
        drawn.clear()
        wearers = board.source.now.wearers
        changed = replace(wearers[3], silence_ns=7 * S)
        board.source.now = replace(board.source.now, wearers=(*wearers[:3], changed, *wearers[4:]))
        later(board, 2 * S)
        assert len(drawn) == 1
        assert drawn[0].height == 1


# ---------------------------------------------------------------- orders


async def test_evacuate_all_is_two_keys_on_the_board(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.trouble())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f")
        lines = text_of(board.app).splitlines()
        assert lines[8].startswith("EVACUATE EVERYBODY UNDER AIR: 8")
        assert "MOTION ALARM" in lines[2]
        assert board.desk.asked == []
        board.clock.pass_ns(S)
        await pilot.press("j")
        (act,) = board.desk.asked
        assert isinstance(act, GiveOrder)
        assert (act.order, act.everybody, act.wearers) == ("evacuate", True, ())
        assert "ASKED: EVACUATE everybody" in text_of(board.app)


async def test_enter_and_space_never_send(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        for key in ("enter", "space", "tab", "backspace", "f", "escape"):
            await pilot.press("f")
            board.clock.pass_ns(S)
            await pilot.press(key, key)
            board.clock.pass_ns(S)
        assert board.desk.asked == []


async def test_an_open_order_goes_away_and_says_so(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f")
        later(board, 10 * S - 1)
        assert "j = SEND IT" in text_of(board.app)
        later(board, 1)
        assert "j = SEND IT" not in text_of(board.app)
        assert "NOT SENT: the order stood open for 10 s" in text_of(board.app)
        await pilot.press("j")
        assert board.desk.asked == []


async def test_what_a_small_window_does_not_show_is_not_sent(
    make_board: MakeBoard, scenes: Any
) -> None:
    """Two lines of header and three of the order."""
    for height, sent in ((5, 1), (4, 0)):
        board = make_board(scenes.quiet())
        async with board.app.run_test(size=(80, height)) as pilot:
            await pilot.press("f")
            board.clock.pass_ns(S)
            await pilot.press("j")
            assert len(board.desk.asked) == sent


async def test_an_order_can_be_given_while_the_display_stands(
    make_board: MakeBoard, scenes: Any
) -> None:
    """The journal may stand for a disk's sake while the recorder still sends."""
    board = make_board(scenes.quiet())
    async with board.app.run_test(size=(80, 24)) as pilot:
        board.source.moving = False
        later(board, 1)
        later(board, 12 * S)
        assert "DISPLAY STOPPED" in text_of(board.app)
        await pilot.press("f")
        assert "j = SEND IT" in text_of(board.app)
        board.clock.pass_ns(S)
        await pilot.press("j")
        assert len(board.desk.asked) == 1


async def test_the_list_of_one_order(make_board: MakeBoard, scenes: Any) -> None:
    board = make_board(scenes.evacuation())
    async with board.app.run_test(size=(80, 24)) as pilot:
        await pilot.press("d")
        text = text_of(board.app)
        assert "RECEIVED   BUTTON     VOICE" in text
        assert "MOTION ALARM" in text.splitlines()[2]
        await pilot.press("6", "minus")
        (act,) = board.desk.asked
        assert (act.what, act.wearers) == ("answer_by_voice", (6,))
        await pilot.press("d")
        assert "STATE" in text_of(board.app)
