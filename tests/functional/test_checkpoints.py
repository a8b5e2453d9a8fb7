"""A recorder keeps checkpoints, is killed, and begins with them; dropping them changes nothing."""

import contextlib
import os
import shutil
import stat
import time
from pathlib import Path

from monitor.checkpoint.keeping import APART_ROWS
from monitor.checkpoint.shelf import Folder, folder_of
from monitor.errors import Exit
from monitor.follower import Follower
from monitor.incident.picture import Picture
from monitor.journal.reader import JournalReader
from tests.functional.conftest import OPENING, Home, prove, wait_recording
from tests.functional.conftest import processes as processes_of
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, wait_until

PACKS = range(101, 105)
KEEPER = "monitor.keeping"


def rows(journal: Path) -> int:
    with JournalReader(journal) as reader:
        return reader.last_batch().last_row


def send(packs: Packs, journal: Path, until_rows: int) -> None:
    """Frames as fast as they are kept, until so many rows are in the journal."""
    sent = rows(journal)
    while sent < until_rows:
        for _ in range(50):
            for identity in PACKS:
                packs.send(identity)
        sent += 50 * len(PACKS)
        wait_until(lambda: rows(journal) >= sent, "frames kept")  # noqa: B023 - asked for at once


def shown(journal: Path, *, checkpoints: bool) -> Picture:
    with Follower(journal, checkpoints=checkpoints) as follower:
        while follower.poll() or follower.catching_up:
            pass
        return follower.picture()


def keepers_of(recorder: int) -> list[int]:
    """The keepers that this process has started: what they are told is not in ``ps``."""
    found = []
    for pid in processes_of(KEEPER):
        with contextlib.suppress(OSError):  # one of another test, that has ended meanwhile
            told = Path(f"/proc/{pid}/stat").read_text()
            if int(told.rpartition(")")[2].split()[1]) == recorder:
                found.append(pid)
    return found


def test_a_killed_recorder_begins_with_a_checkpoint(
    home: Home, journal: Path, port: int, packs: Packs
) -> None:
    link = ("--link", f"udp:127.0.0.1:{port}")
    recorder = home.start("record", str(journal), *link, *OPENING)
    wait_recording(journal)
    for identity in PACKS:
        prove(packs, identity)
    send(packs, journal, APART_ROWS + 500)
    shelf = Folder(journal)
    (name,) = wait_until(lambda: list(shelf.sizes()), "a checkpoint is kept")
    assert stat.S_IMODE((shelf.path / f"{name}.checkpoint").stat().st_mode) == 0o600
    (keeper,) = keepers_of(recorder.pid)
    assert os.getpriority(os.PRIO_PROCESS, keeper) == 19
    send(packs, journal, APART_ROWS + 2_000)
    recorder.kill()
    recorder.wait(PATIENCE_S)
    with Follower(journal, checkpoints=True) as follower:
        assert follower.last_row >= APART_ROWS
    assert shown(journal, checkpoints=True) == shown(journal, checkpoints=False)
    began = time.monotonic()
    again = home.start("record", str(journal), *link)
    wait_recording(journal)
    print(f"recording again after {time.monotonic() - began:.2f} s")
    for identity in PACKS:
        packs.send(identity)
    send(packs, journal, rows(journal) + 200)
    assert home.run("incidents").stdout.count(".journal") == 1
    both = {keeper, *keepers_of(again.pid)}
    again.terminate()
    assert again.wait(PATIENCE_S) == Exit.OK, home.log_of(again)
    gone = f"no keeper (the first was {keeper})"
    wait_until(lambda: both.isdisjoint(processes_of(KEEPER)), gone)
    verified = home.run("verify", str(journal))
    assert verified.returncode == Exit.OK, verified.stdout + verified.stderr
    told = [home.run("handover", str(journal)).stdout]
    shutil.rmtree(folder_of(journal))
    told.append(home.run("handover", str(journal)).stdout)
    assert told[0].splitlines()[3:] == told[1].splitlines()[3:]


def test_without_the_wish_none_are_kept(home: Home, journal: Path, port: int) -> None:
    recorder = home.start(
        "record", str(journal), "--link", f"udp:127.0.0.1:{port}", *OPENING,
        OUTBY_CHECKPOINTS="false",
    )  # fmt: skip
    wait_recording(journal)
    assert keepers_of(recorder.pid) == []
    recorder.terminate()
    assert recorder.wait(PATIENCE_S) == Exit.OK
    assert not folder_of(journal).parent.exists()
