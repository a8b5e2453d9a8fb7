"""Recorder and board killed at random moments under load: nothing is lost that must not be.

No act that was shown as taken, no frame that was sent to a living recorder more than a tenth of a
second before it died; and the journal refolds clean each time. A dozen kills by default;
``make kills`` makes a thousand, in a quarter of an hour.
"""

import os
import subprocess
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

import pytest

from monitor import desk
from monitor.archive.refold import refold
from monitor.clock import Clock
from monitor.desk import Taken
from monitor.desk_client import DeskClient, unix_connect
from monitor.errors import Exit
from monitor.incident.events import Note
from monitor.incident.rows import RowKind
from monitor.journal.reader import JournalReader
from monitor.journal.verify import verify_digest
from protocol import codec
from protocol.packets import Report
from tests.functional.conftest import OPENING, Home, horizon, wait_recording
from tests.functional.packs import Packs
from tests.functional.patience import held_up_s, wait_until

KILLS = int(os.environ.get("KILLS", "6"))
KILLS_A_JOURNAL = 25
PACKS = range(101, 121)
FRAMES_A_SECOND = 400
OLD_S = 0.1
PAUSE_S = 0.005
UP_S = 60.0
"""For a recorder to record. It takes half a second; what it took is told, and that a machine is
busy with others is no fault of its own."""
ASKED_MAX = 8


@dataclass
class Load:
    """A thread that sends, and remembers what it sent when."""

    port: int
    sent: list[tuple[float, int, int]] = field(default_factory=list)
    """When, by which pack, under which number."""
    _stop: threading.Event = field(default_factory=threading.Event)

    def run(self) -> None:
        with closing(Packs(self.port)) as packs:
            began, count = time.monotonic(), 0
            while not self._stop.wait(PAUSE_S):
                while count < (time.monotonic() - began) * FRAMES_A_SECOND:
                    identity = PACKS[count % len(PACKS)]
                    packs.send(identity)
                    self.sent.append((time.monotonic(), identity, packs.sequences[identity]))
                    count += 1

    def stop(self) -> None:
        self._stop.set()


@dataclass
class Worst:
    """What a run came to."""

    kills: dict[str, int] = field(default_factory=lambda: {"recorder": 0, "board": 0})
    taken: int = 0
    sent: int = 0
    lost_s: float = 0.0
    """How long before a kill the oldest frame was sent that is not kept, ..."""
    late_s: float = 0.0
    """... and how long, at most, the machine kept the recorder from running before that kill."""
    over_s: float = 0.0
    """The worst of the one less the other."""
    back_s: list[float] = field(default_factory=list)
    """From the start of a recorder to its first commit."""


@pytest.fixture
def load(port: int) -> Iterator[Load]:
    made = Load(port)
    thread = threading.Thread(target=made.run)
    thread.start()
    yield made
    made.stop()
    thread.join(10)


def kept(journal: Path) -> tuple[set[tuple[int, int]], str]:
    """Frames by pack and number, and the text of all acts."""
    frames, acts = set(), []
    with JournalReader(journal) as reader:
        for step in reader.steps(reader.last_batch().last_row):
            for row in step:
                if row.kind is RowKind.ACT:
                    acts.append(row.data.decode())
                elif row.kind is RowKind.FRAME:
                    packet = codec.decode_trusted(row.data)
                    assert isinstance(packet, Report)
                    frames.add((packet.identity, packet.sequence))
    return frames, "\n".join(acts)


def ask_for(client: DeskClient, clock: Clock, seconds: float, taken: list[str]) -> None:
    """Ask for notes as fast as they are answered, for so long."""
    until, asked = time.monotonic() + seconds, 0
    while time.monotonic() < until:
        answers = client.pump(clock.boot_ns())
        asked = max(0, asked - len(answers))
        taken += [answer.id for answer in answers if isinstance(answer, Taken)]
        if client.holds and asked < ASKED_MAX:
            note = Note(id=uuid.uuid4().hex, by="R. Harrow", text=f"note {len(taken)}")
            client.ask(note, clock.boot_ns())
            asked += 1
        time.sleep(0.001)


