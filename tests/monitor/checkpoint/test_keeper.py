"""The follower that writes them: what it leaves, a board, a replay and a recovery begin with."""

from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import pytest

from monitor.checkpoint.beside import checkpoints_of, for_replay, for_this_process, key_of
from monitor.checkpoint.file import place_of
from monitor.checkpoint.keeper import Keeper, lock_place
from monitor.checkpoint.keeping import Checkpoints
from monitor.checkpoint.shelf import Folder, folder_of
from monitor.follower import Follower
from monitor.incident.decoding import row_of
from monitor.incident.events import Close
from monitor.journal.reader import JournalReader
from monitor.replay.player import Player
from monitor.replay.tape import JournalTape
from tests.depth import seeds

Make = Callable[..., Any]


def beside(journal: Path, apart_rows: int = 20) -> Checkpoints:
    """With less between them than a long incident has."""
    with JournalReader(journal) as reader:
        return Checkpoints(Folder(journal), key_of(reader.header()), apart_rows)


def followed(journal: Path, *, checkpoints: bool) -> Follower:
    follower = Follower(journal, checkpoints=checkpoints)
    while follower.poll(7) or follower.catching_up:
        pass
    return follower


@pytest.mark.parametrize("seed", seeds(2))
def test_board_and_replay_begin_with_them_and_show_the_same(
    seed: int, make_history: Make, write: Make, fold: Make
) -> None:
    history = make_history(seed)
    journal = write(history)
    assert Keeper(journal, beside(journal)).look()
    names = sorted(Folder(journal).sizes())
    assert len(names) > len(history.rows) // 40
    with Follower(journal, checkpoints=True) as begun:
        assert begun.last_row > len(history.rows) - 40
    pictures = []
    for with_them in (True, False):
        with followed(journal, checkpoints=with_them) as follower:
            pictures.append(follower.picture())
    assert pictures[0] == pictures[1]
    rng = Random(seed)
    with JournalTape(journal) as tape:
        players = [Player(tape, beside(journal)), Player(tape, for_this_process(tape.header))]
        for _ in range(8):
            batch = rng.choice(history.batches)
            for player in players:
                player.go(batch.horizon)
                shown = player.picture()
                assert shown == fold(history.rows, batch).incident.picture()
    assert sorted(Folder(journal).sizes()) == names, "kept where they were kept before"


def test_it_goes_on_where_the_last_one_is_as_the_journal_grows(
    make_history: Make, write: Make, journal: Path
) -> None:
    history = make_history(7)
    write(history)
    half = beside(journal)
    batch = history.batches[len(history.batches) // 2]
    first = Keeper(journal, half)
    first.look()
    for name in list(Folder(journal).sizes()):
        if int(name.split("-")[1]) > batch.last_row:
            Folder(journal).drop(name)
    again = Keeper(journal, half)
    assert batch.last_row - 40 < again.state.row <= batch.last_row
    assert again.look()
    assert again.state.row == first.state.row == len(history.rows)
    assert again.look(), "nothing is new"


def test_a_checkpoint_is_of_a_whole_commit(make_history: Make, write: Make) -> None:
    history = make_history(8)
    journal = write(history)
    Keeper(journal, beside(journal)).look()
    commits = {(batch.last_row, batch.horizon) for batch in history.batches}
    kept = [name.split("-") for name in Folder(journal).sizes()]
    assert kept
    assert {(int(row), int(t)) for _, row, t in kept} <= commits


def test_it_ends_with_the_incident(make_history: Make, write: Make) -> None:
    history = make_history(9, 30)
    history.t += 1
    closed = Close(id="close-001", by="R. Harrow", override="all accounted for")
    history.add(row_of(history.t, closed))
    history.commit()
    journal = write(history)
    keeper = Keeper(journal, beside(journal))
    assert not keeper.look()
    assert keeper.state.incident.closed


def test_a_short_incident_leaves_nothing_beside(make_history: Make, write: Make) -> None:
    journal = write(make_history(1, 30))
    assert Keeper(journal).look()
    assert not folder_of(journal).parent.exists()
    assert lock_place(journal) == folder_of(journal) / "keeper"


def test_without_a_wish_for_them_nothing_is_written_beside(make_history: Make, write: Make) -> None:
    journal = write(make_history(1, 30))
    with JournalReader(journal) as reader:
        header = reader.header()
    state = Keeper(journal).state
    place = place_of(make_history(1, 30).batches[0])
    for_replay(journal, header, beside=False).keep(place, state)
    assert not folder_of(journal).exists()
    for_replay(journal, header, beside=True).keep(place, state)
    assert len(Folder(journal).sizes()) == 1
    assert checkpoints_of(journal, header).has(place)
