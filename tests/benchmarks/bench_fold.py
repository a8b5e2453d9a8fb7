"""The fold: what a board or a recovering recorder pays for each frame of a journal."""

import gc
import statistics
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from random import Random

from monitor.clock import Stamp
from monitor.follower import Follower
from monitor.incident.decoding import event_of
from monitor.incident.events import Done
from monitor.incident.incident import Incident
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.links.chunk import Chunk
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from protocol import codec
from protocol.integrity import Keyring
from tests.benchmarks.frames import KEYS, frames
from tests.benchmarks.measuring import RUNS, Figure, compare
from tests.functional import long_journal

FRAMES = 20_000
MANY = 30_000
MS = 1_000_000


def figures() -> Iterator[Figure]:
    """Measure the fold, in memory and from a file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.journal"
        long_journal.make(path, FRAMES)
        rows = _rows(path)
        yield _fold(rows)
        yield _follow(path)
        yield _picture(rows)
    yield _many()


def _rows(path: Path) -> list[Row]:
    rows: list[Row] = []
    with JournalReader(path) as reader:
        while True:
            step = reader.read(len(rows))
            rows += step.rows
            if step.complete:
                return rows


def _folded(rows: list[Row]) -> Incident:
    incident = Incident()
    for row in rows:
        event = event_of(row)
        if event is not None:
            incident.apply(event)
    return incident


def _fold(rows: list[Row]) -> Figure:
    """Peer: decoding the same frames and doing nothing with them."""
    made = [row.data for row in rows if row.link]

    def ours() -> None:
        _folded(rows)

    def peers() -> None:
        for frame in made:
            codec.decode_trusted(frame)

    # 60,000 and 120,000 frames a second.
    bar, goal = 1e6 / 60_000, 1e6 / 120_000
    what = "fold with full decode: a frame"
    return compare(what, "decode alone", ours, peers, FRAMES, bar=bar, goal=goal)


def _follow(path: Path) -> Figure:
    """Peer: reading the same rows and doing nothing with them."""

    def ours() -> None:
        follower = Follower(path)
        while follower.poll() or follower.catching_up:
            pass

    def peers() -> None:
        _rows(path)

    return compare("follow a journal from disk: a frame", "reading alone", ours, peers, FRAMES)


def _many() -> Figure:
    """Peer: ten packs. What each frame costs from the bytes on, verdict and fold, at 10,000.

    Each pack has been heard before: what a new one costs, its key and its place, comes once.
    """
    few, many = frames(MANY, packs=10), frames(MANY + 10_000, packs=10_000)
    runs = [(_taken_us(many, 10_000), _taken_us(few, 10)) for _ in range(RUNS)]
    ours, peers = (statistics.median(column) for column in zip(*runs, strict=True))
    what = "cost a frame, 10,000 packs: ratio"
    return Figure(what, ours, "us", 2.0, 1.5, peers, "10 packs", of_ratio=True)


def _taken_us(made: list[bytes], packs: int) -> float:
    keyring = Keyring(KEYS, "exercise", 1)
    intake, incident = Intake(keyring, BeaconSender(7, 1, keyring, Random(1))), Incident()
    incident.apply(Done(0, long_journal.opening("0" * 32, 0)))
    _take(intake, incident, made[:packs], 0)
    gc.collect()
    began = time.perf_counter()
    _take(intake, incident, made[packs:], packs)
    return (time.perf_counter() - began) / (len(made) - packs) * 1e6


def _take(intake: Intake, incident: Incident, made: list[bytes], first: int) -> None:
    for t, frame in enumerate(made, start=first):
        for _, heard in intake.admit(Chunk(1, Stamp(t * MS, t * MS), None, frame)):
            heard.t = t * MS
            incident.apply(heard)


def _picture(rows: list[Row]) -> Figure:
    """Peer: copying the frozen views of a picture that is already there."""
    incident = _folded(rows)
    made = incident.picture()

    def ours() -> None:
        incident.picture()

    def peers() -> None:
        for wearer in made.wearers:
            replace(wearer, air=replace(wearer.air))

    return compare("picture: a wearer", "copying its view", ours, peers, long_journal.WEARERS)
