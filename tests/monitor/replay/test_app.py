"""The replay's screen on a tape in memory and a clock that is told the time."""

from collections.abc import Callable
from datetime import UTC
from fractions import Fraction
from typing import Any

import pytest

from monitor.archive.wall_clock import WallClock
from monitor.board.terminal.lines_view import LinesView
from monitor.clock import Clock
from monitor.incident.decoding import event_of, row_of
from monitor.incident.events import ClockStep, Done
from monitor.replay.app import Recorded, ReplayApp, ReplayOptions
from monitor.replay.marks import mark_of

S = 1_000_000_000
Make = Callable[..., Any]


def app_on(tape: Any, make_player: Make, clock: Clock) -> ReplayApp:
    found = [mark for row in tape.all if (mark := mark_of(row))]
    wall = WallClock()
    for row in tape.all:
        event = event_of(row)
        if isinstance(event, Done):
            wall.fact(row.t, event.what)
    recorded = Recorded(found, wall)
    return ReplayApp(make_player(tape), recorded, clock, ReplayOptions(Fraction(2), zone=UTC))


@pytest.fixture
def app(short: Any, make_player: Make, clock: Clock) -> ReplayApp:
    return app_on(short, make_player, clock)


def text_of(app: ReplayApp) -> str:
    view = app.query_one(LinesView)
    return "\n".join(view.render_line(y).text.rstrip() for y in range(app.size.height))


async def test_it_stands_still_then_runs_at_its_speed(app: ReplayApp, clock: Any) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        clock.pass_ns(3 * S)
        app.tick()
        assert "STANDS STILL, then 2 x, 0 min 0 s of" in text_of(app)
        await pilot.press("full_stop")
        clock.pass_ns(3 * S)
        app.tick()
        assert " REPLAY   runs 2 x, 0 min 6 s of" in text_of(app)


async def test_keys_move_it(app: ReplayApp) -> None:
    """The note is at 8 s; opened at 22:13:20."""
    async with app.run_test(size=(80, 24)) as pilot:
        for keys, where in (
            (("greater_than_sign",), "0 min 1 s"),
            (("less_than_sign",), "0 min 0 s"),
            (("end",), "0 min 10 s"),
            (("home",), "0 min 0 s"),
            (("number_sign", "number_sign", "pagedown"), "0 min 8 s"),
            (("colon", *"221325"), "0 min 5 s"),
        ):
            await pilot.press(*keys)
            app.tick()
            assert f", {where} of" in text_of(app), keys
        await pilot.press("pageup")
        assert "no note there" in text_of(app)


async def test_a_time_that_was_twice_is_gone_to_in_turn(
    short: Any, make_tape: Make, make_player: Make, clock: Clock
) -> None:
    """Opened at 22:13:20; at 5 s the clock is set back by 3 s: :22 to :24 come twice."""
    step = ClockStep(by_ns=-3 * S, wall_ns=1_700_000_000 * S + 2 * S)
    tape = make_tape([*short.all[:4], row_of(5 * S, step), short.all[4]], 10 * S)
    async with app_on(tape, make_player, clock).run_test(size=(80, 24)) as pilot:
        app = pilot.app
        assert isinstance(app, ReplayApp)
        for keys, where, said in (
            ("221323", "0 min 3 s", "1 of 2 times that it was so late; : again, the next"),
            ("221323", "0 min 6 s", "2 of 2 times"),
            ("221327", "0 min 10 s", "PgUp PgDn"),
            ("221329", "0 min 10 s", "goes from 22:13:20 to 22:13:27"),
        ):
            await pilot.press("colon", *keys)
            app.tick()
            assert f", {where} of" in text_of(app), keys
            assert said in text_of(app), keys


async def test_no_key_of_an_act_does_anything(app: ReplayApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("1")
        before = text_of(app)
        await pilot.press("space", "a", "c", "e", "g", "o", "x", "f", "j", "l", "t", "w")
        assert text_of(app) == before


async def test_looking_is_as_on_the_board(app: ReplayApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("1", "d")
        assert "A. Kerb" in text_of(app)
        await pilot.press("escape", "h")
        assert "to a time: six digits" in text_of(app)
        await pilot.press("h", "b", "s")
        assert "AIR bar" in text_of(app)


async def test_a_row_not_understood_is_said_on_the_screen(app: ReplayApp, short: Any) -> None:
    short.all[4].data = b"{}"
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("end")
        app.tick()
        assert "row 5 is not to be understood" in text_of(app)


async def test_leaving_needs_no_question(app: ReplayApp) -> None:
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("q")
        assert app.return_code == 0
