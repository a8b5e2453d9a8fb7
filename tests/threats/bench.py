"""A base as its screen shows it, and packs whose frames an attacker may take, keep and change.

The base is the real receiving side: sequencer, intake and fold. What is asked of it is asked of a
second fold, which has read nothing but the rows, as a board does.
"""

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from random import Random

from monitor import procedures
from monitor.clock import Stamp
from monitor.desk import Ask, Hello
from monitor.incident.decoding import event_of
from monitor.incident.events import (
    Acknowledge,
    Act,
    Connect,
    Done,
    EnrolAgain,
    Enter,
    JoinPack,
    LinkState,
    ListWearer,
    Opened,
)
from monitor.incident.incident import Incident
from monitor.incident.orders.events import GiveOrder
from monitor.incident.picture import Picture, WearerView
from monitor.incident.rows import Row, RowKind
from monitor.links.chunk import Chunk
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.recovery import opening
from monitor.recorder.sequencer import Sequencer
from protocol.codec import encode, receive_down
from protocol.integrity import Keyring, PackKeys
from protocol.packets import (
    Apparatus,
    Beacon,
    CheckResult,
    Equipment,
    Kind,
    Motion,
    Order,
    OrderKind,
    Receipt,
    ReceiptKind,
    Report,
)
from simulators.pack import Build, Outgoing, Pack, Senses

MS = 1_000_000
S = 1_000_000_000
BOOT_NS = 1_000 * S
WALL_NS = 1_700_000_000 * S
UDP, WIRE = 1, 2
SOURCE = ("192.0.2.7", 5000)
"""A documentation address (RFC 5737)."""
KEY = bytes(range(32))
INTERVAL_S = 5
FULL_DBAR = 3000
EQUIPMENT = Equipment(Apparatus.OPEN_CIRCUIT, FULL_DBAR, 680, 550)


def ring(key: bytes = KEY, epoch: int = 1, use: str = "exercise") -> Keyring:
    return Keyring({epoch: key}, "real" if use == "real" else "exercise", epoch)


@dataclass
class Sender:
    """A pack, as far as what it sends goes: each report tells a lower pressure than the last."""

    keys: PackKeys | None
    identity: int = 101
    boot: int = 3
    sequence: int = 0
    on_ns: int = BOOT_NS
    beacon: int = 0
    dbar: int = FULL_DBAR

    def packet(self, now_ns: int, **changes: object) -> Report:
        self.sequence += 1
        self.dbar -= 1
        report = Report(
            kind=Kind.STATUS, identity=self.identity, boot=self.boot, sequence=self.sequence,
            epoch=self.keys.epoch if self.keys else 0, keyed=self.keys is not None,
            pressure_dbar=self.dbar, gas_temperature_c=None, battery_percent=80,
            motion=Motion.MOVING, distress=False, low_air=False, coming_out=False,
            self_test=CheckResult.PASSED, air_warning_test=CheckResult.PASSED,
            motion_warning_test=CheckResult.PASSED, interval_s=INTERVAL_S,
            uptime_ms=(now_ns - self.on_ns) // MS, order_received=0, order_acknowledged=0,
            beacon_heard=self.beacon,
        )  # fmt: skip
        return replace(report, **changes)  # type: ignore[arg-type]

    def frame(self, now_ns: int, **changes: object) -> bytes:
        return encode(self.packet(now_ns, **changes), self.keys.up if self.keys else None)

    def sign_on(self, now_ns: int) -> bytes:
        return self.frame(now_ns, kind=Kind.SIGN_ON, equipment=EQUIPMENT)

    def receipt(
        self, now_ns: int, answer: ReceiptKind = ReceiptKind.COMING_OUT, order: int = 0
    ) -> bytes:
        self.sequence += 1
        receipt = Receipt(
            identity=self.identity, boot=self.boot, sequence=self.sequence,
            epoch=self.keys.epoch if self.keys else 0, keyed=self.keys is not None,
            answer=answer, order=order, uptime_ms=(now_ns - self.on_ns) // MS,
            beacon_heard=self.beacon,
        )  # fmt: skip
        return encode(receipt, self.keys.up if self.keys else None)

    def hear(self, frame: bytes) -> None:
        packet = receive_down(frame, self.identity, self.keys)
        if isinstance(packet, Beacon):
            self.beacon = packet.value


