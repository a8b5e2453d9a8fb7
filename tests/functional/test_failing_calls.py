"""Every call to the system may fail: one in four does, on whatever lies in the journal's folder.

A library in front of the C library fails calls that open, write, sync, look, move and make files,
each with one of the errors that its manual page lists, from a seed. The recorder lives through all
of it, and what packs said meanwhile is in the journal afterwards.
"""

import os
import signal
import subprocess
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from monitor.errors import Exit
from monitor.journal.half_made import is_half_made
from monitor.journal.lock import holder
from monitor.journal.reader import JournalReader
from monitor.journal.verify import verify_digest
from tests.functional.conftest import Home, horizon, wait_recording
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, wait_until
from tests.functional.test_recording import opening, sequences_kept

SEEDS = [1, 2, *range(100, 100 + int(os.environ.get("FAILING_SEEDS", "0")))]
"""FAILING_SEEDS=500 tries as many more."""
STARTS = 4 + int(os.environ.get("FAILING_SEEDS", "0"))
LOOKS = 6 + int(os.environ.get("FAILING_SEEDS", "0")) // 5
FAILING_S = 3.0
EACH_S = 0.02
ONE_IN = (50, 12, 4)
"""The fewer fail, the further a start comes before one does."""


@pytest.fixture(scope="module")
def failing_calls(built: Callable[[str], Path]) -> Path:
    return built("failing_calls")


@pytest.mark.parametrize("seed", SEEDS)
def test_the_recorder_lives_through_calls_that_fail(
    home: Home, journal: Path, port: int, packs: Packs, failing_calls: Path, seed: int
) -> None:
    sign, count = home.folder / "failing", home.runtime / "count"
    recorder = home.start(
        *opening(journal, port),
        LD_PRELOAD=str(failing_calls), FAIL_WHILE=str(sign), FAIL_SEED=str(seed),
        FAIL_FOLDER=str(home.incidents), FAIL_COUNT=str(count),
    )  # fmt: skip
    wait_recording(journal)
    pid = holder(journal)
    sign.touch()
    sent, until = 0, time.monotonic() + FAILING_S
    while time.monotonic() < until:
        packs.send(101)
        sent += 1
        time.sleep(EACH_S)
    assert recorder.poll() is None, home.log_of(recorder)
    sign.unlink()
    before = horizon(journal)
    wait_until(lambda: horizon(journal) > before, "the horizon moves again")
    everything = list(range(1, sent + 1))
    wait_until(lambda: sequences_kept(journal, 101) == everything, "every frame is kept")
    assert holder(journal) == pid
    assert count.stat().st_size > 0
    print(f"seed {seed}: {count.stat().st_size} calls failed")
    recorder.terminate()
    assert recorder.wait(PATIENCE_S) == Exit.OK, home.log_of(recorder)
    assert verify_digest(journal) is None


FORESEEN = {-signal.SIGKILL, *(int(end) for end in Exit if end is not Exit.INTERNAL)}


def started(home: Home, recorder: subprocess.Popen[str]) -> bool:
    """Whether it records, or has ended."""
    return recorder.poll() is not None or "receive buffer" in home.log_of(recorder)


def kept(journal: Path) -> tuple[str, int] | None:
    """Which incident is in the journal, and up to which row; None where nothing is."""
    if not journal.exists():
        return None
    with JournalReader(journal) as reader:
        last = reader.last_batch().last_row
        return (reader.header().incident, last) if last else None


def check_kept(journal: Path, before: tuple[str, int] | None) -> tuple[str, int] | None:
    """Nothing that the journal had has gone; give what it has now."""
    now = kept(journal)
    if before is not None:
        assert now is not None, f"a journal of {before[1]} rows is gone"
        assert now[0] == before[0], "another incident is in its place"
        assert now[1] >= before[1]
    return now


def test_a_journal_that_a_failing_disk_denies_is_neither_replaced_nor_taken_away(
    home: Home, journal: Path, port: int, failing_calls: Path
) -> None:
    """One look in three says that there is no such file."""
    sign, count = home.folder / "failing", home.runtime / "count"
    recorder = home.start(*opening(journal, port))
    wait_recording(journal)
    recorder.kill()
    recorder.wait(PATIENCE_S)
    before = kept(journal)
    assert before is not None
    sign.touch()
    for seed in range(LOOKS):
        recorder = home.start(
            *opening(journal, port),
            LD_PRELOAD=str(failing_calls), FAIL_WHILE=str(sign), FAIL_SEED=str(seed),
            FAIL_FOLDER=str(home.incidents), FAIL_COUNT=str(count), FAIL_DENIES="1",
            FAIL_ONE_IN="3",
        )  # fmt: skip
        wait_until(partial(started, home, recorder), "a start")
        recorder.kill()
        assert recorder.wait(PATIENCE_S) in FORESEEN, (seed, home.log_of(recorder))
        before = check_kept(journal, before)
    assert count.stat().st_size > 0


def test_a_start_that_fails_is_one_line_and_the_next_goes_on(
    home: Home, journal: Path, port: int, failing_calls: Path
) -> None:
    """An opening, then one taking up after the other, each with other calls that fail."""
    sign, count = home.folder / "failing", home.runtime / "count"
    sign.touch()
    ends, before = [], None
    for seed in range(STARTS):
        recorder = home.start(
            *opening(journal, port),
            LD_PRELOAD=str(failing_calls), FAIL_WHILE=str(sign), FAIL_SEED=str(seed),
            FAIL_FOLDER=str(home.incidents), FAIL_COUNT=str(count),
            FAIL_ONE_IN=str(ONE_IN[seed % len(ONE_IN)]),
        )  # fmt: skip
        wait_until(partial(started, home, recorder), "a start")
        recorder.kill()
        code, said = recorder.wait(PATIENCE_S), home.log_of(recorder)
        ends.append((seed, code))
        assert "Traceback" not in said, (seed, said)
        assert code in FORESEEN, (seed, said)
        before = check_kept(journal, before)
    assert count.stat().st_size > 0
    print(f"{count.stat().st_size} calls failed: {ends}")
    sign.unlink()
    half_made = is_half_made(journal)
    assert home.run("incidents").returncode == Exit.OK
    if half_made:
        done = home.run("incidents", "discard", str(journal))
        if done.returncode != Exit.OK:
            # What was opened in it is in a second place alone.
            assert f"outby incidents recover {journal}" in done.stderr
            done = home.run("incidents", "recover", str(journal))
        assert done.returncode == Exit.OK, done.stderr
    home.start(*opening(journal, port))
    wait_recording(journal)
    assert verify_digest(journal) is None
