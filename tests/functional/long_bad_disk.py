"""Figures: hundreds of calls and orders while a disk hangs, is slow or fails; by ``make disk``.

Beside as many on the same disk while it is well. More would measure hundreds of dangers that
stand, and are told again and again, instead of the disk.
"""

import errno
import sqlite3
from bisect import bisect_left
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from itertools import chain
from pathlib import Path

import pytest

from monitor.incident.rows import RowKind
from monitor.journal.reader import JournalReader
from protocol import codec
from protocol.packets import Report
from tests.functional import test_bad_disk
from tests.functional.test_bad_disk import CRIES, CURRENT_S, SOON_S, Trial

CALLS = 250
CALLS_AN_ORDER = 4
trial, bad_disk = test_bad_disk.trial, test_bad_disk.bad_disk
"""Fixtures of there."""


def sounded_ms(journal: Path, sent: Mapping[int, int]) -> list[float]:
    """For each pack, from sending its call to the beat that it was sounded before; in order."""
    with closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as connection:
        batches = connection.execute("SELECT last_row, boot_ns FROM batches ORDER BY 1").fetchall()
    ends, found = [last_row for last_row, _ in batches], {}
    with JournalReader(journal) as reader:
        for number, row in enumerate(chain(*reader.steps(ends[-1])), start=1):
            packet = codec.decode_trusted(row.data) if row.kind is RowKind.FRAME else None
            if isinstance(packet, Report) and packet.identity in sent:
                at = batches[bisect_left(ends, number)][1]
                found[packet.identity] = (at - sent[packet.identity]) / 1e6
    assert found.keys() == sent.keys(), "none is lost"
    return sorted(found.values())


@dataclass
class Many:
    """Calls of packs that nobody knows, with an order now and then, on one state of the disk."""

    sent: dict[int, int] = field(default_factory=dict)
    """When each pack called, by the boot clock."""
    orders_ms: list[float] = field(default_factory=list)
    """How long each order took to be on the air."""
    frames: int = 0

    def check(self, journal: Path, well: "Many") -> None:
        """Beside as many on the same disk while it was well, for the machine may be busy."""
        peer, took = sounded_ms(journal, well.sent), sounded_ms(journal, self.sent)
        for what, ms in (("calls sounded", took), ("orders on the air", sorted(self.orders_ms))):
            print(f"{len(ms)} {what} after {ms[len(ms) // 2]:.1f} ms, worst {ms[-1]:.1f}")
        for what, ms in (("calls", peer), ("orders", sorted(well.orders_ms))):
            print(f"on a disk that is well {what}: {ms[len(ms) // 2]:.1f}, worst {ms[-1]:.1f}")
        assert took[-1] < max(SOON_S * 1e3, 2 * peer[-1])
        orders, before = sorted(self.orders_ms), sorted(well.orders_ms)
        assert orders[-1] < max(SOON_S * 1e3, 2 * before[-1])


def calls_and_orders(trial: Trial, first: int) -> Many:
    made = Many()
    for identity in range(first, first + CALLS):
        made.sent[identity] = trial.clock.boot_ns()
        trial.packs.send(identity, distress=True)
        made.frames += 1
        trial.live(0.02)
        if identity % CALLS_AN_ORDER:
            continue
        for one in CRIES:
            # Else they count as gone, and no order goes to them.
            trial.packs.send(one)
            made.frames += 1
        heard, _ = trial.evacuate(10 * CURRENT_S)
        made.orders_ms.append(heard * 1e3)
        trial.close_order()
    return made


@pytest.mark.parametrize("how", ["freeze", "slow 20", "slow 200", f"error {errno.EIO}"])
def test_calls_and_orders_wait_for_no_disk(trial: Trial, how: str) -> None:
    well = calls_and_orders(trial, 10_000)
    trial.spoil(how)
    trial.live(1.0)
    bad = calls_and_orders(trial, 20_000)
    trial.sign.unlink()
    trial.live(8.0)
    trial.end()
    print(how)
    bad.check(trial.journal, well)
