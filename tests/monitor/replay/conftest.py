"""Recordings for the tests of replay: one made by hand, and tapes that count."""

from collections.abc import Callable
from typing import Any

import pytest

from monitor import procedures
from monitor.checkpoint.file import Key
from monitor.checkpoint.keeping import Checkpoints
from monitor.checkpoint.shelf import Memory
from monitor.incident.decoding import event_of, row_of
from monitor.incident.events import JoinPack, ListWearer, Note, Opened
from monitor.incident.incident import Incident
from monitor.incident.rows import Row, RowKind
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch
from monitor.replay.player import Player
from protocol.codec import encode
from protocol.packets import CheckResult, Kind, Motion, Report
from shared import path

S = 1_000_000_000
OFFICER = {"by": "R. Harrow"}


class ListTape:
    """Rows in memory; counts how often it was read."""

    def __init__(self, rows: list[Row], end: int) -> None:
        self.all = rows
        self.end_ns = end
        self.reads = 0

    def end(self) -> int:
        return self.end_ns

    def rows(self, after_row: int) -> list[Row]:
        self.reads += 1
        return self.all[after_row : after_row + 50]

    def batch(self, number: int) -> Batch | None:
        """One commit after each row that is the last of its time; numbered by its last row."""
        later = self.all[number].t if number < len(self.all) else self.end_ns + 1
        if not 0 < number <= len(self.all) or self.all[number - 1].t == later:
            return None
        return Batch(number, 1, number, later - 1, 0, 0, number.to_bytes(16))

    def first_batch_reaching(self, row: int, after: int) -> Batch | None:
        numbers = range(max(row, after + 1), len(self.all) + 1)
        return next((found for n in numbers if (found := self.batch(n))), None)

    def folded(self, t: int) -> Incident:
        """The incident at ``t`` by the plainest fold there is."""
        incident = Incident()
        for row in self.all:
            event = event_of(row)
            if event is not None and row.t <= t:
                incident.apply(event)
        incident.advance(t)
        return incident


def frame(t: int, pack: int = 101) -> Row:
    report = Report(
        kind=Kind.STATUS, identity=pack, boot=1, sequence=t // S, epoch=0, keyed=False,
        pressure_dbar=2_500, gas_temperature_c=20, battery_percent=90, motion=Motion.MOVING,
        distress=False, low_air=False, coming_out=False, self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED, motion_warning_test=CheckResult.PASSED,
        interval_s=1, uptime_ms=t // 1_000_000, order_received=0, order_acknowledged=0,
        beacon_heard=0,
    )  # fmt: skip
    return Row(t, RowKind.FRAME, encode(report, None), 1)


def short_rows() -> list[Row]:
    opened = Opened(
        incident="0" * 32, name="Kiln Lane", officer="R. Harrow", use="exercise",
        procedure=procedures.load("plain"), keyed=False, base=1,
        wall_ns=1_700_000_000_000_000_000, software="outby test", fold=1,
    )  # fmt: skip
    listed = ListWearer(id="listed-1", **OFFICER, wearer=1, name="A. Kerb", crew="Alpha 1")
    joined = JoinPack(
        id="joined-1", **OFFICER, wearer=1, pack=101, water_volume_l=6.8, rated_bar=300
    )
    noted = Note(id="noted-01", **OFFICER, text="water on")
    return [
        *(row_of(0, what) for what in (opened, listed, joined)),
        frame(S),
        row_of(8 * S, noted),
    ]


@pytest.fixture
def short() -> ListTape:
    """One wearer, heard once at 1 s, reports due each second; a note at 8 s, the end at 10 s."""
    return ListTape(short_rows(), 10 * S)


@pytest.fixture(scope="session")
def golden_rows() -> list[Row]:
    """All rows of the golden incident."""
    with JournalReader(path("journals", "kiln-lane.journal")) as reader:
        return [row for step in reader.steps(reader.last_batch().last_row) for row in step]


@pytest.fixture
def make_tape() -> Callable[[list[Row], int], ListTape]:
    return ListTape


@pytest.fixture
def make_player() -> Callable[..., Any]:
    def make(tape: ListTape, at: int = 0, **limits: Any) -> Player:
        player = Player(tape, Checkpoints(Memory(), Key(1, "code", "0" * 32), **limits))
        player.go(at)
        return player

    return make
