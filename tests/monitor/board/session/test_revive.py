"""A dead recorder is started, a living one never is doubled."""

from dataclasses import dataclass
from itertools import pairwise

from monitor.board.session.revive import (
    ALIVE,
    ENDED,
    FAILED,
    HANGS,
    PAUSE_NS_MAX,
    STARTING,
    LookOn,
    Revive,
)

S = 1_000_000_000


@dataclass
class World:
    """Whether the lock is free, and what happens when a recorder is started."""

    free: bool = True
    fault: OSError | None = None
    lock_fault: OSError | None = None
    starts: int = 0
    words: str = ""

    def is_free(self) -> bool:
        if self.lock_fault:
            raise self.lock_fault
        return self.free

    def start(self) -> None:
        self.starts += 1
        if self.fault:
            raise self.fault

    def last_words(self) -> str:
        return self.words

    def revive(self) -> Revive:
        return Revive(self.is_free, self.start, self.last_words)


def test_a_living_recorder_is_left_alone() -> None:
    world = World(free=False)
    assert world.revive().look(S) == ALIVE
    assert world.starts == 0


def test_a_dead_one_is_started_once_then_waited_for() -> None:
    world = World()
    revive = world.revive()
    assert [revive.look(n * S // 20) for n in range(20)] == [STARTING] * 20
    assert world.starts == 1


def test_pauses_grow_to_a_limit() -> None:
    world = World()
    revive = world.revive()
    starts = []
    for t in range(0, 600 * S, S // 2):
        before = world.starts
        revive.look(t)
        if world.starts > before:
            starts.append(t)
    pauses = [b - a for a, b in pairwise(starts)]
    assert pauses[:4] == [2 * S, 4 * S, 8 * S, 16 * S]
    assert set(pauses[4:]) == {PAUSE_NS_MAX}


def test_the_next_death_after_life_is_met_at_once() -> None:
    world = World()
    revive = world.revive()
    revive.look(0)
    revive.well()
    revive.look(1)
    assert world.starts == 2


def test_a_recorder_that_ended_on_purpose_is_left_alone_until_the_display_lives() -> None:
    world = World()
    revive = world.revive()
    revive.ended()
    assert [revive.look(t * S) for t in range(20)] == [ENDED] * 20
    assert world.starts == 0
    revive.well()
    assert revive.look(20 * S) == STARTING
    assert world.starts == 1


def test_one_that_ended_on_purpose_is_started_once_somebody_asks() -> None:
    world = World()
    revive = world.revive()
    revive.ended()
    revive.look(0)
    revive.again()
    assert revive.look(S) == STARTING
    for t in range(20):
        # A held key is no reason to start another while the first comes up.
        revive.again()
        revive.look(S + t * S // 20)
    assert world.starts == 1


def test_asking_starts_nothing_beside_a_living_recorder() -> None:
    world = World(free=False)
    revive = world.revive()
    revive.ended()
    revive.again()
    assert revive.look(S) == ALIVE
    assert world.starts == 0


def test_why_it_cannot_start_is_said() -> None:
    world = World(fault=OSError(2, "no such file"))
    assert world.revive().look(0) == f"{FAILED}: no such file"
    world = World()
    revive = world.revive()
    revive.look(0)
    world.words = "port 41900 is busy"
    assert revive.look(1) == f"{FAILED}: port 41900 is busy"


def test_a_lock_that_cannot_be_read() -> None:
    world = World(lock_fault=OSError(13, "permission denied"))
    assert "permission denied" in world.revive().look(0)
    assert "permission denied" in LookOn(world.is_free).look(0)


def test_a_disk_that_does_not_answer_starts_nothing() -> None:
    world = World()
    revive = Revive(lambda: None, world.start, world.last_words)
    assert revive.look(0) == HANGS
    assert world.starts == 0
    assert LookOn(lambda: None).look(0) == HANGS


def test_looking_on_starts_nothing() -> None:
    world = World()
    look_on = LookOn(world.is_free)
    assert look_on.look(0) == "nobody records"
    world.free = False
    assert look_on.look(0) == ALIVE
    look_on.well()
    look_on.ended()
    look_on.again()
    assert world.starts == 0
