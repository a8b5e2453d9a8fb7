"""Every kind of change is found, at its place."""

import sqlite3
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

from monitor.clock import Stamp
from monitor.errors import BadJournal
from monitor.incident.rows import Row, RowKind
from monitor.journal.verify import Fault, examine, verify_digest
from monitor.journal.writer import JournalWriter
from protocol.codec import encode
from protocol.packets import CheckResult, Kind, Motion, Report

Writing = Callable[..., JournalWriter]


def _frame(sequence: int) -> bytes:
    report = Report(
        kind=Kind.STATUS,
        identity=7,
        boot=1,
        sequence=sequence,
        epoch=0,
        keyed=False,
        pressure_dbar=2_000 + sequence,
        gas_temperature_c=None,
        battery_percent=90,
        motion=Motion.MOVING,
        distress=False,
        low_air=False,
        coming_out=False,
        self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED,
        motion_warning_test=CheckResult.PASSED,
        interval_s=1,
        uptime_ms=1_000 * sequence,
        order_received=0,
        order_acknowledged=0,
        beacon_heard=0,
    )
    return encode(report, None)


@pytest.fixture
def recorded(begin: Writing, path: Path) -> Callable[..., Path]:
    """Make 40 frames in 4 batches of 10 and an empty batch, in two sessions, closed."""

    def make(key: bytes = b"") -> Path:
        writer = begin(key)
        for n in range(4):
            if n == 2:
                writer.begin_session("boot two", 7, 8, "outby test")
            rows = [
                Row(n * 1_000 + i, RowKind.FRAME, _frame(n * 10 + i + 1), link=1) for i in range(10)
            ]
            writer.commit(rows, n * 1_000 + 500, Stamp(n, n))
        writer.commit([], 9_000, Stamp(9, 9))
        assert writer.close(final=True)
        return path

    return make


def _change(path: Path, sql: str, *values: object) -> None:
    connection = sqlite3.connect(path)
    connection.execute(sql, values)
    connection.commit()
    connection.close()


@pytest.mark.parametrize("key", [b"", b"k" * 32])
def test_what_was_written_is_right(recorded: Callable[..., Path], key: bytes) -> None:
    assert verify_digest(recorded(key), key) is None


