"""After an incident: what the recorder left is listed, verified, packed and exported."""

import json
import re
import signal
import sqlite3
import subprocess
import sys
import time
import uuid
import zipfile
from pathlib import Path

from monitor import desk
from monitor.clock import Clock
from monitor.desk import Taken
from monitor.desk_client import DeskClient, unix_connect
from monitor.errors import Exit
from monitor.incident.events import Close, Connect, Enter
from monitor.incident.rows import RowKind
from tests.functional import long_journal
from tests.functional.conftest import OPENING, Home, data_of, kill, prove, wait_recording
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, wait_until

AWAY_S = 1.5
"""Longer than a late beat, so it is a gap in the horizon."""


def recording(journal: Path, port: int, *more: str) -> tuple[str, ...]:
    return ("record", str(journal), "--link", f"udp:127.0.0.1:{port}", *more)


def listed(home: Home) -> dict[str, object]:
    (entry,) = json.loads(home.run("incidents", "--json").stdout)
    found: dict[str, object] = entry
    return found


def close_incident(journal: Path) -> None:
    clock = Clock()
    client = DeskClient(unix_connect(desk.socket_path(journal)), "test-board", "R. Harrow")
    wait_until(lambda: client.pump(clock.boot_ns()) or client.holds, "the board may act")
    client.ask(
        Close(id=uuid.uuid4().hex, by="R. Harrow", override="end of the test"), clock.boot_ns()
    )
    wait_until(
        lambda: any(isinstance(a, Taken) for a in client.pump(clock.boot_ns())), "it is closed"
    )
    client.close()


def test_a_keyed_incident_from_its_opening_to_the_hand_over(
    home: Home, journal: Path, port: int
) -> None:
    key = str(home.folder / "fleet.key")
    assert home.run("keys", "create", key, "--exercise").returncode == Exit.OK
    recorder = home.start(*recording(journal, port, "--key", key, *OPENING))
    wait_recording(journal)
    assert listed(home)["state"] == "recorded now"
    refused = home.run("incidents", "pack", "one")
    assert (refused.returncode, refused.stderr.count("\n")) == (Exit.BUSY, 1)
    close_incident(journal)
    assert recorder.wait(PATIENCE_S) == Exit.OK
    said = home.log_of(recorder)
    noted = re.search(r"note down its keyed digest ((?:[0-9a-f]{4} ){7}[0-9a-f]{4})", said)
    assert noted, said
    assert listed(home)["state"] == "closed"
    unproved = home.run("verify", "one")
    assert unproved.returncode == Exit.OK
    assert "NOT CHECKED: it is keyed, and needs --key" in unproved.stdout
    right = home.run("verify", "one", "--key", key, "--noted", noted[1])
    assert right.returncode == Exit.OK, right.stderr
    assert "right, keyed" in right.stdout
    assert "end            closed" in right.stdout
    assert home.run("incidents", "pack", "one", "--key", key).returncode == Exit.OK
    with zipfile.ZipFile(home.folder / "one.zip") as archive:
        assert archive.read("digest.txt").decode().strip() == noted[1]
    connection = sqlite3.connect(journal)
    connection.execute("UPDATE batches SET wall_ns = wall_ns + 1 WHERE batch = 3")
    connection.commit()
    connection.close()
    changed = home.run("verify", "one", "--key", key)
    assert changed.returncode == Exit.CHANGED
    assert changed.stderr.count("\n") == 1


def test_an_incident_whose_recorder_was_killed_tells_how_long_nobody_recorded(
    home: Home, journal: Path, port: int, packs: Packs
) -> None:
    recorder = home.start(*recording(journal, port, *OPENING))
    wait_recording(journal)
    prove(packs, 101)
    wait_until(lambda: len(data_of(journal, RowKind.FRAME)) == 2, "both frames are kept")
    kill(recorder.pid, signal.SIGKILL)
    recorder.wait(PATIENCE_S)
    killed = time.monotonic()
    assert listed(home)["state"] == "interrupted"
    assert home.run("verify", "one").returncode == Exit.OK
    wait_until(lambda: time.monotonic() > killed + AWAY_S, "nobody records for a while")
    again = home.start(*recording(journal, port))
    wait_recording(journal)
    away_s = time.monotonic() - killed
    again.terminate()
    assert again.wait(PATIENCE_S) == Exit.OK
    assert listed(home)["state"] == "open"
    right = home.run("verify", "one")
    assert right.returncode == Exit.OK, right.stderr
    missing = re.search(r"not recorded   ([\d.]+) s of missing horizon in 1,", right.stdout)
    assert missing, right.stdout
    assert AWAY_S <= float(missing[1]) <= away_s + 0.5
    done = home.run("export", "one", "tables", "--frames", "one.pcapng")
    assert done.returncode == Exit.OK, done.stderr
    assert (home.folder / "tables" / "readings.csv").read_text().count("\n") == 1 + 2


MEASURED = """
import pathlib, sys
from monitor.cli import main
assert main(sys.argv[1:]) == 0
status = pathlib.Path("/proc/self/status").read_text()
print("peak", status.split("VmHWM:")[1].split()[0])
"""
GROWTH_KIB_MAX = 4_096
"""Five times the frames; their rows alone would be a hundred megabytes."""


def peak_kib(home: Home, *argv: str) -> int:
    """The most memory that a command took, in KiB, as Linux counts it from the start."""
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, *argv],
        env=home.environ, cwd=home.folder, capture_output=True, text=True, check=True,
        timeout=PATIENCE_S,
    )  # fmt: skip
    return int(done.stdout.split("peak ")[1])


def test_memory_does_not_grow_with_the_journal(home: Home) -> None:
    peaks = []
    for frames in (20_000, 100_000):
        path = home.folder / f"{frames}.journal"
        long_journal.make(path, frames)
        out = f"out-{frames}"
        peaks.append(peak_kib(home, "export", str(path), out, "--frames", f"{out}.pcapng"))
        rows = (home.folder / out / "readings.csv").read_bytes().count(b"\r\n")
        assert rows == frames + 1
    assert peaks[1] - peaks[0] < GROWTH_KIB_MAX


def test_the_handover_page_is_made_anew_at_each_entry_until_the_end(
    home: Home, journal: Path, port: int
) -> None:
    home.start(*recording(journal, port, *OPENING))
    wait_recording(journal)
    page = home.folder / "door.html"
    making = home.start("handover", str(journal), "--output", str(page), "--renew")
    wait_until(page.is_file, "the first page")
    assert "Under air: 0" in page.read_text("utf-8")
    clock = Clock()
    client = DeskClient(unix_connect(desk.socket_path(journal)), "test-board", "R. Harrow")
    wait_until(lambda: client.pump(clock.boot_ns()) or client.holds, "the board may act")
    for act in (Connect, Enter):
        client.ask(act(id=uuid.uuid4().hex, by="R. Harrow", wearers=(1, 2)), clock.boot_ns())
    wait_until(lambda: bool(client.pump(clock.boot_ns())), "they are taken")
    wait_until(lambda: "Under air: 2" in page.read_text("utf-8"), "two are in, on the page")
    client.close()
    close_incident(journal)
    wait_until(lambda: making.poll() is not None, "the page is made no more")
    assert making.returncode == Exit.OK
