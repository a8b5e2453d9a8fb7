"""The last that the journal proves; what is wrong with any of them changes no answer."""

from collections.abc import Callable
from random import Random
from typing import Any

import pytest

from monitor.checkpoint.file import Key, Place, place_of
from monitor.checkpoint.keeping import Checkpoints
from monitor.checkpoint.recalled import Recalled
from monitor.checkpoint.shelf import Memory
from monitor.errors import BadJournal
from protocol.freshness import PackFreshness
from tests.depth import seeds

Make = Callable[..., Any]


@pytest.fixture
def shelf() -> Memory:
    return Memory()


@pytest.fixture
def fill() -> Make:
    """Keep one of every commit of a history that is far enough from the one before."""

    def make(checkpoints: Checkpoints, history: Any) -> list[Place]:
        places, state = [], Recalled()
        for batch in history.batches:
            state.take(history.rows[state.row : batch.last_row])
            state.advance(batch.horizon)
            if checkpoints.keep(place_of(batch), state):
                places.append(place_of(batch))
        return places

    return make


def test_the_last_up_to_an_instant_is_given(
    shelf: Memory, key: Key, make_history: Make, fill: Make
) -> None:
    history = make_history(1)
    checkpoints = Checkpoints(shelf, key, apart_rows=20)
    places = fill(checkpoints, history)
    assert len(places) > 5
    newest = checkpoints.newest(history.batch)
    assert newest is not None
    assert newest.place == places[-1]
    third = checkpoints.newest(history.batch, places[2].t)
    assert third is not None
    assert (third.place, third.state.row) == (places[2], places[2].row)
    second = checkpoints.newest(history.batch, places[2].t - 1)
    assert second is not None
    assert second.place == places[1]
    assert checkpoints.newest(history.batch, places[0].t - 1) is None
    assert checkpoints.newest(history.batch, places[2].t, after_row=places[2].row) is None
    one = checkpoints.newest(history.batch)
    assert one is not None
    assert one.state is not newest.state, "each is made for whoever asks"


def test_one_near_another_is_not_kept(key: Key, place: Place, fold: Make) -> None:
    checkpoints = Checkpoints(Memory(), key, apart_rows=100)
    kept = [
        row
        for row in (100, 100, 149, 150, 199, 200)
        if checkpoints.keep(place._replace(row=row), Recalled())
    ]
    assert kept == [100, 150, 200]
    state, found = Recalled(), []
    for state.row in (0, 99, 100, 250):
        found.append(checkpoints.next_row(state))
    assert found == [100, 100, 200, 300]
    state.fresh = dict.fromkeys(range(449), PackFreshness())
    # Twice 150 packs more: three times as far apart.
    assert checkpoints.next_row(state) == 300
    state.row = 300
    assert checkpoints.next_row(state) == 600


def test_too_many_are_thinned_out_evenly_and_the_newest_stays(
    shelf: Memory, key: Key, place: Place
) -> None:
    checkpoints = Checkpoints(shelf, key, apart_rows=10, count_max=8)
    for row in range(10, 1_010, 10):
        assert checkpoints.keep(place._replace(row=row, t=row), Recalled())
        assert len(shelf.sizes()) <= 8
    rows = sorted(int(name.split("-")[1]) for name in shelf.sizes())
    assert rows[-1] == 1_000
    gaps = [b - a for a, b in zip([0, *rows], rows, strict=False)]
    # Evenly were 125 each; none need be more than twice that.
    assert max(gaps) <= 250


def test_without_a_digest_of_the_code_nothing_is_kept(key: Key, place: Place) -> None:
    checkpoints = Checkpoints(Memory(), key._replace(code=""))
    assert not checkpoints.keep(place, Recalled())
    assert checkpoints.newest(lambda _: None) is None


def test_those_of_another_program_are_taken_away_once_one_is_kept(
    shelf: Memory, key: Key, place: Place
) -> None:
    other = Checkpoints(shelf, key._replace(code="ffffffff"), apart_rows=10)
    ours = Checkpoints(shelf, key, apart_rows=10)
    assert other.keep(place._replace(row=500), Recalled())
    assert ours.newest(lambda _: None) is None
    assert len(shelf.sizes()) == 1
    assert ours.keep(place._replace(row=20), Recalled())
    assert [name.split("-")[0] for name in shelf.sizes()] == ["c0dec0de"]


def test_names_of_others_do_no_harm(shelf: Memory, key: Key) -> None:
    for name in (
        "",
        "x",
        "c0dec0de",
        "c0dec0de-1",
        "c0dec0de-x-1",
        "c0dec0de-1-2-3",
        "c0dec0de-1-2",
    ):
        shelf.put(name, b"rubbish")
    assert Checkpoints(shelf, key).newest(lambda _: None) is None


@pytest.mark.parametrize("seed", seeds(2))
def test_whatever_is_wrong_with_them_the_answer_is_the_same(
    seed: int, key: Key, make_history: Make, fill: Make, fold: Make
) -> None:
    """All dropped, damaged, of another journal, of another fold: the state is the plain fold's."""
    rng = Random(seed)
    history, other = make_history(seed, 250), make_history(seed + 100, 250)
    shelf, foreign = Memory(), Memory()
    places = fill(Checkpoints(shelf, key, apart_rows=20), history)
    fill(Checkpoints(foreign, key, apart_rows=20), other)
    names = sorted(shelf.sizes())
    for name in rng.sample(names, len(names) // 2):
        harm = rng.choice(["byte", "cut", "gone", "foreign", "renamed"])
        raw = bytearray(shelf.get(name))
        if harm == "byte":
            raw[rng.randrange(len(raw))] ^= 1 << rng.randrange(8)
        elif harm == "cut":
            del raw[rng.randrange(len(raw)) :]
        elif harm == "foreign":
            raw = bytearray(foreign.get(rng.choice(sorted(foreign.sizes()))))
        elif harm == "renamed":
            raw = bytearray(shelf.get(rng.choice(names)))
        shelf.put(name, bytes(raw))
        if harm == "gone":
            shelf.drop(name)
    checkpoints = Checkpoints(shelf, key, apart_rows=20)
    for _ in range(10):
        batch = rng.choice(history.batches)
        found = checkpoints.newest(history.batch, batch.horizon)
        assert found is None or found.place in places
        state = found.state if found else Recalled()
        state.take(history.rows[state.row : batch.last_row])
        state.advance(batch.horizon)
        assert state.incident.picture() == fold(history.rows, batch).incident.picture()


def test_a_journal_that_cannot_be_asked_costs_no_checkpoint(
    shelf: Memory, key: Key, make_history: Make, fill: Make
) -> None:
    history = make_history(4, 100)
    checkpoints = Checkpoints(shelf, key, apart_rows=20)
    places = fill(checkpoints, history)

    def busy(_number: int) -> Any:
        raise BadJournal("the journal is in use")

    assert checkpoints.newest(busy) is None
    assert len(shelf.sizes()) == len(places)


def test_one_of_rows_that_were_replaced_is_dropped(
    shelf: Memory, key: Key, make_history: Make, fill: Make
) -> None:
    history = make_history(4, 100)
    checkpoints = Checkpoints(shelf, key, apart_rows=20)
    fill(checkpoints, history)

    def replaced(number: int) -> Any:
        batch = history.batch(number)
        return batch._replace(digest=b"another") if batch else None

    assert checkpoints.newest(replaced) is None
    assert shelf.sizes() == {}
    assert checkpoints.newest(history.batch) is None
