"""A player: at any instant, from anywhere, it shows what the plainest fold shows."""

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from monitor.errors import BadJournal
from monitor.incident.picture import Signal
from monitor.incident.rows import Row, RowKind
from tests.depth import seeds

S = 1_000_000_000
Make = Callable[..., Any]


@pytest.mark.parametrize("seed", seeds(2))
def test_after_any_seeks_it_shows_what_a_plain_fold_shows(
    seed: int, golden_rows: list[Row], make_tape: Make, make_player: Make
) -> None:
    """Random histories: frames lost, and times so coarse that many rows share one."""
    rng = Random(seed)
    coarse = rng.choice([1, S, 10 * S])
    rows = [
        replace(row, t=row.t // coarse * coarse)
        for row in golden_rows
        if row.kind is not RowKind.FRAME or rng.random() < 0.7
    ]
    tape = make_tape(rows, rows[-1].t + 5 * S)
    player = make_player(tape, apart_rows=rng.choice([7, 100]), count_max=rng.choice([3, 50]))
    pictures = set()
    for _ in range(12):
        on_a_row = rng.random() < 0.5
        t = rng.choice(rows).t if on_a_row else rng.randrange(tape.end_ns)
        player.aim(t)
        for _ in range(rng.randrange(4)):
            player.poll(rng.choice([1, 9, 60]))
        player.go(t)
        picture = player.picture()
        assert picture == tape.folded(t).picture()
        assert (player.horizon, player.catching_up) == (t, False)
        pictures.add(picture.alarms)
    assert len(pictures) > 5


def test_a_silence_comes_and_goes_at_its_very_instant(short: Any, make_player: Make) -> None:
    """Heard at 1 s with reports due each second: a gap 3 s and 1 s more later, at 5 s."""
    player = make_player(short)
    for _ in range(2):
        player.go(5 * S)
        assert player.picture().wearers[0].signal is Signal.GAP
        player.go(5 * S - 1)
        assert player.picture().wearers[0].signal is Signal.HEARD


def test_it_stays_within_the_recording_and_goes_on_when_that_grows(
    short: Any, make_player: Make
) -> None:
    player = make_player(short, 99 * S)
    assert player.horizon == 10 * S
    short.end_ns = 12 * S
    player.go(11 * S)
    assert player.horizon == 11 * S
    player.go(-5)
    assert player.horizon == 0
    assert player.opened


def test_work_is_bounded_and_kept_states_save_it(
    golden_rows: list[Row], make_tape: Make, make_player: Make
) -> None:
    tape = make_tape(golden_rows, golden_rows[-1].t)
    player = make_player(tape, apart_rows=100)
    player.aim(tape.end_ns)
    assert player.poll(10)
    assert player.catching_up
    player.go(tape.end_ns)
    tape.reads = 0
    player.go(golden_rows[-60].t)
    # At most 100 rows lie between two kept states, and 60 to the end: 50 are handed over at once.
    assert tape.reads <= 4


def test_running_goes_through_all_that_lies_between(
    golden_rows: list[Row], make_tape: Make, make_player: Make
) -> None:
    """As fast as it goes is still row by row, though checkpoints lie ahead; aiming leaps."""
    tape = make_tape(golden_rows, golden_rows[-1].t)
    player = make_player(tape, apart_rows=100)
    player.go(tape.end_ns)
    player.go(0)
    tape.reads = 0
    player.run_to(tape.end_ns)
    while player.poll():
        pass
    ran = tape.reads
    player.go(0)
    tape.reads = 0
    player.go(tape.end_ns)
    assert ran >= len(golden_rows) / 50
    assert tape.reads <= 4


def test_a_row_that_is_not_understood_is_said(short: Any, make_player: Make) -> None:
    short.all[3] = Row(S, RowKind.ACT, b'{"what": "sing"}')
    with pytest.raises(BadJournal, match="row 4 is not to be understood"):
        make_player(short, 2 * S)


def test_one_wearer_in_full(short: Any, make_player: Make) -> None:
    assert make_player(short, S).air_detail(99) is None
