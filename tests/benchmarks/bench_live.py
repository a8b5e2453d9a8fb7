"""Figures of the whole program as it runs, each beside what it must reach and what it aims at.

All traffic is on this machine's loopback, all loads end by themselves.
"""

import socket
import sqlite3
import statistics
import threading
import time
from bisect import bisect_left
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from monitor.clock import Clock
from monitor.journal.reader import JournalReader
from protocol import codec
from tests.benchmarks import floors
from tests.benchmarks.frames import report
from tests.benchmarks.live import Home, Terminal, cpu_s, home, memory_mb, recorder, wait_until
from tests.benchmarks.measuring import Figure
from tests.functional.packs import Packs

HOST = "127.0.0.1"
RATES = (20_000, 40_000, 60_000, 80_000, 100_000, 120_000)
"""Frames a second that are tried, until some are lost."""
FLOOD_S = 4.0
ALARMS = 800
HANGS_AT = 100
ALARM_PAUSE_S = 0.1
PACKS = (500, 1_000)
HUNG_S = 60.0
SAMPLES = 12
KEYS = 60
LOOK_S = 8.0
JUNK_A_SECOND = 50_000
S = 1_000_000_000


def port() -> int:
    """A UDP port nobody uses now."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


def percentile(values: list[float], share: float) -> float:
    """The value that so great a share of all does not exceed."""
    ordered = sorted(values)
    return ordered[min(len(ordered) - 1, int(share * len(ordered)))]


# ---------------------------------------------------------------- a flood


def frames_kept(journal: Path) -> int:
    """Frames in a journal so far."""
    with JournalReader(journal) as reader:
        kept, row, complete = 0, 0, False
        while not complete:
            step = reader.read(row)
            kept += sum(r.kind == 1 for r in step.rows)
            row, complete = step.last_row, step.complete
    return kept


def flood() -> Iterator[Figure]:
    """The highest rate at which the recorder, on one core, journals every frame."""
    best = 0
    for rate in RATES:
        count = int(rate * FLOOD_S)
        with home() as where:
            to = port()
            journal, _ = recorder(where, to, core=0)
            made = _live_frames(to, count)
            before = frames_kept(journal)
            _send_at(made, to, rate)
            deadline = time.monotonic() + 4
            while frames_kept(journal) < before + count and time.monotonic() < deadline:
                time.sleep(0.2)
            if frames_kept(journal) < before + count:
                break
        best = rate
    yield Figure(
        "UDP to journal on one core, none lost", best, "/s", 40_000, 100_000,
        floors.receive_a_second(), "a bare receive loop", more=True,
    )  # fmt: skip


def _live_frames(to: int, count: int) -> list[bytes]:
    """Frames of a thousand packs that have heard the base's beacon."""
    one = Packs(to)
    one.send(5_000)
    beacon = wait_until(one.listen, "a beacon")
    one.close()
    made = []
    for number in range(count):
        packet = report(number % 1_000 + 1, number // 1_000 + 1, keyed=False)
        packet.beacon_heard = beacon
        made.append(codec.encode(packet, None))
    return made


def _send_at(made: list[bytes], to: int, rate: int) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as wire:
        wire.connect((HOST, to))
        start, burst = time.perf_counter(), max(1, rate // 500)
        for at in range(0, len(made), burst):
            for frame in made[at : at + burst]:
                wire.send(frame)
            ahead = start + at / rate - time.perf_counter()
            if ahead > 0:
                time.sleep(ahead)


# ---------------------------------------------------------------- alarms


@contextmanager
def traffic(to: int, packs: int) -> Iterator[Packs]:
    """So many packs at 1 Hz, from a thread."""
    sender, stop = Packs(to), threading.Event()

    def run() -> None:
        while not stop.is_set():
            start = time.monotonic()
            for identity in range(1, packs + 1):
                sender.send(identity)
                ahead = start + identity / packs - time.monotonic()
                if ahead > 0 and stop.wait(ahead):
                    return

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        yield sender
    finally:
        stop.set()
        thread.join(timeout=5)
        sender.close()


def call(to: int, identity: int) -> int:
    """A pack nobody knows signs on in distress; when, by the boot clock."""
    packet = report(identity, 1, keyed=False)
    packet.distress = True
    frame = codec.encode(packet, None)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as wire:
        at = Clock().boot_ns()
        wire.sendto(frame, (HOST, to))
    return at


def committed_at(journal: Path, *, distress: bool = False) -> dict[int, int]:
    """For each pack in a journal, when the commit with its first frame was begun (boot clock).

    ``distress``: with its first that says so.
    """
    with closing(sqlite3.connect(f"file:{journal}?mode=ro", uri=True)) as connection:
        batches = connection.execute("SELECT last_row, boot_ns FROM batches ORDER BY 1").fetchall()
    ends = [last_row for last_row, _ in batches]
    with JournalReader(journal) as reader:
        found: dict[int, int] = {}
        row, complete = 0, False
        while not complete:
            step = reader.read(row)
            for number, one in enumerate(step.rows, start=row + 1):
                if one.kind == 1:
                    packet = codec.decode_trusted(one.data)
                    identity = getattr(packet, "identity", 0)
                    if distress and not getattr(packet, "distress", False):
                        continue
                    found.setdefault(identity, batches[bisect_left(ends, number)][1])
            row, complete = step.last_row, step.complete
    return found


def alarms(packs: int) -> Iterator[Figure]:
    """From a packet to its alarm in a commit, while the board's terminal is given no peace."""
    with home() as where:
        to = port()
        journal, _ = recorder(where, to)
        board = Terminal(where, 120, 40, "watch", str(journal))
        board.first(b"STATE", board.started_s)
        sent: dict[int, int] = {}
        with traffic(to, packs):
            for number in range(ALARMS):
                _trouble(board, number)
                sent[10_000 + number] = call(to, 10_000 + number)
                time.sleep(ALARM_PAUSE_S)
            time.sleep(1)
        board.hung.clear()
        board.close()
        at = committed_at(journal)
    delays = [(at[identity] - t) / 1e6 for identity, t in sent.items()]
    what = f"packet to alarm in a commit, {packs:,} packs,"
    floor = (floors.udp_ms(), "a datagram to another process")
    yield Figure(f"{what} median", statistics.median(delays), "ms", None, None, *floor)
    yield Figure(f"{what} p99.9", percentile(delays, 0.999), "ms", 50, 20, *floor)
    yield Figure(f"{what} worst of {ALARMS}", max(delays), "ms", None, 100, *floor)


def _trouble(board: Terminal, number: int) -> None:
    """Resize, change the theme; hang for a minute."""
    if number == HANGS_AT:
        board.hung.set()
    if number == HANGS_AT + int(HUNG_S / ALARM_PAUSE_S):
        board.hung.clear()
    if number % 5 == 0 and not board.hung.is_set():
        board.resize(*((80, 24) if number % 2 else (120, 40)))
        board.press(b"b")


def junk() -> Iterator[Figure]:
    """An alarm beside a flood of datagrams that are no frames."""
    with home() as where:
        to = port()
        journal, _ = recorder(where, to)
        stop = threading.Event()
        flooding = threading.Thread(target=_flood_junk, args=(to, stop), daemon=True)
        with traffic(to, 100):
            flooding.start()
            time.sleep(1)
            sent = {}
            for number in range(20):
                sent[20_000 + number] = call(to, 20_000 + number)
                time.sleep(0.2)
            stop.set()
            flooding.join(timeout=5)
        time.sleep(1)
        at = committed_at(journal)
    missing = sum(identity not in at for identity in sent)
    delays = [(at[i] - t) / 1e6 for i, t in sent.items() if i in at]
    worst = max(delays) if delays and not missing else float("nan")
    what = "alarm beside 50,000 junk datagrams/s, worst"
    floor = (floors.udp_ms(), "a datagram to another process")
    yield Figure(what, worst, "ms", 1_000, 300, *floor)


def _flood_junk(to: int, stop: threading.Event) -> None:
    data = bytes(range(46))
    end = time.monotonic() + 20
    while not stop.is_set() and time.monotonic() < end:
        _send_at([data] * (JUNK_A_SECOND // 5), to, JUNK_A_SECOND)


# ---------------------------------------------------------------- the board


def with_board(
    wearers: int, rows: tuple[int, int], work: Callable[[Home, int, Terminal], Iterator[Figure]]
) -> Iterator[Figure]:
    """A board over a recorder with so many wearers, all heard at 1 Hz."""
    with home() as where:
        to = port()
        roster = where.folder / "people.toml"
        people = "".join(
            f'[[people]]\nname = "Wearer {n}"\ncall_sign = "W{n}"\n'
            f'crew = "Crew {(n + 1) // 2}"\npack = {n}\n'
            for n in range(1, wearers + 1)
        )
        roster.write_text(f'title = "Bench"\n{people}', encoding="utf-8")
        journal, _ = recorder(where, to, roster=roster)
        with traffic(to, wearers):
            time.sleep(2)
            board = Terminal(where, *rows, "watch", str(journal))
            try:
                board.first(b"STATE", board.started_s)
                time.sleep(1)
                yield from work(where, to, board)
            finally:
                board.close()


def cost(wearers: int, bars: tuple[float, float]) -> Iterator[Figure]:
    """Share of a core, and memory."""

    def work(_home: Home, _port: int, board: Terminal) -> Iterator[Figure]:
        before, start = cpu_s(board.pid), time.monotonic()
        time.sleep(LOOK_S)
        share = (cpu_s(board.pid) - before) / (time.monotonic() - start) * 100
        bare = "a terminal program that shows nothing"
        core, memory = floors.bare_app()
        yield Figure(f"board, {wearers} wearers at 1 Hz: core", share, "%", *bars, core, bare)
        own = memory_mb(board.pid)
        yield Figure(f"board, {wearers} wearers: memory", own, "MB", 90, 60, memory, bare)

    yield from with_board(wearers, (120, 40), work)


def alarm_to_screen() -> Iterator[Figure]:
    """From a packet to the word on the screen."""

    def work(_home: Home, to: int, board: Terminal) -> Iterator[Figure]:
        delays = []
        for number in range(SAMPLES):
            identity = 30_000 + number
            since = time.monotonic()
            call(to, identity)
            delays.append(board.first(f"pack {identity}".encode(), since) * 1e3)
            # Take it, so that the next one has a line: it must have been seen for half a second.
            time.sleep(0.7)
            board.press(b" ")
            time.sleep(1.0)
        floor = (floors.terminal_ms(), "a key echoed in a terminal")
        middle = statistics.median(delays)
        yield Figure("alarm to screen, median", middle, "ms", 200, 60, *floor)
        yield Figure(f"alarm to screen, worst of {SAMPLES}", max(delays), "ms", None, 300, *floor)

    yield from with_board(24, (120, 40), work)


def keys() -> Iterator[Figure]:
    """From a key to the screen, with 500 wearers on it."""

    def work(_home: Home, _port: int, board: Terminal) -> Iterator[Figure]:
        delays = []
        for number in range(KEYS):
            board.quiet()
            delays.append(board.next_drawn(board.press(b"\x1b[B" if number % 9 else b"s")) * 1e3)
            time.sleep(0.05)
        floor = (floors.terminal_ms(), "a key echoed in a terminal")
        what, middle = "key to screen, 500 wearers,", statistics.median(delays)
        yield Figure(f"{what} median", middle, "ms", None, None, *floor)
        yield Figure(f"{what} p95", percentile(delays, 0.95), "ms", 100, 50, *floor)

    yield from with_board(500, (120, 40), work)


def start() -> Iterator[Figure]:
    """From the command to the first board, recorder started by it."""
    taken = []
    for _ in range(3):
        with home() as where:
            board = Terminal(
                where, 80, 24, "watch", "--name", "Kiln Lane", "--officer", "R. Harrow",
                "--exercise", "--procedure", "plain", "--roster", "kiln-lane",
                "--link", f"udp:{HOST}:{port()}",
            )  # fmt: skip
            taken.append(board.first(b"STATE", board.started_s))
            board.close()
            wait_until(lambda: True, "the end")
    floor = (floors.start_s(), "Python importing what a board stands on")
    yield Figure("start to first board", statistics.median(taken), "s", 2, 1, *floor)


def figures() -> Iterator[Figure]:
    """All of them, in order."""
    yield from flood()
    for packs in PACKS:
        yield from alarms(packs)
    yield from alarm_to_screen()
    yield from keys()
    yield from cost(24, (4, 2))
    yield from cost(500, (8, 4))
    yield from start()
    yield from junk()
