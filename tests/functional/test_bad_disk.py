"""Real recorders and boards on a disk that hangs, is slow, refuses or loses files.

A distress and an evacuation come in the middle; they sound and go out as ever, the board stays
current, nothing is lost, and the journal tells of it afterwards.
"""

import contextlib
import errno
import os
import signal
import subprocess
import time
import uuid
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

import pytest

from monitor import desk
from monitor.clock import Clock
from monitor.desk import Held, NotTaken, Taken
from monitor.desk_client import Answer, DeskClient, unix_connect
from monitor.errors import BadJournal, Exit
from monitor.follower import Follower
from monitor.incident.events import Connect, Note
from monitor.incident.orders.events import CloseOrder, GiveOrder
from monitor.incident.rows import RowKind
from monitor.journal.verify import verify_digest
from monitor.live_follower import LiveFollower
from tests.functional.conftest import (
    OPENING,
    Home,
    Screen,
    data_of,
    prove,
    wait_recording,
    wait_shown,
)
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, Watch, wait_until

HANG_S = 4.0
LONG = bool(os.environ.get("LONG"))
"""As ``make disk`` runs it."""
MORE = (
    ("slow 1", ""),
    ("slow 200", ""),
    ("slow 20000", "waiting"),
    (f"error {errno.EROFS}", "failing"),
    (f"error {errno.EDQUOT}", "failing"),
)
"""Of the same kinds as those of every run."""
HANG_LONG_S = 600.0 if LONG else 6.0
LONG_RATE = 100
"""Frames a second."""
CURRENT_S = 1.0
SOON_S = 0.1
"""Aimed at; judged by the median of several, since a test machine may be busy with others. All are
less what the machine let recorder and board wait for a core."""
CRIES = (101, 102, 201, 202)


@pytest.fixture(scope="module")
def bad_disk(built: Callable[[str], Path]) -> Path:
    return built("bad_disk")


@dataclass
class Trial:
    """A recorder whose disk can be spoilt, a board that looks on, and a desk."""

    home: Home
    journal: Path
    packs: Packs
    sign: Path
    recorder: "subprocess.Popen[str]"
    board: LiveFollower
    desk: DeskClient
    clock: Clock
    orders: int = 0
    """Given so far."""
    stands_s: float = 0.0
    """Longest that the board stood."""
    _still: Watch | None = None
    """Since the board moved last."""

    def spoil(self, how: str) -> None:
        half = self.sign.with_suffix(".half")
        half.write_text(how)
        half.replace(self.sign)

    def look(self) -> list[Answer]:
        """What a board does 20 times a second."""
        before = self.board.horizon
        with contextlib.suppress(BadJournal):
            self.board.poll()
        if self._still is None or self.board.horizon != before:
            self._still = self.watch()
        self.stands_s = max(self.stands_s, self._still.took_s())
        return self.desk.pump(self.clock.boot_ns())

    def watch(self) -> Watch:
        """Whatever the recorder does, less what the machine kept it and the board waiting."""
        return Watch(lambda: [self.recorder.pid])

    def taken(self, count: int = 1) -> list[str]:
        """Go on until so many acts are said to be taken; their ids."""
        found: list[str] = []

        def answered() -> bool:
            found.extend(answer.id for answer in self.look() if isinstance(answer, Taken))
            return len(found) >= count

        wait_until(answered, f"{count} acts are taken")
        return found

    def live(self, seconds: float) -> list[Answer]:
        answers: list[Answer] = []
        until = time.monotonic() + seconds
        while time.monotonic() < until:
            answers += self.look()
            time.sleep(0.02)
        return answers

    def cry(self) -> list[float]:
        """A call of each of several packs; how long each takes to stand on the board, seconds."""
        took = []
        for count, identity in enumerate(CRIES, start=1):
            watch, until = self.watch(), time.monotonic() + PATIENCE_S
            self.packs.send(identity, distress=True)
            while self.cries() < count:
                assert time.monotonic() < until, "the call is on the board"
                self.look()
                time.sleep(0.005)
            took.append(watch.took_s())
        assert max(took) < CURRENT_S
        return took

    def cries(self) -> int:
        return sum(a.kind == "distress" for a in self.board.incident.picture().alarms)

    def close_order(self) -> None:
        """End the order that was given last."""
        act = CloseOrder(id=uuid.uuid4().hex, by="R. Harrow", order=self.orders, override="a trial")
        self.desk.ask(act, self.clock.boot_ns())
        self.live(0.05)

    def evacuate(self, within_s: float = PATIENCE_S) -> tuple[float, list[Answer]]:
        """Evacuate all; how long until the first copy is on the air, and what was answered."""
        act = GiveOrder(
            id=uuid.uuid4().hex, by="R. Harrow", order="evacuate", everybody=True,
            scope="everybody",
        )  # fmt: skip
        self.orders += 1
        self.packs.listen()
        self.packs.orders.clear()
        watch, began = self.watch(), time.monotonic()
        self.desk.ask(act, self.clock.boot_ns())
        heard = 0.0
        answers: list[Answer] = []
        while time.monotonic() - began < within_s and not (heard and answers):
            answers += self.desk.pump(self.clock.boot_ns())
            self.packs.listen()
            if self.packs.orders and not heard:
                heard = max(watch.took_s(), 0.001)
            time.sleep(0.002)
        assert 0 < heard < CURRENT_S, "the order is on the air"
        return heard, answers

    def end(self) -> None:
        self.board.close()
        self.desk.close()
        self.recorder.terminate()
        assert self.recorder.wait(PATIENCE_S) == Exit.OK, self.home.log_of(self.recorder)


