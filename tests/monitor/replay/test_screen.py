"""The screen of a replay: a replay whatever else it shows, and every line fits."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC
from fractions import Fraction
from typing import Any

import pytest

from monitor.board.keys.hands import Hands
from monitor.board.words.marks import Look, Role, width_of
from monitor.incident.rows import Row
from monitor.replay.keys import KEYS
from monitor.replay.marks import Mark, MarkKind, mark_of
from monitor.replay.pacing import Pacing
from monitor.replay.screen import REPLAY, Replayed, replay_screen

S = 1_000_000_000
Make = Callable[..., Any]
SHOWN = Replayed(
    Pacing(Fraction(4)), (Mark(0, MarkKind.NOTE), Mark(5 * S, MarkKind.ALARM, danger=True)), 10 * S
)


def laid(player: Any, shown: Replayed, width: int = 80, height: int = 24) -> list[str]:
    lines = replay_screen(
        player.picture(), Look(width, height, zone=UTC), Hands(holds=False), shown
    )
    assert len(lines.lines) == height
    assert max(map(width_of, lines.lines)) <= width
    assert lines.lines[0][0] == (REPLAY[:width], Role.BLOCK)
    return ["".join(text for text, _ in line) for line in lines.lines]


@pytest.mark.parametrize(("width", "height"), [(80, 24), (120, 40), (40, 10), (80, 5)])
@pytest.mark.parametrize("help_open", [False, True])
def test_replay_stands_on_top_at_any_size(
    short: Any, make_player: Make, width: int, height: int, *, help_open: bool
) -> None:
    laid(make_player(short, 2 * S), replace(SHOWN, help_open=help_open), width, height)


def test_how_it_runs_and_where_it_stands(short: Any, make_player: Make) -> None:
    player = make_player(short, 2 * S)
    assert "STANDS STILL, then 4 x, 0 min 2 s of 0 min 10 s" in laid(player, SHOWN)[0]
    running = replace(SHOWN, pacing=Pacing(Fraction(1), running=True))
    assert "runs 1 x" in laid(player, running)[0]
    assert "GOING THERE" in laid(player, replace(SHOWN, seeking=True))[0]
    player.go(10 * S)
    assert "AT THE END" in laid(player, SHOWN)[0]


def test_the_time_line(short: Any, make_player: Make) -> None:
    """80 cells for 10 s: 2 s is cell 16, 5 s cell 40."""
    line = laid(make_player(short, 2 * S), SHOWN)[-3]
    assert line == "n" + "=" * 15 + "|" + "-" * 23 + "A" + "-" * 39


def test_the_sign_of_a_new_alarm_is_always_lit(
    golden_rows: list[Row], make_tape: Make, make_player: Make
) -> None:
    first = next(mark.t for row in golden_rows if (mark := mark_of(row)))
    player = make_player(make_tape(golden_rows, golden_rows[-1].t), first)
    shown = laid(player, replace(SHOWN, end_ns=golden_rows[-1].t))
    (line,) = [line for line in shown if player.picture().alarms[0].word in line][:1]
    assert line[0] in "■▲•"


def test_no_key_that_acts_is_offered(short: Any, make_player: Make) -> None:
    text = "\n".join(laid(make_player(short, 2 * S), SHOWN))
    assert "VIEW ONLY" in text
    assert "Space" not in text


def test_no_key_of_the_help_runs_into_the_next(short: Any, make_player: Make) -> None:
    """Two columns of 40; a key's name and its words have a blank behind them."""
    for line in laid(make_player(short), replace(SHOWN, help_open=True))[1:]:
        for key in KEYS:
            if key.words in line:
                assert f"{key.shown}  " in line, "the name stands apart from the words"
                assert line[line.index(key.words) + len(key.words) :][:1] in {"", " "}


def test_help_names_every_key(short: Any, make_player: Make) -> None:
    text = "\n".join(laid(make_player(short), replace(SHOWN, help_open=True)))
    assert "to a time: six digits" in text
    assert "leave the replay" in text
