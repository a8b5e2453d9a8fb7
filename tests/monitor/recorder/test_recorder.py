"""The recorder as it runs: real sockets, a real journal, the real clock.

No test waits for anything but what must come.
"""

import asyncio
import contextlib
import logging
import socket
import threading
from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from pathlib import Path
from typing import Any

import pytest

from monitor import desk, keyfile
from monitor.clock import Clock, Stamp
from monitor.desk import Ask, Hello, NotTaken, Role, Stop, Stopping, Taken
from monitor.errors import BadFile, BadJournal, BadUsage, Busy, LinkFailed
from monitor.follower import Follower
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.events import Close, Connect
from monitor.incident.picture import Priority
from monitor.incident.rows import RowKind, Standing
from monitor.journal import signing
from monitor.journal.ballast import ballast_path
from monitor.journal.connection import DiskFull
from monitor.journal.reader import JournalReader
from monitor.journal.sealing import Sealed
from monitor.journal.verify import examine, verify_digest
from monitor.journal.writer import CHECKPOINT_BYTES_MIN, JournalWriter
from monitor.links.chunk import Chunk
from monitor.recorder.launch import Launch
from monitor.recorder.recorder import Recorder
from monitor.settings import Settings
from protocol.codec import decode
from protocol.packets import Beacon, Order

WAIT_S = 10.0


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


@pytest.fixture(autouse=True)
def runtime_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    return Settings(
        name="Kiln Lane", officer="R. Harrow", use="exercise", procedure="plain",
        roster="kiln-lane", links=(f"udp:127.0.0.1:{free_port()}",), sound="off",
        incidents_folder=str(tmp_path),
    )  # fmt: skip


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    return tmp_path / "kiln.journal"