@pytest.fixture
def trial(home: Home, journal: Path, port: int, packs: Packs, bad_disk: Path) -> Iterator[Trial]:
    yield from begun(home, journal, port, packs, bad_disk)


@pytest.fixture
def both(home: Home, journal: Path, port: int, packs: Packs, bad_disk: Path) -> Iterator[Trial]:
    """The second place is spoilt with the first."""
    too = {"BAD_DISK_TOO": str(home.runtime / "second")}
    yield from begun(home, journal, port, packs, bad_disk, too)


def begun(
    home: Home,
    journal: Path,
    port: int,
    packs: Packs,
    bad_disk: Path,
    too: Mapping[str, str] = MappingProxyType({}),
) -> Iterator[Trial]:
    sign = home.folder / "spoilt"
    recorder = home.start(
        "record", str(journal), "--link", f"udp:127.0.0.1:{port}", *OPENING,
        LD_PRELOAD=str(bad_disk), BAD_DISK=str(journal.parent), BAD_DISK_WHILE=str(sign),
        OUTBY_SPILL_FOLDER=str(home.runtime / "second"), **too,
    )  # fmt: skip
    wait_recording(journal)
    for identity in CRIES:
        prove(packs, identity)
    clock = Clock()
    client = DeskClient(unix_connect(desk.socket_path(journal)), "test", "R. Harrow")
    board = LiveFollower(Follower(journal), clock)
    made = Trial(home, journal, packs, sign, recorder, board, client, clock)
    wait_until(lambda: made.look() or client.holds, "the board has the desk")
    connect = Connect(id=uuid.uuid4().hex, by="R. Harrow", wearers=(1, 2))
    client.ask(connect, clock.boot_ns())
    made.taken()
    made.stands_s = 0.0
    yield made
    sign.unlink(missing_ok=True)
    board.close()
    client.close()


def told(journal: Path) -> str:
    """Every fact in the journal, as text."""
    return b"\n".join(data_of(journal, RowKind.FACT)).decode()


def frames_of(journal: Path) -> int:
    return len(data_of(journal, RowKind.FRAME))


