"""Floods at a recorder with keys: what they take of its core, of packs, and of an alarm's time.

Each kind beside random bytes at the same rate, in the same run. All traffic is on this machine's
loopback, and ends by itself. Alone, or some kinds of it, whose names begin so::

    python -m tests.benchmarks.bench_flood
    python -m tests.benchmarks.bench_flood "posing as packs by their own way"
"""

import os
import random
import socket
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import NamedTuple

from monitor import keyfile
from monitor.clock import Clock
from monitor.journal.reader import JournalReader
from protocol import codec
from protocol.integrity import Keyring, checksum
from protocol.packets import Beacon, Beat, Envelope
from tests.benchmarks.bench_live import HOST, committed_at, port
from tests.benchmarks.frames import report
from tests.benchmarks.live import cpu_s, home, recorder
from tests.benchmarks.measuring import Figure, machine, say, table

FLOOD_A_SECOND = 50_000
FLOOD_S = 8.0
MADE = 20_000
"""Datagrams of a flood that differ, before they come again."""
PACKS = 100
"""Real ones, at 1 Hz."""
ALARMS = 20
FIRST_ALARM = 20_000
RADIO = 9
POSED = (*range(1, PACKS + 1), *range(FIRST_ALARM, FIRST_ALARM + ALARMS))
"""Packs in whose name a flood may come: the real ones, and those that call meanwhile."""


def wire(at: int) -> socket.socket:
    """A socket at this port, or any; of several at one port the newest gets what comes there."""
    made = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    made.bind((HOST, at))
    made.setblocking(False)
    return made


@dataclass
class Fleet:
    """Real packs with keys, behind one socket."""

    to: int
    ring: Keyring
    enveloped: bool = False
    """A base radio hands their frames on."""
    beacon: int = 0
    last: dict[int, bytes] = field(default_factory=dict)
    """What each sent last, as on the wire."""
    sequences: Counter[int] = field(default_factory=Counter)
    keys: dict[int, bytes] = field(default_factory=dict)
    began_s: float = field(default_factory=time.monotonic)
    wire: socket.socket = field(default_factory=lambda: wire(0))

    def send(self, identity: int, *, distress: bool = False) -> int:
        """Send one pack's next report; when, by the boot clock."""
        self.listen()
        self.sequences[identity] += 1
        packet = report(identity, self.sequences[identity])
        packet.beacon_heard, packet.distress = self.beacon, distress
        packet.uptime_ms = int((time.monotonic() - self.began_s) * 1000)
        if identity not in self.keys:
            self.keys[identity] = self.ring.pack_key(identity, 1, up=True)
        frame = codec.encode(packet, self.keys[identity])
        if self.enveloped:
            frame = codec.encode(Envelope(RADIO, -80, 1, frame), None)
        self.last[identity] = frame
        at = Clock().boot_ns()
        self.wire.sendto(frame, (HOST, self.to))
        return at

    def listen(self) -> None:
        """Hear beacons."""
        try:
            while True:
                packet = codec.decode(self.wire.recv(512))
                self.beacon = packet.value if isinstance(packet, Beacon) else self.beacon
        except OSError:
            return


def _closed(content: bytes) -> bytes:
    return content + checksum(content)


def rubbish(_fleet: Fleet) -> list[bytes]:
    """Random bytes of a status's length."""
    draw = random.Random(1)
    return [draw.randbytes(46) for _ in range(MADE)]


def _named(whose: Callable[[int, random.Random], bytes]) -> list[bytes]:
    """Keyed frames with this identity and these numbers, and tags nobody made."""
    draw, made = random.Random(1), codec.encode(report(1, 1), bytes(32))
    return [
        _closed(made[:4] + whose(n, draw) + made[16:36] + draw.randbytes(8)) for n in range(MADE)
    ]


def strangers(_fleet: Fleet) -> list[bytes]:
    """Identities nobody has."""
    return _named(lambda _n, draw: draw.randbytes(12))


def posing(_fleet: Fleet) -> list[bytes]:
    """Identities of the real packs, anything else at random."""
    return _named(lambda n, draw: POSED[n % len(POSED)].to_bytes(4, "big") + draw.randbytes(8))


def going_on(fleet: Fleet) -> list[bytes]:
    """The same with the numbers that come next, by somebody who listens."""
    del fleet
    numbers = (7).to_bytes(4, "big") + (100).to_bytes(4, "big")
    return _named(lambda n, _draw: POSED[n % len(POSED)].to_bytes(4, "big") + numbers)


def played(fleet: Fleet) -> list[bytes]:
    """One recorded frame of a pack that is going to call, again and again."""
    return [fleet.last[FIRST_ALARM]] * MADE


def handed_on(fleet: Fleet) -> list[bytes]:
    """Frames in the name of real packs as a base radio wraps them."""
    return [codec.encode(Envelope(RADIO, -80, 1, frame), None) for frame in posing(fleet)]


def beats(_fleet: Fleet) -> list[bytes]:
    """Beats of a base radio, which carry no tag."""
    return [codec.encode(Beat(RADIO, n, n), None) for n in range(MADE)]


class Flood(NamedTuple):
    """One kind of flood."""

    make: Callable[[Fleet], list[bytes]]
    own_way: bool = False
    """From the very address and port of the real packs: forged, or by a gateway that is theirs."""
    enveloped: bool = False


