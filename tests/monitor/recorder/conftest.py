"""A pack, a base and a desk of the tests' own, handed out as fixtures."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from random import Random

import pytest

from monitor import procedures
from monitor.clock import Stamp
from monitor.desk import Ask, Hello
from monitor.incident.decoding import event_of
from monitor.incident.events import Act, Connect, Done, JoinPack, ListWearer, Note, Opened
from monitor.incident.orders.events import GiveOrder
from monitor.incident.rows import Row, RowKind
from monitor.links.chunk import Chunk
from monitor.recorder.batch import Answer, Batch
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.recovery import Start, opening
from monitor.recorder.sequencer import Sequencer
from protocol.codec import decode, encode
from protocol.integrity import Keyring
from protocol.packets import Apparatus, CheckResult, Equipment, Kind, Motion, Order, Report

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S
"""What the boot clock reads when a test begins."""
WALL_NS = 1_700_000_000 * S
SOURCE = ("192.0.2.7", 5000)
"""A documentation address (RFC 5737)."""
KEY = bytes(range(32))


@dataclass
class Pack:
    """A pack's electronics, as far as frames go."""

    keyring: Keyring | None
    identity: int = 101
    boot: int = 3
    sequence: int = 0
    started_ns: int = BOOT_NS
    beacon: int = 0

    def report(self, now_ns: int, **changes: object) -> Report:
        """The next report, sent at ``now_ns`` of the boot clock."""
        self.sequence += 1
        report = Report(
            kind=Kind.STATUS, identity=self.identity, boot=self.boot, sequence=self.sequence,
            epoch=0 if self.keyring is None else 1, keyed=self.keyring is not None,
            pressure_dbar=2000, gas_temperature_c=None, battery_percent=80, motion=Motion.MOVING,
            distress=False, low_air=False, coming_out=False, self_test=CheckResult.PASSED,
            air_warning_test=CheckResult.PASSED, motion_warning_test=CheckResult.PASSED,
            interval_s=5, uptime_ms=(now_ns - self.started_ns) // MS, order_received=0,
            order_acknowledged=0, beacon_heard=self.beacon,
        )  # fmt: skip
        return replace(report, **changes)  # type: ignore[arg-type]

    def encoded(self, report: Report) -> bytes:
        key = None
        if self.keyring is not None and report.keyed:
            key = self.keyring.pack_key(report.identity, report.epoch, up=True)
        return encode(report, key)

    def frame(self, now_ns: int, **changes: object) -> bytes:
        return self.encoded(self.report(now_ns, **changes))

    def sign_on(self, now_ns: int) -> bytes:
        equipment = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, 550)
        return self.frame(now_ns, kind=Kind.SIGN_ON, equipment=equipment)


@dataclass
class Base:
    """A sequencer with a journal that is a list, and a clock moved by hand."""

    keyring: Keyring | None
    sequencer: Sequencer
    intake: Intake
    beacons: BeaconSender
    boot_ns: int = BOOT_NS
    wall_ns: int = WALL_NS
    rows: list[Row] = field(default_factory=list)
    batches: list[Batch] = field(default_factory=list)
    answers: list[Answer] = field(default_factory=list)
    drawing: bool = True
    """The board at seat 1, if one sits there, draws and beats."""

    @property
    def stamp(self) -> Stamp:
        return Stamp(self.boot_ns, self.wall_ns)

    def wait(self, ns: int) -> None:
        self.boot_ns += ns
        self.wall_ns += ns

    def hear(self, *frames: bytes, at_ns: int | None = None, link: int = 1) -> None:
        at = Stamp(self.boot_ns if at_ns is None else at_ns, self.wall_ns)
        self.sequencer.heard([Chunk(link, at, SOURCE, f) for f in frames], self.stamp)

    def beat(self, ns: int = 0) -> Batch:
        """Let ``ns`` pass, beats included, and commit."""
        while ns > 250 * MS:
            self.wait(250 * MS)
            ns -= 250 * MS
            self.commit()
        self.wait(ns)
        return self.commit()

    def commit(self) -> Batch:
        if self.drawing:
            self.sequencer.board_beat(1, self.stamp)
        batch = self.sequencer.next_batch(self.stamp)
        assert batch is not None
        self.rows += batch.rows
        self.batches.append(batch)
        self.answers += batch.at_once + self.sequencer.committed(batch.number)
        return batch

    def ask(self, seat: int, act: Act) -> None:
        self.sequencer.asked(seat, Ask(act=act, asked_boot_ns=self.boot_ns), self.stamp)

    def hold(self, seat: int = 1) -> None:
        self.sequencer.hello(seat, Hello(board=f"board {seat}", by="R. Harrow"), self.stamp)

    def facts(self, what: str) -> list[Done]:
        """The facts of that kind in the journal, with their times."""
        events = [event_of(row) for row in self.rows if row.kind is RowKind.FACT]
        return [e for e in events if isinstance(e, Done) and e.what.what == what]

    def standings(self) -> list[str]:
        return [row.standing.name for row in self.rows if row.kind is RowKind.FRAME]