@pytest.mark.parametrize(
    ("how", "state"),
    [
        ("freeze", "waiting"),
        ("slow 20", ""),
        (f"error {errno.EIO}", "failing"),
        (f"error {errno.ENOSPC}", "failing"),
        *(MORE if LONG else ()),
    ],
)
def test_whatever_the_disk_does_a_distress_and_an_evacuation_go_their_way(
    trial: Trial, how: str, state: str
) -> None:
    seconds = how != "slow 1"
    trial.spoil(how)
    trial.live(HANG_S / 2)
    calls = trial.cry()
    sent, answers = trial.evacuate()
    answers += trial.live(HANG_S / 2)
    if not any(isinstance(answer, Taken) for answer in answers):
        trial.taken()  # kept in the second place, though late
    assert not any(isinstance(answer, NotTaken) for answer in answers)
    if state:
        assert trial.board.incident.picture().disk == state
    print(
        f"{how}: calls on the board after {sorted(calls)[2] * 1e3:.0f} ms (worst "
        f"{max(calls) * 1e3:.0f}), order on the air after {sent * 1e3:.0f} ms, "
        f"the board stood for {trial.stands_s:.2f} s"
    )
    assert sorted(calls)[len(calls) // 2] < SOON_S
    assert trial.stands_s < CURRENT_S
    trial.sign.unlink()
    second = trial.home.runtime / "second"
    wait_until(
        lambda: trial.look() is not None and not list(second.iterdir()),
        "the second place is left",
    )
    trial.end()
    assert verify_digest(trial.journal) is None
    facts = told(trial.journal)
    assert not seconds or '"second_place","state":"in use"' in facts
    assert not state or f'"state":"{state}"' in facts
    # Two of each pack as it proved itself, and one call.
    assert frames_of(trial.journal) == 3 * len(CRIES)


def test_a_hang_of_some_seconds_or_ten_minutes_at_a_hundred_frames_a_second_loses_nothing(
    trial: Trial,
) -> None:
    def memory_mb() -> int:
        status = Path(f"/proc/{trial.recorder.pid}/status").read_text("ascii")
        return int(status.split("VmRSS:")[1].split()[0]) // 1_000

    trial.spoil("freeze")
    began, sent, before_mb = time.monotonic(), 0, memory_mb()
    while time.monotonic() - began < HANG_LONG_S:
        for identity in CRIES:
            trial.packs.send(identity)
            sent += 1
        trial.live(len(CRIES) / LONG_RATE)
    calls = trial.cry()
    print(
        f"{sent} frames in {HANG_LONG_S:.0f} s: {memory_mb() - before_mb} MB more, calls on the "
        f"board after {[round(call * 1e3) for call in calls]} ms, it stood for {trial.stands_s:.2f}"
    )
    assert trial.stands_s < CURRENT_S
    trial.sign.unlink()
    trial.live(10.0)
    trial.end()
    assert verify_digest(trial.journal) is None
    assert frames_of(trial.journal) == sent + 3 * len(CRIES)


def test_with_both_places_hung_the_board_goes_on_from_memory(both: Trial) -> None:
    both.spoil("freeze")
    both.live(HANG_S / 2)
    calls = both.cry()
    sent, answers = both.evacuate()
    answers += both.live(HANG_S / 2)
    print(
        f"both hung: calls after {sorted(calls)}, order after {sent:.3f} s, stood {both.stands_s}"
    )
    assert both.stands_s < CURRENT_S
    # In memory alone: the recorder has it and acts on it, and a loss of power would take it.
    assert {type(answer) for answer in answers} == {Held}
    assert both.board.incident.picture().disk == "waiting"
    both.sign.unlink()
    both.taken()
    both.end()
    assert verify_digest(both.journal) is None
    assert frames_of(both.journal) == 3 * len(CRIES)
    assert "memory alone" in told(both.journal)


def test_a_board_that_opens_on_a_dead_disk_says_so_and_comes_up_with_it(
    trial: Trial, screen: Screen, bad_disk: Path, tmp_path: Path
) -> None:
    sign = tmp_path / "dead"
    sign.write_text("hang")
    screen.open(
        80, 24, "watch", str(trial.journal), "--view",
        LD_PRELOAD=str(bad_disk), BAD_DISK=str(trial.journal.parent), BAD_DISK_WHILE=str(sign),
    )  # fmt: skip
    text = wait_shown(screen, "THE DISK DOES NOT ANSWER")
    assert "USE VOICE AND PAPER" in text
    sign.unlink()
    wait_shown(screen, "KILN LANE")
    sign.write_text("hang")
    trial.packs.send(101, distress=True)
    text = wait_shown(screen, "DISPLAY STOPPED", "does not answer")
    sign.unlink()
    wait_shown(screen, "DISTRESS")


def test_a_recorder_that_is_told_to_end_while_the_disk_hangs_loses_nothing(trial: Trial) -> None:
    trial.spoil("freeze")
    trial.live(0.1)
    trial.cry()
    for _ in range(5):
        note = Note(id=uuid.uuid4().hex, by="R. Harrow", text="radio check")
        trial.desk.ask(note, trial.clock.boot_ns())
    taken = trial.taken(5)
    trial.recorder.send_signal(signal.SIGTERM)
    time.sleep(0.5)
    trial.recorder.kill()
    trial.recorder.wait(PATIENCE_S)
    trial.sign.unlink()
    before = frames_of(trial.journal)
    again = trial.home.start(
        "record", str(trial.journal), "--link", f"udp:127.0.0.1:{trial.packs.port}",
        OUTBY_SPILL_FOLDER=str(trial.home.runtime / "second"),
    )  # fmt: skip
    wait_until(lambda: "merged" in told(trial.journal), "the second place is brought back")
    facts = told(trial.journal)
    acts = b" ".join(data_of(trial.journal, RowKind.ACT))
    assert all(one.encode() in acts for one in taken)
    assert frames_of(trial.journal) == 3 * len(CRIES) > before
    assert '"state":"merged"' in facts
    assert not list((trial.home.runtime / "second").iterdir())
    wait_until(lambda: "recording goes on" in trial.home.log_of(again), "it records again")
    again.terminate()
    assert again.wait(PATIENCE_S) == Exit.OK, trial.home.log_of(again)
    assert verify_digest(trial.journal) is None


def removed(journal: Path) -> None:
    journal.with_name(journal.name + "-wal").unlink()


def cut(journal: Path) -> None:
    os.truncate(journal.with_name(journal.name + "-wal"), 0)


def deleted(journal: Path) -> None:
    journal.unlink()


@pytest.mark.parametrize("lose", [removed, cut, deleted])
def test_files_lost_under_the_recorder_cost_nothing(
    trial: Trial, lose: Callable[[Path], None]
) -> None:
    lose(trial.journal)
    wait_until(
        lambda: trial.look() is not None and trial.board.incident.picture().disk == "gone",
        "the loss is told",
    )
    trial.cry()
    trial.live(1.0)
    assert trial.stands_s < CURRENT_S
    trial.end()
    again = trial.home.start(
        "record", str(trial.journal), "--link", f"udp:127.0.0.1:{trial.packs.port}",
        OUTBY_SPILL_FOLDER=str(trial.home.runtime / "second"),
    )  # fmt: skip
    wait_until(lambda: "recording goes on" in trial.home.log_of(again), "it records again")
    again.terminate()
    assert again.wait(PATIENCE_S) == Exit.OK, trial.home.log_of(again)
    assert verify_digest(trial.journal) is None
    assert frames_of(trial.journal) == 3 * len(CRIES)


def test_the_board_says_since_when_and_is_not_stopped(trial: Trial, screen: Screen) -> None:
    screen.open(80, 24, "watch", str(trial.journal), "--view")
    wait_shown(screen, "KILN LANE")
    trial.spoil("freeze")
    text = wait_shown(screen, "NOT ON DISK SINCE")
    assert "DISPLAY STOPPED" not in text
    trial.packs.send(101, distress=True)
    text = wait_shown(screen, "DISTRESS")
    assert "NOT ON DISK SINCE" in text
    assert "DISPLAY STOPPED" not in text
    print(text)
    screen.resize(120, 40)
    print(wait_shown(screen, "NOT ON DISK SINCE", "DISTRESS"))
