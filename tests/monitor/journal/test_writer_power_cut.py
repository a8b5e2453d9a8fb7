"""The power is cut at any instant: what the disk has then is a whole journal, as far as it goes.

An image is the journal's file and its write-ahead log as they are at that instant, the log cut at
any byte that was not synced for a checkpoint, or with zeros or something else where nothing had
been written yet. SQLite's own promise ("Atomic Commit", "Write-Ahead Logging") is tried with ours:
batches are whole, the digest goes on, and what the second place has fits behind it.
"""

import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

import pytest

from monitor.clock import Stamp
from monitor.incident.rows import Row
from monitor.journal import spill
from monitor.journal.making import wal_path
from monitor.journal.reader import JournalReader
from monitor.journal.sealing import Sealed
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter
from tests.depth import seeds

IMAGES = 50
"""Of each seed; ``make search`` has two hundred and more."""
Frames = Callable[..., list[Row]]


class Power:
    """A journal that is written, and what of it is sure at each instant."""

    def __init__(self, writer: JournalWriter, rows: list[Row], rng: Random) -> None:
        self.writer, self.rng = writer, rng
        self.rows = rows
        self.made: list[Sealed] = []
        self.sizes: list[tuple[int, int]] = [(0, 0)]
        """Bytes of log, and the batch that is whole with them."""
        self.synced = 0
        """Bytes of log that the last checkpoint brought to the disk before it wrote the file."""

    def checkpoint(self) -> None:
        self.writer.checkpoint()
        self.synced = self.sizes[-1][0]

    def commit(self) -> None:
        done = self.made[-1].batch.last_row if self.made else 0
        some = self.rows[done : done + self.rng.randrange(1, 40)]
        t = some[-1].t
        self.made.append(self.writer.sealer.seal(some, t, Stamp(t, t)))
        before = wal_path(self.writer.path).stat().st_size
        self.writer.write(self.made[-1:])
        size = wal_path(self.writer.path).stat().st_size
        if size <= before:
            # The log began anew: what was in it is in the file itself.
            self.sizes, self.synced = [(0, self.made[-2].batch.batch)], 0
        self.sizes.append((size, self.made[-1].batch.batch))

    def image(self, folder: Path) -> tuple[Path, int]:
        """A copy with its log cut or spoilt at a random byte; the batch up to which it is whole."""
        path = folder / "image.journal"
        for old in folder.glob("image.journal*"):
            old.unlink()
        shutil.copy(self.writer.path, path)
        data = wal_path(self.writer.path).read_bytes()
        cut = self.rng.randrange(self.synced, len(data) + 1)
        rest = len(data) - cut
        spoilt = self.rng.choice((b"", bytes(rest), self.rng.randbytes(rest)))
        wal_path(path).write_bytes(data[:cut] + spoilt)
        sure = max(batch for size, batch in self.sizes if size <= cut)
        return path, sure


@pytest.mark.parametrize("seed", seeds(1))
def test_every_image_is_a_whole_journal_and_the_second_place_fits_behind_it(
    seed: int, begin: Any, frames: Frames, tmp_path: Path
) -> None:
    rng = Random(seed)
    power = Power(begin(), frames(20_000), rng)
    place, cuts = tmp_path / "one.spill", 0
    while cuts < IMAGES:
        for _ in range(rng.randrange(1, 6)):
            power.commit()
        if rng.random() < 0.1:
            power.checkpoint()
        path, sure = power.image(tmp_path)
        cuts += 1
        again = JournalWriter.open(path)
        assert sure <= again.last.batch <= len(power.made)
        assert verify_digest(path) is None
        # The spill went on from the last full checkpoint, which is never behind what is whole.
        base = next((b for b in power.made if b.batch.batch > power.writer.whole), None)
        if base is not None:
            second = JournalWriter.follow(place, power.writer, base.before, again.sessions()[:1])
            second.write([b for b in power.made if b.batch.batch > base.before.batch])
            second.close(final=False)
            spill.merge(again, place)
            assert again.last == power.made[-1].batch
        again.close(final=False)
        with JournalReader(path) as reader:
            count = reader.last_batch().last_row
            found = [row for step in reader.steps(count) for row in step]
        assert found == power.rows[:count]
        assert verify_digest(path) is None