@pytest.mark.parametrize("row", [1, 17, 40])
@pytest.mark.parametrize("byte", [0, 20, -1])
def test_a_changed_frame_is_found_to_the_row(
    recorded: Callable[..., Path], row: int, byte: int
) -> None:
    path = recorded()
    for changed in (row, 40):
        data = bytearray(_frame(changed))
        data[byte] ^= 1
        _change(path, "UPDATE rows SET data = ? WHERE id = ?", bytes(data), changed)
    fault = verify_digest(path)
    assert fault is not None
    assert (fault.batch, fault.first_row, fault.last_row) == ((row + 9) // 10, row, row)
    assert str(fault) == f"row {row}: the frame was changed since it was written"


@pytest.mark.parametrize(
    ("sql", "where"),
    [
        ("UPDATE rows SET late_ns = 1 WHERE id = 15", (2, 11, 20)),
        ("UPDATE rows SET link = 2 WHERE id = 15", (2, 11, 20)),
        ("UPDATE rows SET signal_dbm = -80 WHERE id = 15", (2, 11, 20)),
        ("UPDATE rows SET kind = 17 WHERE id = 15", (2, 11, 20)),
        ("UPDATE rows SET kind = 900 WHERE id = 15", (2, 11, 20)),
        ("UPDATE rows SET t = t + 1 WHERE id = 20", (2, 11, 20)),
        ("UPDATE rows SET t = 0 WHERE id = 15", (2, 15, 15)),
        ("UPDATE rows SET t = 9000 WHERE id = 15", (2, 15, 15)),
        ("UPDATE rows SET t = 'noon' WHERE id = 15", (2, 11, 10)),
        ("DELETE FROM rows WHERE id = 15", (2, 15, 15)),
        ("DELETE FROM rows WHERE id = 20", (2, 20, 20)),
        ("INSERT INTO rows VALUES(41, 9000, 1, 0, 0, NULL, x'00')", (5, 41, 41)),
        ("UPDATE batches SET wall_ns = 5 WHERE batch = 3", (3, 21, 30)),
        ("UPDATE batches SET boot_ns = 5 WHERE batch = 5", (5, 41, 40)),
        ("UPDATE batches SET horizon = 0 WHERE batch = 4", (4, 41, 40)),
        ("UPDATE batches SET last_row = 5 WHERE batch = 2", (2, 11, 10)),
        ("UPDATE batches SET last_row = 'ten' WHERE batch = 2", (2, 11, 10)),
        ("UPDATE batches SET digest = zeroblob(16) WHERE batch = 1", (1, 1, 10)),
        ("DELETE FROM batches WHERE batch = 2", (2, 11, 10)),
        ("DELETE FROM batches WHERE batch = 0", (0, 1, 0)),
        ("UPDATE batches SET wall_ns = 5 WHERE batch = 0", (0, 1, 0)),
        ("UPDATE batches SET session = 1 WHERE batch = 0", (0, 1, 0)),
        ("UPDATE header SET value = x'72' WHERE key = 'software'", (0, 1, 0)),
        ("UPDATE sessions SET origin_boot_ns = 1 WHERE session = 2", (3, 21, 30)),
        ("UPDATE sessions SET boot_id = x'72' WHERE session = 2", (3, 21, 30)),
        ("DELETE FROM sessions WHERE session = 1", (1, 1, 10)),
        ("INSERT INTO sessions VALUES(3, 'boot', 1, 1, 'outby')", (6, 41, 40)),
        ("UPDATE header SET value = 'real' WHERE key = 'use'", (0, 1, 0)),
        ("INSERT INTO header VALUES('more', '1')", (0, 1, 0)),
    ],
)
def test_any_other_change_is_found(
    recorded: Callable[..., Path], sql: str, where: tuple[int, int, int]
) -> None:
    path = recorded()
    _change(path, sql)
    fault = verify_digest(path)
    assert fault is not None
    assert (fault.batch, fault.first_row, fault.last_row) == where
    assert str(fault)


def test_only_a_key_shows_a_change_by_somebody_who_makes_the_digests_again(
    recorded: Callable[..., Path],
) -> None:
    """Without it what can be looked at is, and it is said that nothing is proved."""
    path = recorded(b"k" * 32)
    found = examine(path)
    assert found.fault is None
    assert found.unproved
    assert found.last == examine(path, b"k" * 32).last
    with pytest.raises(BadJournal, match="another key"):
        verify_digest(path, b"x" * 32)


@pytest.mark.parametrize(
    ("sql", "where"),
    [
        ("DELETE FROM rows WHERE id = 15", (2, 15, 15)),
        ("UPDATE rows SET t = 0 WHERE id = 15", (2, 15, 15)),
        ("UPDATE rows SET data = x'00' WHERE id = 15", (2, 15, 15)),
        ("UPDATE batches SET horizon = 0 WHERE batch = 4", (4, 41, 40)),
        ("UPDATE batches SET digest = x'00' WHERE batch = 1", (1, 1, 10)),
        ("DELETE FROM batches WHERE batch = 2", (2, 11, 10)),
        ("DELETE FROM sessions WHERE session = 1", (1, 1, 10)),
    ],
)
def test_order_and_frames_are_looked_at_without_the_key(
    recorded: Callable[..., Path], sql: str, where: tuple[int, int, int]
) -> None:
    path = recorded(b"k" * 32)
    _change(path, sql)
    fault = verify_digest(path)
    assert fault is not None
    assert (fault.batch, fault.first_row, fault.last_row) == where


def test_a_key_that_is_not_needed_does_no_harm(recorded: Callable[..., Path]) -> None:
    assert verify_digest(recorded(), b"k" * 32) is None


def test_batches_cut_off_whole_at_the_end_are_no_fault(recorded: Callable[..., Path]) -> None:
    path = recorded()
    _change(path, "DELETE FROM batches WHERE batch >= 4")
    _change(path, "DELETE FROM rows WHERE id > 30")
    assert verify_digest(path) is None


def _cut(path: Path, length: int) -> None:
    path.write_bytes(path.read_bytes()[:length])


def test_a_file_whose_end_is_cut_off_is_right_up_to_there(recorded: Callable[..., Path]) -> None:
    """Half of it: the marks, the header and some batches stand in the first pages."""
    path = recorded()
    _cut(path, path.stat().st_size // 2 // 2048 * 2048)
    found = examine(path)
    assert found.fault is not None
    assert "damaged or cut off here" in found.fault.what
    assert found.last is None or found.fault.batch == found.last.batch + 1


def test_a_damaged_page_is_a_fault_at_its_place(recorded: Callable[..., Path]) -> None:
    """All pages but the first (marks, names of tables) and the second (header)."""
    path = recorded()
    raw = bytearray(path.read_bytes())
    raw[2 * 2048 :] = b"\xa5" * (len(raw) - 2 * 2048)
    path.write_bytes(raw)
    fault = verify_digest(path)
    assert fault is not None
    assert (fault.batch, fault.first_row) == (0, 1)
    assert "damaged or cut off here" in fault.what


def _content(path: Path) -> list[list[tuple[object, ...]]]:
    """Everything that is stored."""
    connection = sqlite3.connect(path)
    tables = ("header", "sessions", "batches", "rows")
    found = [connection.execute(f"SELECT * FROM {name}").fetchall() for name in tables]
    connection.close()
    return found


def test_no_flipped_bit_goes_unseen(recorded: Callable[..., Path]) -> None:
    """Of 400 flips each is found, or lies where nothing is stored: the content is the same."""
    path = recorded()
    raw, content = path.read_bytes(), _content(path)
    rng, found = Random(8), 0
    for _ in range(400):
        changed = bytearray(raw)
        at = rng.randrange(len(raw))
        changed[at] ^= 1 << rng.randrange(8)
        path.write_bytes(changed)
        try:
            seen = verify_digest(path) is not None
        except BadJournal:
            seen = True
        found += seen
        assert seen or _content(path) == content, at
    assert found > 40


@pytest.mark.parametrize(
    ("first", "second", "where"),
    [
        ((3, 4), "data", (1, 1, 10)),
        ((3, 4), "t", (1, 4, 4)),
        ((8, 25), "data", (1, 1, 10)),
    ],
)
def test_rows_that_changed_places(
    recorded: Callable[..., Path],
    first: tuple[int, int],
    second: str,
    where: tuple[int, int, int],
) -> None:
    """Frames keep their own checksums when they change places; the digest tells."""
    path = recorded()
    one, other = first
    connection = sqlite3.connect(path)
    values = dict(connection.execute(f"SELECT id, {second} FROM rows").fetchall())
    for row, value in ((one, values[other]), (other, values[one])):
        connection.execute(f"UPDATE rows SET {second} = ? WHERE id = ?", (value, row))
    connection.commit()
    connection.close()
    fault = verify_digest(path)
    assert fault is not None
    assert (fault.batch, fault.first_row, fault.last_row) == where


def test_gaps_in_the_horizon_are_added_up(begin: Writing, path: Path) -> None:
    """750 ms are a late beat, one more ns is a gap. 0.2, 0.95, 1.700000001, 5 s: 0.750000001 + 3.3.

    The first commit follows the making of the file, which is no gap.
    """
    writer = begin()
    for horizon in (200_000_000, 950_000_000, 1_700_000_001, 5_000_000_001):
        writer.commit([], horizon, Stamp(horizon, horizon))
    writer.close(final=True)
    found = examine(path)
    assert found.fault is None
    assert (found.gaps, found.missing_ns) == (2, 4_050_000_001)
    assert (found.longest.from_ns, found.longest.length_ns) == (1_700_000_001, 3_300_000_000)


def test_a_noted_digest_is_found_where_it_was_noted(recorded: Callable[..., Path]) -> None:
    path = recorded()
    before = examine(path).last
    assert before is not None
    assert examine(path, noted=before.digest).noted == before
    assert examine(path, noted=bytes(16)).noted is None
    _change(path, "DELETE FROM batches WHERE batch >= 4")
    _change(path, "DELETE FROM rows WHERE id > 30")
    assert examine(path, noted=before.digest).noted is None


def test_beside_a_recorder_that_is_writing(begin: Writing, path: Path) -> None:
    begin().commit([Row(0, RowKind.FRAME, b"x")], 5, Stamp(1, 1))
    assert verify_digest(path) is None


@pytest.mark.parametrize(
    ("fault", "line"),
    [
        (Fault(3, 21, 20, "what"), "batch 3: what"),
        (Fault(3, 21, 21, "what"), "row 21: what"),
        (Fault(3, 21, 30, "what"), "rows 21 to 30: what"),
    ],
)
def test_a_fault_in_one_line(fault: Fault, line: str) -> None:
    assert str(fault) == line