class Killing:
    """One journal, whose recorder and board are killed in turns."""

    def __init__(self, home: Home, journal: Path, load: Load, worst: Worst) -> None:
        self.home, self.journal, self.load, self.worst = home, journal, load, worst
        self.link = ("--link", f"udp:127.0.0.1:{load.port}")
        self.spans: list[tuple[float, float]] = []
        """From when to when what was sent must be kept."""
        self.taken: list[str] = []
        self.clock = Clock()

    def run(self, rng: Random, kills: int) -> None:
        self._record(*OPENING)
        place = desk.socket_path(self.journal)
        client = DeskClient(unix_connect(place), "test-board", "R. Harrow")
        board = self._board()
        for _ in range(kills):
            held_s = held_up_s(self.recorder.pid)
            ask_for(client, self.clock, rng.uniform(0.05, 0.9), self.taken)
            if rng.random() < 0.2:
                self.worst.kills["board"] += 1
                before = horizon(self.journal)
                board.kill()
                board.wait(UP_S)
                board = self._board()
                self._wait_beyond(before)
                continue
            self.worst.kills["recorder"] += 1
            late_s = held_up_s(self.recorder.pid) - held_s
            died = time.monotonic()
            self.recorder.kill()
            self.recorder.wait(UP_S)
            self.spans.append((self.up, died))
            ask_for(client, self.clock, 0.01, self.taken)
            self._check(died, late_s)
            self._record()
        client.close()
        self.recorder.terminate()
        assert self.recorder.wait(UP_S) == Exit.OK, self.home.log_of(self.recorder)
        board.kill()
        board.wait(UP_S)
        self.worst.taken += len(self.taken)

    def _wait_beyond(self, before: int) -> None:
        wait_until(lambda: horizon(self.journal) > before, "recording goes on", UP_S)

    def _record(self, *opening: str) -> None:
        began = time.monotonic()
        self.recorder = self.home.start("record", str(self.journal), *self.link, *opening)
        wait_recording(self.journal, UP_S)
        self.up = time.monotonic()
        self.worst.back_s.append(self.up - began)

    def _board(self) -> "subprocess.Popen[str]":
        return self.home.start("watch", str(self.journal), "--view", "--plain")

    def _check(self, died: float, late_s: float) -> None:
        frames, acts = kept(self.journal)
        assert [note for note in self.taken if note not in acts] == []
        since, until = self.spans[-1]
        sent = [one for one in list(self.load.sent) if since <= one[0] <= until]
        lost = [died - at for at, identity, number in sent if (identity, number) not in frames]
        self.worst.sent += len(sent)
        self.worst.lost_s = max(self.worst.lost_s, *lost, 0.0)
        self.worst.late_s = max(self.worst.late_s, late_s)
        self.worst.over_s = max(self.worst.over_s, *(one - late_s for one in lost), 0.0)
        assert verify_digest(self.journal) is None
        with JournalReader(self.journal) as reader:
            last = reader.last_batch()
        found = refold(self.journal, last)
        assert found.sound, found.fault or found.differences


@pytest.mark.parametrize("number", range(-(-KILLS // KILLS_A_JOURNAL)))
def test_kill_9_at_random_moments_under_load(
    number: int, home: Home, journal: Path, load: Load
) -> None:
    kills, worst = min(KILLS_A_JOURNAL, KILLS - number * KILLS_A_JOURNAL), Worst()
    Killing(home, journal, load, worst).run(Random(number), kills)
    back = sorted(worst.back_s)
    print(
        f"{worst.kills}, {worst.taken} acts taken, {worst.sent} frames; the oldest lost was sent "
        f"{worst.lost_s * 1e3:.0f} ms before a kill; recording after {back[len(back) // 2]:.2f} s "
        f"(median), {back[-1]:.2f} s at worst; the machine kept the recorder, before a kill, "
        f"{worst.late_s * 1e3:.0f} ms from running"
    )
    assert worst.taken > kills
    # A recorder that the machine did not let run could not read them.
    assert worst.over_s < OLD_S
