"""The recorder under kill, stop and start: nothing is lost that was shown as taken."""

import signal
import stat
import time
import uuid
from pathlib import Path

from monitor import desk
from monitor.clock import Clock
from monitor.desk import Taken
from monitor.desk_client import Answer, DeskClient, unix_connect
from monitor.errors import Exit
from monitor.incident.events import Act, Connect, Note
from monitor.incident.orders.events import GiveOrder
from monitor.incident.rows import RowKind
from monitor.journal.verify import verify_digest
from protocol import codec
from protocol.packets import Report
from tests.functional.conftest import (
    OPENING,
    Home,
    data_of,
    folded,
    horizon,
    kill,
    prove,
    wait_recording,
)
from tests.functional.packs import Packs
from tests.functional.patience import PATIENCE_S, wait_until


def opening(journal: Path, port: int) -> tuple[str, ...]:
    return ("record", str(journal), "--link", f"udp:127.0.0.1:{port}", *OPENING)


def going_on(journal: Path, port: int) -> tuple[str, ...]:
    return ("record", str(journal), "--link", f"udp:127.0.0.1:{port}")


def sequences_kept(journal: Path, identity: int) -> list[int]:
    """Sequence numbers of one pack's frames in the journal, in the journal's order."""
    heard = (codec.decode_trusted(frame) for frame in data_of(journal, RowKind.FRAME))
    return [p.sequence for p in heard if isinstance(p, Report) and p.identity == identity]


def test_frames_sent_are_frames_kept(home: Home, journal: Path, port: int, packs: Packs) -> None:
    recorder = home.start(*opening(journal, port))
    wait_recording(journal)
    for _ in range(500):
        packs.send(101)
    wait_until(lambda: sequences_kept(journal, 101) == list(range(1, 501)), "500 frames kept")
    recorder.terminate()
    assert recorder.wait(PATIENCE_S) == Exit.OK, home.log_of(recorder)
    assert verify_digest(journal) is None
    assert stat.S_IMODE(journal.stat().st_mode) == 0o600


def test_one_journal_has_one_recorder(home: Home, journal: Path, port: int) -> None:
    home.start(*opening(journal, port))
    wait_recording(journal)
    second = home.run(*going_on(journal, port))
    assert second.returncode == Exit.BUSY
    assert second.stderr.startswith("outby: ")
    assert second.stderr.count("\n") == 1


def test_what_was_shown_as_taken_survives_kill_9(home: Home, journal: Path, port: int) -> None:
    """Notes are asked as fast as they are answered; the recorder dies in the middle, five times."""
    clock = Clock()
    taken: list[str] = []
    recorder = home.start(*opening(journal, port))
    wait_recording(journal)
    client = DeskClient(unix_connect(desk.socket_path(journal)), "test-board", "R. Harrow")
    for death in range(1, 6):
        wanted = len(taken) + 40 * death
        asked = 0
        deadline = time.monotonic() + PATIENCE_S
        while len(taken) < wanted and time.monotonic() < deadline:
            answers = client.pump(clock.boot_ns())
            new = [answer.id for answer in answers if isinstance(answer, Taken)]
            taken += new
            asked -= len(answers)
            if client.holds and asked < 8:
                note = Note(id=uuid.uuid4().hex, by="R. Harrow", text=f"note {len(taken)}")
                client.ask(note, clock.boot_ns())
                asked += 1
        assert len(taken) >= wanted, (client.fault, home.log_of(recorder))
        recorder.kill()
        recorder.wait(PATIENCE_S)
        kept = b"\n".join(data_of(journal, RowKind.ACT)).decode()
        assert [note for note in taken if note not in kept] == []
        assert verify_digest(journal) is None
        recorder = home.start(*going_on(journal, port))
        wait_recording(journal)
    client.close()


def test_an_evacuation_goes_on_after_kill_9_under_the_same_numbers(
    home: Home, journal: Path, port: int, packs: Packs
) -> None:
    """Two of the roster are told to get out and one has answered when the recorder is killed."""
    recorder = home.start(*opening(journal, port))
    wait_recording(journal)
    client = DeskClient(unix_connect(desk.socket_path(journal)), "test-board", "R. Harrow")
    for identity in (101, 102):
        prove(packs, identity)
    do(client, Connect(id=uuid.uuid4().hex, by="R. Harrow", wearers=(1, 2)))
    out = {"order": "evacuate", "everybody": True, "scope": "everybody"}
    do(client, GiveOrder.model_validate({"id": uuid.uuid4().hex, "by": "R. Harrow"} | out))
    wait_until(lambda: told(packs) == {101, 102}, "both are told")
    before = {(order.identity, order.order) for order in packs.orders}
    packs.answered[101] = (1, 1)
    packs.send(101)
    wait_until(lambda: folded(journal).orders[0].acknowledged == 1, "one has answered")
    recorder.kill()
    recorder.wait(PATIENCE_S)
    client.close()
    packs.listen()
    packs.orders.clear()
    home.start(*going_on(journal, port))
    wait_recording(journal)
    wait_until(lambda: told(packs) == {102}, "the other is told again")
    packs.answered[102] = (1, 0)
    packs.send(102)
    wait_until(lambda: folded(journal).orders[0].received == 2, "it has received")
    assert {(order.identity, order.order) for order in packs.orders} == before - {(101, 1)}
    assert folded(journal).orders[0].is_open


def told(packs: Packs) -> set[int]:
    """Packs that an order has come for, while all of them go on reporting."""
    for identity in (101, 102):
        packs.send(identity)
    packs.listen()
    return {order.identity for order in packs.orders}


def do(client: DeskClient, act: Act) -> None:
    """Have the recorder take an act."""
    clock = Clock()
    wait_until(lambda: client.pump(clock.boot_ns()) is not None and client.holds, "the board holds")
    client.ask(act, clock.boot_ns())
    answers: list[Answer] = []

    def answered() -> bool:
        answers.extend(client.pump(clock.boot_ns()))
        return bool(answers)

    wait_until(answered, "an answer")
    assert [type(answer) for answer in answers] == [Taken]


def test_a_stopped_recorder_loses_nothing_and_blames_no_pack(
    home: Home, journal: Path, port: int, packs: Packs
) -> None:
    recorder = home.start(*opening(journal, port))
    wait_recording(journal)
    prove(packs, 101)
    kill(recorder.pid, signal.SIGSTOP)
    stopped = time.monotonic()
    before = horizon(journal)
    while time.monotonic() < stopped + 5:
        packs.send(101)
        time.sleep(0.1)
    assert horizon(journal) == before
    kill(recorder.pid, signal.SIGCONT)
    sent = packs.sequences[101]
    wait_until(lambda: sequences_kept(journal, 101) == list(range(1, sent + 1)), "all kept")
    told = b'"stall"'
    wait_until(lambda: told in b"".join(data_of(journal, RowKind.FACT)), "the stall is kept")
    assert all("signal" not in alarm.kind for alarm in folded(journal).alarms)


def test_a_terminal_that_goes_away_does_not_end_recording(
    home: Home, journal: Path, port: int
) -> None:
    recorder = home.start(*opening(journal, port))
    wait_recording(journal)
    kill(recorder.pid, signal.SIGHUP)
    wait_recording(journal)
    assert recorder.poll() is None


def test_a_busy_port_is_one_line(home: Home, journal: Path, port: int) -> None:
    home.start(*opening(journal, port))
    wait_recording(journal)
    second = home.run(*opening(journal.with_name("two.journal"), port))
    assert (second.returncode, second.stderr.count("\n")) == (Exit.LINK, 1)
    assert str(port) in second.stderr