class Base:
    """One base in one session, with a journal that is a list and a board that reads it."""

    def __init__(
        self,
        keyring: Keyring | None,
        packs: int = 5,
        seed: int = 1,
        session: int = 1,
        *,
        downlink: bool = True,
    ) -> None:
        """``downlink``: whether its packs hear it."""
        self.keyring = keyring
        self.beacons = BeaconSender(7, session, keyring, Random(seed))
        self.intake = Intake(keyring, self.beacons)
        self.boot_ns = BOOT_NS
        self.senders = [self.sender(101 + n) for n in range(packs)]
        opened = Opened(
            incident="ab" * 16, name="Kiln Lane", officer="R. Harrow",
            use="exercise" if keyring is None else keyring.use,
            procedure=procedures.load("plain"), keyed=keyring is not None, base=7,
            wall_ns=WALL_NS, software="outby 0", fold=1,
        )  # fmt: skip
        start = opening(opened, tuple(self._people()), self.stamp)
        self.sequencer = Sequencer(start, self.intake, self.beacons, self.stamp)
        self.board = Incident()
        self.downlink = downlink
        self.sent: list[bytes] = []
        self.standings: Counter[str] = Counter()
        self.taken: list[bytes] = []
        """Frames that counted as heard, in order."""
        for link, wire in ((UDP, False), (WIRE, True)):
            state = LinkState(link=link, name=f"link {link}", up=True)
            self.sequencer.link_state(state, self.stamp, wire=wire)
        self.commit()

    def sender(self, identity: int, **more: int) -> Sender:
        keys = self.keyring.pack_keys(identity, self.keyring.epochs[0]) if self.keyring else None
        return Sender(keys, identity, on_ns=self.boot_ns, **more)

    def _people(self) -> Iterator[Act]:
        for number, sender in enumerate(self.senders, start=1):
            by = {"by": "R. Harrow", "wearer": number}
            yield ListWearer.model_validate(by | {"id": f"list-{number:05}", "name": f"W{number}"})
            yield JoinPack.model_validate(by | {"id": f"join-{number:05}", "pack": sender.identity})
            on = {"by": "R. Harrow", "id": f"conn-{number:05}", "wearers": (number,)}
            yield Connect.model_validate(on)

    # ------------------------------------------------------------ time and frames

    @property
    def stamp(self) -> Stamp:
        return Stamp(self.boot_ns, self.boot_ns - BOOT_NS + WALL_NS)

    def hear(self, *pieces: bytes, link: int = UDP) -> None:
        source = SOURCE if link == UDP else None
        chunks = [Chunk(link, self.stamp, source, piece) for piece in pieces]
        self.sequencer.heard(chunks, self.stamp)

    def commit(self) -> None:
        batch = self.sequencer.next_batch(self.stamp)
        assert batch is not None
        for row in batch.rows:
            self._read(row)
        self.board.advance(batch.horizon)
        self.sent += [send.frame for send in batch.sends]
        for send in batch.sends if self.downlink else ():
            for sender in self.senders:
                sender.hear(send.frame)
        self.sequencer.committed(batch.number)

    def _read(self, row: Row) -> None:
        event = event_of(row)
        if row.kind is RowKind.FRAME:
            self.standings[row.standing.name] += 1
            if row.standing.name == "LIVE":
                self.taken.append(row.data)
        if event is not None:
            self.board.apply(event)
            assert isinstance(event, Done) or event.standing is row.standing

    def wait(self, ns: int) -> None:
        """Let time pass, with a commit every 250 ms."""
        end = self.boot_ns + ns
        while self.boot_ns < end:
            self.boot_ns = min(end, self.boot_ns + 250 * MS)
            self.commit()

    def begin(self) -> None:
        """Every pack signs on, hears a beacon and is live."""
        for sender in self.senders:
            self.hear(sender.sign_on(self.boot_ns))
        self.wait(1 * S)
        assert all(line.signal == "signal" for line in self.picture.wearers)

    def round(self) -> None:
        """Every pack reports once; the time of one interval passes."""
        for sender in self.senders:
            self.hear(sender.frame(self.boot_ns))
        self.wait(INTERVAL_S * S)

    def evacuate(self, act_id: str = "order-0001") -> None:
        """Order everybody out, by the officer's own board."""
        self.sequencer.hello(1, Hello(board="board", by="R. Harrow"), self.stamp)
        act = GiveOrder(
            id=act_id, by="R. Harrow", order="evacuate", everybody=True, scope="everybody"
        )
        self.sequencer.asked(1, Ask(act=act, asked_boot_ns=self.boot_ns), self.stamp)
        self.commit()

    def go_in(self, wearer: int) -> None:
        """Note that a wearer has gone in, by the officer's own board."""
        self.sequencer.hello(1, Hello(board="board", by="R. Harrow"), self.stamp)
        act = Enter(id=f"enter-{wearer:05}", by="R. Harrow", wearers=(wearer,))
        self.sequencer.asked(1, Ask(act=act, asked_boot_ns=self.boot_ns), self.stamp)
        self.commit()

    def enrol(self, pack: int) -> None:
        """Take a pack's numbers as they are from now on, by the officer's own board."""
        self.sequencer.hello(1, Hello(board="board", by="R. Harrow"), self.stamp)
        act = EnrolAgain(id=f"enrol-{pack:05}", by="R. Harrow", pack=pack)
        self.sequencer.asked(1, Ask(act=act, asked_boot_ns=self.boot_ns), self.stamp)
        self.commit()

    def take(self, kind: str) -> None:
        """Acknowledge the alarm of this kind, by the officer's own board."""
        (alarm,) = [alarm for alarm in self.picture.alarms if alarm.kind == kind]
        self.sequencer.hello(1, Hello(board="board", by="R. Harrow"), self.stamp)
        act_id = f"take-{alarm.number}-{self.boot_ns}"
        act = Acknowledge(id=act_id, by="R. Harrow", alarms=(alarm.number,))
        self.sequencer.asked(1, Ask(act=act, asked_boot_ns=self.boot_ns), self.stamp)
        self.commit()

    # ------------------------------------------------------------ what is shown and counted

    @property
    def picture(self) -> Picture:
        self.commit()
        picture = self.board.picture()
        assert picture == self.sequencer.incident.picture(), "board and recorder agree"
        return picture

    def line(self, number: int = 1) -> WearerView:
        return self.picture.wearers[number - 1]

    def refused(self) -> dict[str, int]:
        """By reason, as the board has it: those of the last second are waited for."""
        self.wait(1 * S)
        return dict(self.picture.refused)

    def alarms(self) -> set[str]:
        return {alarm.kind for alarm in self.picture.alarms}

    def waits(self, kind: str) -> bool:
        """Whether the alarm of this kind asks to be taken."""
        (alarm,) = [alarm for alarm in self.picture.alarms if alarm.kind == kind]
        return not alarm.acknowledged

    def live(self) -> int:
        """Frames that counted as heard."""
        return self.standings["LIVE"]

    @contextmanager
    def nothing_taken(self) -> Iterator[None]:
        """What is heard meanwhile counts for nothing, and no board shows anything of it."""
        self.commit()
        live, shown = self.live(), self.shows()
        yield
        self.commit()
        assert self.live() == live
        assert self.shows() == shown

    def shows(self) -> list[tuple[float | None, str, int | None]]:
        """What a board says of every wearer: reading, motion, battery."""
        return [(w.air.reading_bar, w.motion, w.battery_percent) for w in self.picture.wearers]