def _opened(keyring: Keyring | None) -> Opened:
    return Opened(
        incident="ab" * 16, name="Kiln Lane", officer="R. Harrow", use="exercise",
        procedure=procedures.load("plain"), keyed=keyring is not None, base=7, wall_ns=WALL_NS,
        software="outby 0", fold=1,
    )  # fmt: skip


def _people(packs: Sequence[int]) -> tuple[Act, ...]:
    acts: list[Act] = []
    for number, pack in enumerate(packs, start=1):
        by = {"by": "R. Harrow", "wearer": number}
        acts.append(ListWearer.model_validate(by | {"id": f"list-{number:04}", "name": f"W{pack}"}))
        acts.append(JoinPack.model_validate(by | {"id": f"join-{number:04}", "pack": pack}))
        connect = {"id": f"connect-{number:04}", "by": "R. Harrow", "wearers": (number,)}
        acts.append(Connect.model_validate(connect))
    return tuple(acts)


class Making:
    """What a test makes its base and packs with."""

    def keyring(self) -> Keyring:
        return Keyring({1: KEY}, "exercise", 1)

    def pack(self, keyring: Keyring | None, identity: int = 101) -> Pack:
        return Pack(keyring, identity)

    def parts(self, keyring: Keyring | None) -> tuple[Intake, BeaconSender]:
        beacons = BeaconSender(7, 1, keyring, Random(1))
        return Intake(keyring, beacons), beacons

    def start(self, keyring: Keyring | None, packs: Sequence[int] = ()) -> Start:
        return opening(_opened(keyring), _people(packs), Stamp(BOOT_NS, WALL_NS))

    def base(
        self, keyring: Keyring | None = None, packs: Sequence[int] = (), rows_max: int = 1_000
    ) -> Base:
        intake, beacons = self.parts(keyring)
        stamp = Stamp(BOOT_NS, WALL_NS)
        sequencer = Sequencer(self.start(keyring, packs), intake, beacons, stamp, rows_max)
        return Base(keyring, sequencer, intake, beacons)

    def live(self, base: Base, pack: Pack) -> None:
        """Have the pack hear the base's first beacon, so that its frames are live from now on."""
        base.beat()
        pack.beacon = base.beacons.recent._sent[-1][0]

    def evacuate(self, act_id: str = "order-001") -> GiveOrder:
        return GiveOrder(
            id=act_id, by="R. Harrow", order="evacuate", everybody=True, scope="everybody"
        )

    def orders(self, batch: Batch) -> list[Order]:
        """The orders among the frames that go out with a batch."""
        packets = [decode(send.frame) for send in batch.sends]
        return [packet for packet in packets if isinstance(packet, Order)]

    def note(self, act_id: str = "note-0001", **more: object) -> Note:
        return Note.model_validate({"id": act_id, "by": "R. Harrow", "text": "radio check"} | more)


@pytest.fixture
def make() -> Making:
    return Making()


@pytest.fixture
def base(make: Making) -> Base:
    """A base with one wearer and their pack."""
    return make.base(packs=[101])


@pytest.fixture
def pack(make: Making) -> Pack:
    """That pack, in the open."""
    return make.pack(None)
