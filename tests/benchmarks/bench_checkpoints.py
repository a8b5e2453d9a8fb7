"""Opening, seeking and taking up an incident of eight hours and fifty packs, with checkpoints."""

import gc
import os
import shutil
import statistics
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from random import Random

from monitor.checkpoint.beside import checkpoints_of, for_replay, key_of
from monitor.checkpoint.file import written
from monitor.checkpoint.keeper import Keeper
from monitor.checkpoint.shelf import Folder, folder_of
from monitor.clock import Clock
from monitor.follower import Follower
from monitor.journal.reader import JournalReader
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.reading_back import recalled
from monitor.recorder.recovery import Refold, break_since
from monitor.replay.player import Player
from monitor.replay.tape import JournalTape
from tests.benchmarks import long_incident
from tests.benchmarks.live import memory_mb
from tests.benchmarks.measuring import RUNS, Figure

SEEKS = 40
ROWS = 2_000
BARE = "a bare cursor over its rows"
OPEN_S, OPEN_GOAL_S = 2.0, 0.5
SEEK_S, SEEK_GOAL_S = 0.5, 0.25


def figures() -> Iterator[Figure]:
    """Measure them on one journal, which is made once; its checkpoints are made anew."""
    path = long_incident.kept()
    shutil.rmtree(folder_of(path), ignore_errors=True)
    bare_s = _took_s(lambda: _cursor(path))
    made_s = _took_s(lambda: Keeper(path).look())
    yield Figure("first pass over 8 h, 50 packs, keeping", made_s, "s", None, None, bare_s, BARE)
    sizes = Folder(path).sizes()
    journal = path.stat().st_size / 1e6
    kept = sum(sizes.values()) / 1e6
    yield Figure("  its checkpoints", kept, "MB", None, None, journal, "the journal")
    yield _writing(path)
    yield _opening("board opens 8 h", lambda: _board(path), bare_s)
    yield _opening("replay opens 8 h, at its end", lambda: _replay(path), bare_s)
    yield _opening("recorder takes up 8 h", lambda: _recovery(path), bare_s)
    yield from _seeking(path, bare_s)
    yield Figure("  memory after all that", memory_mb(os.getpid()), "MB", None, None, None, "")


def _took_s(work: Callable[[], object]) -> float:
    gc.collect()
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def _cursor(path: Path) -> None:
    with JournalReader(path) as reader:
        for _ in reader.steps(reader.last_batch().last_row):
            pass


def _opening(what: str, work: Callable[[], object], bare_s: float) -> Figure:
    ours = statistics.median(_took_s(work) for _ in range(RUNS))
    return Figure(what, ours, "s", OPEN_S, OPEN_GOAL_S, bare_s, BARE)


def _board(path: Path) -> None:
    with Follower(path, checkpoints=True) as follower:
        while follower.poll() or follower.catching_up:
            pass
        follower.picture()


def _replay(path: Path) -> None:
    with JournalTape(path) as tape:
        player = Player(tape, for_replay(path, tape.header, beside=True))
        player.go(0)
        tape.marks()
        player.go(player.end())
        player.picture()


def _recovery(path: Path) -> None:
    clock = Clock()
    intake, stamp = Intake(None, BeaconSender(7, 1, None, Random(1))), clock.stamp()
    with JournalReader(path) as reader:
        rows = recalled(reader, checkpoints_of(path, reader.header()))
        gap = break_since(reader.last_batch(), None, clock.boot_id(), stamp)
        Refold(gap, intake, stamp, rows).start()


def _seeking(path: Path, bare_s: float) -> Iterator[Figure]:
    rng, took = Random(1), []
    with JournalTape(path) as tape:
        player = Player(tape, for_replay(path, tape.header, beside=True))
        for _ in range(SEEKS):
            t = rng.randrange(player.end())
            took.append(_took_s(partial(_seek, player, t)))
    for what, ours in (("median", statistics.median(took)), ("worst of 40", max(took))):
        yield Figure(f"  seek, {what}", ours, "s", SEEK_S, SEEK_GOAL_S, bare_s, BARE)


def _seek(player: Player, t: int) -> None:
    player.go(t)
    player.picture()


def _writing(path: Path) -> Figure:
    """What the keeper pays for one. Peer: folding the rows between two."""
    with JournalReader(path) as reader:
        header = reader.header()
        checkpoints = checkpoints_of(path, header)
        found = checkpoints.newest(reader.batch, reader.last_batch().horizon // 2)
        assert found is not None, "they were made above"
        rows = reader.read(found.place.row, ROWS).rows
    place, state, key = found.place, found.state, key_of(header)
    ours = statistics.median(_took_s(lambda: written(key, place, state)) for _ in range(RUNS))
    fold_s = _took_s(lambda: state.take(rows)) * checkpoints.apart_rows / ROWS
    return Figure("  writing one", ours * 1e3, "ms", None, None, fold_s * 1e3, "its 10,000 rows")