KINDS = {
    "random bytes": Flood(rubbish),
    "made-up identities": Flood(strangers),
    "posing as packs": Flood(posing),
    "one recorded frame": Flood(played),
    "random bytes by the packs' own way": Flood(rubbish, own_way=True),
    "made-up identities by the packs' own way": Flood(strangers, own_way=True),
    "posing as packs by their own way": Flood(posing, own_way=True),
    "one recorded frame by its own way": Flood(played, own_way=True),
    "posing as packs behind their radio": Flood(handed_on, own_way=True, enveloped=True),
    "beats by the packs' own way": Flood(beats, own_way=True),
    "numbers that come next by their own way": Flood(going_on, own_way=True),
}


@dataclass(frozen=True)
class Outcome:
    """What one flood did."""

    core: float
    """Share of a core that the recorder took, per cent."""
    lost: float
    """Share of the frames of real packs, per cent."""
    worst_ms: float
    """From an alarm's packet to its commit."""


def _pour(made: list[bytes], to: int, by: socket.socket) -> None:
    """Send as many as the machine lets; from a process of its own, so that nothing waits for it."""
    with by:
        by.setblocking(True)
        where, send = (HOST, to), by.sendto
        start, sent, burst = time.perf_counter(), 0, FLOOD_A_SECOND // 500
        while time.perf_counter() - start < FLOOD_S:
            for number in range(sent, sent + burst):
                send(made[number % MADE], where)
            sent += burst
            ahead = start + sent / FLOOD_A_SECOND - time.perf_counter()
            if ahead > 0:
                time.sleep(ahead)


def _heard(journal: Path) -> Counter[int]:
    """Frames in a journal, by identity."""
    found: Counter[int] = Counter()
    with JournalReader(journal) as reader:
        row, complete = 0, False
        while not complete:
            step = reader.read(row)
            found.update(int.from_bytes(r.data[4:8], "big") for r in step.rows if r.kind == 1)
            row, complete = step.last_row, step.complete
    return found


def under(kind: str) -> Outcome:
    """Pour one kind of flood over a recorder with a hundred packs."""
    with home() as where:
        to, key = port(), where.folder / "fleet.key"
        ring = keyfile.create(key, "exercise")
        flood = KINDS[kind]
        journal, pid = recorder(where, to, key=key)
        by = wire(0)
        own = wire(by.getsockname()[1] if flood.own_way else 0)
        fleet, stop = Fleet(to, ring, flood.enveloped, wire=own), threading.Event()
        traffic = threading.Thread(target=_traffic, args=(fleet, stop), daemon=True)
        traffic.start()
        time.sleep(7)
        # Packs never heard, behind the radio of those that were; where that is flooded, or
        # their own names are used, packs that were heard.
        caller = Fleet(to, ring, flood.enveloped, fleet.beacon, wire=fleet.wire)
        if flood.own_way or flood.make not in (rubbish, strangers):
            for number in range(ALARMS):
                caller.send(FIRST_ALARM + number)
            time.sleep(0.5)
        made = flood.make(caller)
        flooder = os.fork()
        if not flooder:
            _pour(made, to, by)
            os._exit(0)
        time.sleep(0.5)
        before_s, start = cpu_s(pid), time.monotonic()
        sent = {}
        for number in range(ALARMS):
            identity = FIRST_ALARM + number
            caller.beacon = fleet.beacon
            sent[identity] = caller.send(identity, distress=True)
            time.sleep(0.25)
        core = (cpu_s(pid) - before_s) / (time.monotonic() - start) * 100
        os.waitpid(flooder, 0)
        stop.set()
        traffic.join(timeout=5)
        time.sleep(2)
        heard, at = _heard(journal), committed_at(journal, distress=True)
    real = sum(fleet.sequences.values())
    lost = 100 * (1 - sum(heard[i] for i in fleet.sequences) / real)
    missing = sum(identity not in at for identity in sent)
    delays = [(at[i] - t) / 1e6 for i, t in sent.items() if i in at]
    return Outcome(core, lost, float("nan") if missing else max(delays))


def _traffic(fleet: Fleet, stop: threading.Event) -> None:
    while not stop.is_set():
        start = time.monotonic()
        for identity in range(1, PACKS + 1):
            fleet.send(identity)
            ahead = start + identity / PACKS - time.monotonic()
            if ahead > 0 and stop.wait(ahead):
                return


def figures(only: tuple[str, ...] = ("",)) -> Iterator[Figure]:
    """One line a kind and question, of those whose names begin so."""
    names = [kind for kind in KINDS if kind == "random bytes" or kind.startswith(only)]
    found = {kind: under(kind) for kind in names}
    plain = found["random bytes"]
    for kind, one in found.items():
        what, peer = f"50,000/s of {kind}:", "random bytes"
        yield Figure(f"{what} core", one.core, "%", 50, 25, plain.core, peer)
        yield Figure(f"{what} real lost", one.lost, "%", 1, 0, plain.lost, peer)
        yield Figure(f"{what} alarm", one.worst_ms, "ms", 1_000, 300, plain.worst_ms, peer)


if __name__ == "__main__":
    say(f"{machine()}\n\n{table(list(figures(tuple(sys.argv[1:]) or ('',))))}")
