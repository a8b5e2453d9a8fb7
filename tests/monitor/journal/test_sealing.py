"""Batches sealed ahead of any disk are those that a journal holds."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row
from monitor.journal import digest
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Header
from monitor.journal.verify import verify_digest
from monitor.journal.writer import JournalWriter

MS = 1_000_000
Frames = Callable[..., list[Row]]


def stamp(t: int) -> Stamp:
    return Stamp(500 + t, 1_000 + t)


@pytest.mark.parametrize("together", [1, 3, 10])
def test_written_one_by_one_or_together_it_is_the_same_journal(
    begin: Any, frames: Frames, path: Path, together: int
) -> None:
    writer: JournalWriter = begin(b"k" * 32)
    rows = frames(1_000)
    sealed = [
        writer.sealer.seal(rows[n : n + 100], rows[n + 99].t, stamp(rows[n + 99].t))
        for n in range(0, 1_000, 100)
    ]
    for n in range(0, 10, together):
        writer.write(sealed[n : n + together])
    assert verify_digest(path, b"k" * 32) is None
    with JournalReader(path) as reader:
        assert reader.read(0).rows == rows
        assert reader.last_batch() == sealed[-1].batch
        assert reader.batch(4) == sealed[3].batch


def test_rows_are_numbered_when_they_are_sealed(begin: Any, frames: Frames) -> None:
    sealer = begin().sealer
    first = sealer.seal(frames(3), 3 * MS, stamp(3 * MS))
    second = sealer.seal([], 4 * MS, stamp(4 * MS))
    third = sealer.seal(frames(2, 5 * MS), 6 * MS, stamp(6 * MS))
    assert [one.batch.last_row for one in (first, second, third)] == [3, 3, 5]
    assert [one.before.last_row + 1 for one in (first, third)] == [1, 4]
    assert first.new is not None
    assert second.new is third.new is None


def test_a_sealed_batch_has_the_digest_that_the_format_says(begin: Any, frames: Frames) -> None:
    sealed = begin().sealer.seal(frames(2), 2 * MS, stamp(2 * MS))
    again = digest.of_batch(sealed.before, sealed.batch, sealed.rows, sealed.new, b"")
    assert again == sealed.batch.digest


def test_what_does_not_follow_is_never_written(
    begin: Any, frames: Frames, path: Path, header: Header
) -> None:
    writer: JournalWriter = begin()
    writer.sealer.seal(frames(1), MS, stamp(MS))
    second = writer.sealer.seal(frames(1, 2 * MS), 3 * MS, stamp(3 * MS))
    with pytest.raises(AssertionError, match="follow"):
        writer.write([second])
    with JournalReader(path) as reader:
        assert reader.last_batch().batch == 0


def test_after_a_failure_it_is_looked_what_is_there(begin: Any, frames: Frames) -> None:
    writer: JournalWriter = begin()
    sealed = writer.sealer.seal(frames(2), 2 * MS, stamp(2 * MS))
    writer.write([sealed])
    assert writer.look_again() == sealed.batch
    writer.close(final=False)
    with pytest.raises(BadJournal):
        writer.look_again()