class Board:
    """One end of the desk."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.reader, self.writer = reader, writer

    def say(self, message: desk.UpMessage) -> None:
        self.writer.write(desk.line(message))

    async def told(self) -> desk.DownMessage | str:
        return desk.read_down(await self.reader.readline())

    async def ask(self, act: Any) -> desk.DownMessage | str:
        self.say(Ask(act=act, asked_boot_ns=Clock().boot_ns()))
        return await self.told()


@pytest.fixture
async def sit(journal: Path) -> AsyncIterator[Callable[..., Awaitable[Board]]]:
    boards: list[Board] = []

    async def sit(name: str = "one") -> Board:
        boards.append(Board(*await asyncio.open_unix_connection(desk.socket_path(journal))))
        boards[-1].say(Hello(board=name, by="R. Harrow"))
        return boards[-1]

    yield sit
    for board in boards:
        board.writer.close()
        with contextlib.suppress(ConnectionError):
            await board.writer.wait_closed()


async def running(recorder: Recorder) -> "asyncio.Task[None]":
    ready = asyncio.Event()
    task = asyncio.create_task(recorder.run(ready.set))
    waiting = asyncio.create_task(ready.wait())
    await asyncio.wait({task, waiting}, return_when=asyncio.FIRST_COMPLETED)
    waiting.cancel()
    return task


async def test_from_opening_to_closing(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.begin())
            board = await sit()
            role = await board.told()
            assert isinstance(role, Role)
            assert role.holder
            assert await board.ask(make.note()) == Taken(id="note-0001")
            other = await sit("two")
            assert isinstance(await other.told(), Role)
            board.say(Stop(by="R. Harrow"))
            assert await board.told() == Stopping()
            assert await other.told() == Stopping()
            await task
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.resume())
            board = await sit()
            await board.told()
            assert await board.ask(make.note()) == Taken(id="note-0001")
            close = Close(id="close-0001", by="R. Harrow")
            assert await board.ask(close) == Taken(id="close-0001")
            await task
    assert not journal.with_name(journal.name + "-wal").exists()
    with Launch(journal, settings, Clock()) as launch, pytest.raises(BadJournal, match="closed"):
        launch.resume()
    follower = Follower(journal)
    while follower.poll():
        pass
    picture = follower.picture()
    assert picture.closed
    assert len(picture.wearers) == 8


async def test_a_pack_is_heard_answered_and_proven(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    port = int(settings.links[0].rsplit(":", 1)[1])
    pack = make.pack(None)
    loop = asyncio.get_running_loop()
    async with asyncio.timeout(WAIT_S):
        with (
            Launch(journal, settings, Clock()) as launch,
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as radio,
        ):
            radio.setblocking(False)
            task = await running(launch.begin())
            await loop.sock_sendto(radio, pack.frame(pack.started_ns), ("127.0.0.1", port))
            data, _ = await loop.sock_recvfrom(radio, 512)
            beacon = decode(data)
            assert isinstance(beacon, Beacon)
            pack.beacon = beacon.value
            await loop.sock_sendto(radio, pack.frame(pack.started_ns), ("127.0.0.1", port))
            board = await sit()
            await board.told()
            await board.ask(make.note())
            launch.recorder.stop()
            await task
    with JournalReader(journal) as reader:
        rows = reader.read(0).rows
    frames = [row.standing for row in rows if row.kind == 1]
    assert frames == [Standing.NOT_PROVEN, Standing.LIVE]


async def test_a_second_recorder_is_refused(journal: Path, settings: Settings) -> None:
    with Launch(journal, settings, Clock()), pytest.raises(Busy):
        Launch(journal, settings, Clock())


async def test_a_board_that_looks_on_may_neither_act_nor_stop(
    journal: Path, settings: Settings, make: Any, sit: Any, caplog: pytest.LogCaptureFixture
) -> None:
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.begin())
            one = await sit()
            await one.told()
            two = await sit("two")
            role = await two.told()
            assert isinstance(role, Role)
            assert not role.holder
            two.say(Stop(by="somebody"))
            answer = await two.ask(make.note())
            assert isinstance(answer, NotTaken)
            assert f"act {answer.id} not taken: {answer.why}" in caplog.text
            one.writer.close()
            assert isinstance(await two.told(), Role)
            launch.recorder.stop()
            await task


async def test_what_the_table_of_alarm_states_refuses_is_logged(
    journal: Path, settings: Settings, make: Any, sit: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """Acts are checked before; so only a fault of the fold gets there, and it must be seen."""
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.begin())
            situation = launch.recorder._sequencer.incident._s
            assert situation is not None
            situation.engine.put(Key(Kind.DISTRESS), situation.now, condition=True)
            situation.engine.reset(1, situation.now)
            board = await sit()
            await board.told()
            await board.ask(make.note())
            launch.recorder.stop()
            await task
    assert "alarm 1, distress: 'reset' refused while 'unacknowledged', t " in caplog.text


async def test_a_flood_is_taken_whole_and_in_order(
    journal: Path, settings: Settings, make: Any
) -> None:
    pack = make.pack(None)
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            recorder = launch.begin()
            at = Clock().stamp()
            stamps = [Stamp(at.boot_ns + n * 200_000, at.wall_ns) for n in range(5_500)]
            frames = [pack.frame(pack.started_ns + n * 200_000) for n in range(5_500)]
            burst = [
                Chunk(1, stamp, ("127.0.0.1", 9), frame)
                for stamp, frame in zip(stamps, frames, strict=True)
            ]
            launch.links.inbox.put(1, burst)
            task = await running(recorder)
            recorder.stop()
            await task
    with JournalReader(journal) as reader:
        rows = reader.read(0).rows + reader.read(2_000).rows + reader.read(4_000).rows
    assert sum(row.kind == 1 for row in rows) == 5_500
    assert [row.t for row in rows] == sorted(row.t for row in rows)


async def test_a_board_is_answered_and_a_known_pack_heard_in_the_middle_of_a_flood(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    """Many datagrams of nobody wait; then a pack of the board calls, and an act is asked for.

    There are always more of them, however fast a machine is.
    """
    loop, pouring = asyncio.get_running_loop(), True
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            recorder = launch.begin()
            task = await running(recorder)
            board = await sit()
            await board.told()
            pack = make.pack(None, min(recorder._sequencer.incident.joined_packs))
            source, at = ("127.0.0.1", 9), Clock().stamp()
            strange = make.pack(None, 9_000)
            flood = [Chunk(1, at, source, strange.frame(at.boot_ns)[:-1] + b"x")] * 40_000

            def pour() -> None:
                if pouring:
                    launch.links.inbox.put(1, flood)
                    loop.call_soon(pour)

            pour()
            call = pack.frame(pack.started_ns, distress=True)
            launch.links.inbox.put(1, [Chunk(1, Clock().stamp(), source, call)])
            await board.ask(make.note())
            assert recorder._waiting.others > 0
            picture = recorder._sequencer.incident.picture()
            assert "unproven_distress" in {alarm.kind for alarm in picture.alarms}
            pouring = False
            recorder.stop()
            await task
    assert sum(row.kind == 1 for row in JournalReader(journal).read(0).rows) == 1


class DiskThatFails(JournalWriter):
    """Refuses some commits, then takes them again."""

    refusals = 0

    def write(self, batches: Sequence[Sealed]) -> None:
        if self.refusals:
            self.refusals -= 1
            raise BadJournal("the disk is full", str(self.path), "free some space")
        super().write(batches)


async def test_a_disk_that_fails_for_a_while_loses_nothing(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            recorder = launch.begin()
            recorder._places._writer.__class__ = DiskThatFails
            recorder._places._writer.refusals = 2  # type: ignore[attr-defined]
            task = await running(recorder)
            board = await sit()
            assert isinstance(await board.told(), Role)
            assert await board.ask(make.note()) == Taken(id="note-0001")
            recorder.stop()
            await task
    with JournalReader(journal) as reader:
        rows = reader.read(0).rows
    assert sum(b'"what":"opened"' in row.data for row in rows) == 1


class Ear(logging.Handler):
    """Hears a word in what the recorder sounds."""

    def __init__(self, word: str) -> None:
        super().__init__()
        self.word, self.heard = word, asyncio.Event()

    def emit(self, record: logging.LogRecord) -> None:
        if self.word in record.getMessage():
            self.heard.set()


class DiskThatIsFull(JournalWriter):
    """Has no room as long as the reserve beside it is there."""

    def write(self, batches: Sequence[Sealed]) -> None:
        if ballast_path(self.path).exists():
            raise DiskFull("the disk is full", str(self.path), "free some space")
        super().write(batches)


async def test_a_full_disk_is_given_the_reserve_and_recording_goes_on(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    # A free disk takes the reserve again once there is room, so this one must not look for it.
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            recorder = launch.begin()
            ballast = recorder._places.journal._ballast
            assert ballast is not None
            assert ballast.take()
            recorder._places._writer.__class__ = DiskThatIsFull
            ballast.take_again = lambda: False  # type: ignore[method-assign]
            task = await running(recorder)
            board = await sit()
            await board.told()
            assert await board.ask(make.note()) == Taken(id="note-0001")
            recorder.stop()
            await task
    assert not ballast_path(journal).exists()
    follower = Follower(journal)
    while follower.poll():
        pass
    (alarm,) = [a for a in follower.picture().alarms if a.kind == "disk"]
    assert (alarm.priority, alarm.word) == (Priority.DANGER, "DISK")
    assert follower.picture().disk == "full"


async def test_a_journal_that_vanishes_is_a_danger(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    ear = Ear("alarm 1: DISK")
    logging.getLogger("monitor.recorder.recorder").addHandler(ear)
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            recorder = launch.begin()
            task = await running(recorder)
            journal.rename(journal.with_name("elsewhere"))  # noqa: ASYNC240 - a rename is quick
            await ear.heard.wait()
            recorder.stop()
            await task
    logging.getLogger("monitor.recorder.recorder").removeHandler(ear)


class DiskThatHangs(JournalWriter):
    """Begins a checkpoint at the first look, and has it hang until it is let go."""

    def wal_bytes(self) -> int:
        return CHECKPOINT_BYTES_MIN

    def checkpoint_if_quiet(self) -> bool:
        LET_GO.wait(WAIT_S)
        return True


LET_GO = threading.Event()


async def test_no_frame_and_no_alarm_waits_for_a_checkpoint(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    port = int(settings.links[0].rsplit(":", 1)[1])
    pack = make.pack(None)
    loop = asyncio.get_running_loop()
    LET_GO.clear()
    ear = Ear("DISTRESS")
    logging.getLogger("monitor.recorder.recorder").addHandler(ear)
    async with asyncio.timeout(WAIT_S):
        with (
            Launch(journal, settings, Clock()) as launch,
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as radio,
        ):
            radio.setblocking(False)
            recorder = launch.begin()
            recorder._places._writer.__class__ = DiskThatHangs
            task = await running(recorder)
            await loop.sock_sendto(radio, pack.frame(pack.started_ns), ("127.0.0.1", port))
            data, _ = await loop.sock_recvfrom(radio, 512)
            beacon = decode(data)
            assert isinstance(beacon, Beacon)
            pack.beacon = beacon.value
            call = pack.frame(pack.started_ns, distress=True)
            await loop.sock_sendto(radio, call, ("127.0.0.1", port))
            await ear.heard.wait()
            with JournalReader(journal) as reader:
                assert all(row.kind is not RowKind.FRAME for row in reader.read(0).rows)
            LET_GO.set()
            board = await sit()
            await board.told()
            assert await board.ask(make.note()) == Taken(id="note-0001")
            recorder.stop()
            await task
    with JournalReader(journal) as reader:
        assert sum(row.kind is RowKind.FRAME for row in reader.read(0).rows) == 2
    logging.getLogger("monitor.recorder.recorder").removeHandler(ear)


class DiskThatWaits(JournalWriter):
    """Takes a commit with an order in it only once that order was heard on the air."""

    heard = threading.Event()
    took_in_time = False

    def write(self, batches: Sequence[Sealed]) -> None:
        if any(b"give_order" in data for one in batches for data in one.rows.data):
            type(self).took_in_time = self.heard.wait(WAIT_S)
        super().write(batches)


async def test_no_order_waits_for_the_disk(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    """The act is answered only after the commit, and the commit waits for the order on the air."""
    loop = asyncio.get_running_loop()
    port = int(settings.links[0].rpartition(":")[2])
    pack = make.pack(None)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as radio:
        radio.bind(("127.0.0.1", 0))
        radio.settimeout(WAIT_S)

        def say(**fields: object) -> None:
            radio.sendto(pack.frame(pack.started_ns, **fields), ("127.0.0.1", port))

        def listen(kind: type) -> Any:
            while not isinstance(packet := decode(radio.recv(256)), kind):
                pass
            return packet

        def obey() -> int:
            number: int = listen(Order).order
            DiskThatWaits.heard.set()
            return number

        async with asyncio.timeout(2 * WAIT_S):
            with Launch(journal, settings, Clock()) as launch:
                recorder = launch.begin()
                recorder._places._writer.__class__ = DiskThatWaits
                task = await running(recorder)
                board = await sit()
                await board.told()
                say()
                pack.beacon = (await loop.run_in_executor(None, listen, Beacon)).value
                say()
                connect = {"id": "connect-01", "by": "R. Harrow", "wearers": (1,)}
                assert await board.ask(Connect.model_validate(connect)) == Taken(id="connect-01")
                ear = loop.run_in_executor(None, obey)
                assert await board.ask(make.evacuate()) == Taken(id="order-001")
                assert await ear == 1
                recorder.stop()
                await task
    assert DiskThatWaits.took_in_time


HUNG_S = 2.75 + 2.0
"""When a player that hangs in the danger tone is given up."""


async def test_no_alarm_and_no_commit_waits_for_a_player_that_hangs(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    hangs = journal.with_name("player")
    hangs.write_text("#!/bin/sh\nexec sleep 60\n")
    hangs.chmod(0o700)
    port = int(settings.links[0].rsplit(":", 1)[1])
    loop = asyncio.get_running_loop()
    ear = Ear("DISTRESS")
    logging.getLogger("monitor.recorder.recorder").addHandler(ear)
    async with asyncio.timeout(WAIT_S):
        with (
            Launch(journal, changed(settings, sound=str(hangs)), Clock()) as launch,
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as radio,
        ):
            radio.setblocking(False)
            task = await running(launch.begin())
            began_s = loop.time()
            for identity in range(101, 111):
                pack = make.pack(None, identity)
                for _ in range(2):
                    await loop.sock_sendto(
                        radio, pack.frame(pack.started_ns, distress=True), ("127.0.0.1", port)
                    )
            await ear.heard.wait()
            board = await sit()
            await board.told()
            assert await board.ask(make.note()) == Taken(id="note-0001")
            assert loop.time() - began_s < HUNG_S / 2
            launch.recorder.stop()
            await task
    logging.getLogger("monitor.recorder.recorder").removeHandler(ear)
    with JournalReader(journal) as reader:
        rows = reader.read(0).rows
    assert sum(row.kind is RowKind.FRAME for row in rows) == 20
    assert sum(b'"what":"sound_state","state":"player"' in row.data for row in rows) == 1


def test_a_sound_that_makes_no_sense_is_said_before_a_file_is_made(
    journal: Path, settings: Settings
) -> None:
    with pytest.raises(BadUsage, match="sound"):
        Launch(journal, changed(settings, sound="play '"), Clock())
    assert not journal.exists()


async def test_a_machine_without_a_player_records_and_says_so(
    journal: Path, settings: Settings
) -> None:
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, changed(settings, sound="no-such-player"), Clock()) as launch:
            task = await running(launch.begin())
            launch.recorder.stop()
            await task
    follower = Follower(journal)
    while follower.poll():
        pass
    (alarm,) = follower.picture().alarms
    assert (alarm.word, alarm.detail) == ("NO SOUND", "not found: no-such-player")
    assert follower.picture().sound == "missing"


async def test_what_nobody_foresaw_ends_the_process_and_loses_no_row(
    journal: Path, settings: Settings, make: Any, sit: Any
) -> None:
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            recorder = launch.begin()
            task = await running(recorder)
            board = await sit()
            await board.told()
            await board.ask(make.note())

            def fail() -> None:
                raise ZeroDivisionError

            asyncio.get_running_loop().call_soon(fail)
            with pytest.raises(ZeroDivisionError):
                await task
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.resume())
            board = await sit()
            await board.told()
            assert await board.ask(make.note()) == Taken(id="note-0001")
            launch.recorder.stop()
            await task


# ---------------------------------------------------------------- what is refused at the start


def changed(settings: Settings, **more: object) -> Settings:
    return settings.model_copy(update=more)


def test_a_link_that_makes_no_sense_is_said_before_a_file_is_made(
    journal: Path, settings: Settings
) -> None:
    with pytest.raises(BadUsage):
        Launch(journal, changed(settings, links=("radio:7",)), Clock())
    assert not journal.exists()


def test_a_port_in_use_is_said_before_a_journal_is_made(journal: Path, settings: Settings) -> None:
    port = int(settings.links[0].rsplit(":", 1)[1])
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as there:
        there.bind(("127.0.0.1", port))
        with Launch(journal, settings, Clock()) as launch, pytest.raises(LinkFailed):
            launch.begin()
    assert not journal.exists()


@pytest.mark.parametrize(
    ("more", "error"),
    [({"procedure": "no-such"}, BadFile), ({"roster": "no-such"}, BadFile)],
)
def test_a_file_that_is_not_there_is_said(
    journal: Path, settings: Settings, more: dict[str, str], error: type[Exception]
) -> None:
    with Launch(journal, changed(settings, **more), Clock()) as launch, pytest.raises(error):
        launch.begin()


@pytest.fixture
def key_of(tmp_path: Path) -> Callable[[Any], str]:
    def make_key(use: Any) -> str:
        path = tmp_path / f"{use}.key"
        keyfile.create(path, use)
        return str(path)

    return make_key


def test_a_real_key_is_not_used_for_an_exercise(
    journal: Path, settings: Settings, key_of: Any
) -> None:
    keyed = changed(settings, key=key_of("real"))
    with Launch(journal, keyed, Clock()) as launch, pytest.raises(BadFile, match="use real"):
        launch.begin()


async def test_a_keyed_incident_has_a_digest_that_only_the_key_file_makes(
    journal: Path, settings: Settings, key_of: Any, tmp_path: Path
) -> None:
    """Over a stop, a change of epoch and a start; then nobody without the file can check it."""
    keyed = changed(settings, key=key_of("exercise"))
    key_file = tmp_path / "exercise.key"
    async with asyncio.timeout(WAIT_S):
        for way in ("begin", "resume"):
            with Launch(journal, keyed, Clock()) as launch:
                task = await running(getattr(launch, way)())
                launch.recorder.stop()
                await task
                assert not launch.recorder.closed
            keyfile.next_epoch(key_file)
    with JournalReader(journal) as reader:
        assert reader.header().digest == "keyed"
    assert verify_digest(journal, keyfile.journal_key(key_file)) is None
    assert examine(journal).unproved


async def test_a_signed_incident_is_proved_to_its_close_by_the_public_key_alone(
    journal: Path, settings: Settings, key_of: Any, make: Any, sit: Any, tmp_path: Path
) -> None:
    """Over a stop and a start: all but the row of the last signature itself."""
    keyed = changed(settings, key=key_of("exercise"))
    keyfile.add_signing_key(tmp_path / "exercise.key")
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, keyed, Clock()) as launch:
            task = await running(launch.begin())
            launch.recorder.stop()
            await task
        stopped = examine(journal)
        with Launch(journal, keyed, Clock()) as launch:
            task = await running(launch.resume())
            board = await sit()
            await board.told()
            await board.ask(Close(id="close-0001", by="R. Harrow"))
            await task
            assert launch.recorder.closed
    closed = examine(journal)
    for found in (stopped, closed):
        assert (found.fault, found.unproved) == (None, True)
        assert found.last is not None
        assert found.signed is not None
        assert found.signed.last_row == found.last.last_row - 1
    public = signing.public_of(keyfile.signing_key(tmp_path / "exercise.key"))
    assert closed.header.signer == public.hex()
    assert not journal.with_name(journal.name + "-wal").exists()
    follower = Follower(journal)
    while follower.poll():
        pass
    assert follower.picture().closed


async def test_a_key_file_from_before_journal_keys_gives_an_open_digest(
    journal: Path, settings: Settings, tmp_path: Path
) -> None:
    """The incident goes on with an open digest even once the file has a journal key."""
    old = tmp_path / "old.key"
    old.write_text(f'use = "exercise"\ncurrent = 1\n[keys]\n1 = "{"ab" * 32}"\n', "utf-8")
    old.chmod(0o600)
    keyed = changed(settings, key=str(old))
    async with asyncio.timeout(WAIT_S):
        for way in ("begin", "resume"):
            with Launch(journal, keyed, Clock()) as launch:
                task = await running(getattr(launch, way)())
                launch.recorder.stop()
                await task
            if way == "begin":
                keyfile.add_journal_key(old)
    assert verify_digest(journal) is None


def test_a_damaged_memory_is_said(journal: Path, settings: Settings) -> None:
    (journal.parent / "base-exercise.json").write_text("{")
    with Launch(journal, settings, Clock()) as launch, pytest.raises(BadFile, match="memory"):
        launch.begin()


async def test_an_incident_goes_on_without_the_bases_memory(
    journal: Path, settings: Settings, caplog: pytest.LogCaptureFixture
) -> None:
    memory = journal.parent / "base-exercise.json"
    async with asyncio.timeout(WAIT_S):
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.begin())
            launch.recorder.stop()
            await task
        memory.write_text("{")
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.resume())
            launch.recorder.stop()
            await task
        assert "the base's memory" in caplog.text
        # In place of the file something that cannot be replaced: as on a disk that is full.
        memory.unlink()
        memory.mkdir()
        with Launch(journal, settings, Clock()) as launch:
            task = await running(launch.resume())
            launch.recorder.stop()
            await task


def test_a_folder_that_cannot_be_made_is_said(tmp_path: Path, settings: Settings) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(BadJournal, match="folder"):
        Launch(tmp_path / "file" / "kiln.journal", settings, Clock())