class Receiver:
    """A pack that listens: the simulated electronics, and a base that gives it orders."""

    def __init__(self, keyring: Keyring | None, boot: int = 3) -> None:
        self.keyring = keyring
        self.keys = keyring.pack_keys(101, keyring.epochs[0]) if keyring else None
        self.now_ns = 0
        build = Build(101, boot, INTERVAL_S, EQUIPMENT, 100, self.keys)
        self.pack = Pack(build, Random(1), Senses(FULL_DBAR, None, 0), 0)
        self.obeyed: list[int] = []
        self.up: list[Outgoing] = []
        self.wait(600 * S)

    def wait(self, ns: int) -> None:
        """Let time pass, with everything sent that is due."""
        end = self.now_ns + ns
        while (due := self.pack.due_ns) is not None and due <= end:
            self.now_ns = max(self.now_ns, due)
            self.up += self.pack.send(self.now_ns)
        self.now_ns = end

    @property
    def sequence(self) -> int:
        """The last number it has sent."""
        return self.up[-1].sequence

    def order(self, number: int, keys: PackKeys | None = None, **changes: object) -> bytes:
        """An order as the base gives it now, unless changed; ``keys``: made with these."""
        keys = keys or self.keys
        packet = Order(
            identity=101, boot=self.pack.build.boot, sequence=self.sequence,
            epoch=keys.epoch if keys else 0, keyed=keys is not None, base=7, order=number,
            what=OrderKind.EVACUATE,
        )  # fmt: skip
        key = keys.down if keys else None
        return encode(replace(packet, **changes), key)  # type: ignore[arg-type]

    def beacon(self, value: int, keys: PackKeys | None = None) -> bytes:
        """A beacon of the base; ``keys``: made with these."""
        keys = keys or self.keys
        packet = Beacon(7, 1, value, keys.epoch if keys else 0, keys is not None, value)
        return encode(packet, keys.broadcast if keys else None)

    def hear(self, frame: bytes) -> None:
        """Give the pack a frame, and note what order it makes the wearer obey."""
        order = self.pack.hear(self.now_ns, frame)
        if order is not None:
            self.obeyed.append(order.order)

    def refused(self) -> dict[str, int]:
        """By reason."""
        return {reason.name: count for reason, count in self.pack.refused.items()}
