"""A few packs of our own that send what a test wants, when it wants, and echo beacons."""

import contextlib
import socket
from dataclasses import dataclass, field

from protocol import codec
from protocol.packets import Beacon, CheckResult, Kind, Motion, Order, Report

BASE = "127.0.0.1"
DATAGRAM_BYTES_MAX = 1024


def report(identity: int, sequence: int, beacon: int = 0) -> Report:
    """A quiet open status at 250 bar."""
    return Report(
        kind=Kind.STATUS,
        identity=identity,
        boot=1,
        sequence=sequence,
        epoch=0,
        keyed=False,
        pressure_dbar=2500,
        gas_temperature_c=20,
        battery_percent=80,
        motion=Motion.MOVING,
        distress=False,
        low_air=False,
        coming_out=False,
        self_test=CheckResult.PASSED,
        air_warning_test=CheckResult.PASSED,
        motion_warning_test=CheckResult.PASSED,
        interval_s=1,
        uptime_ms=sequence * 10,
        order_received=0,
        order_acknowledged=0,
        beacon_heard=beacon,
    )


@dataclass
class Packs:
    """Open packs behind one socket; the base answers there with its beacons."""

    port: int
    beacon: int = 0
    sequences: dict[int, int] = field(default_factory=dict)
    """Last number each has sent."""
    orders: list[Order] = field(default_factory=list)
    """Every copy of every order that has come."""
    answered: dict[int, tuple[int, int]] = field(default_factory=dict)
    """By pack: the order numbers it says it has received, and its wearer acknowledged."""
    wire: socket.socket = field(
        default_factory=lambda: socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    )

    def __post_init__(self) -> None:
        self.wire.bind((BASE, 0))
        self.wire.setblocking(False)

    def send(self, identity: int, *, pressure_bar: float = 250, distress: bool = False) -> None:
        """Send one pack's next status, with the beacon last heard. Nobody listening is no fault."""
        self.listen()
        number = self.sequences[identity] = self.sequences.get(identity, 0) + 1
        packet = report(identity, number, self.beacon)
        packet.pressure_dbar = round(pressure_bar * 10)
        packet.distress = distress
        packet.order_received, packet.order_acknowledged = self.answered.get(identity, (0, 0))
        with contextlib.suppress(ConnectionRefusedError):
            self.wire.sendto(codec.encode(packet, None), (BASE, self.port))

    def listen(self) -> int:
        """Take in what has come; give the last beacon's value, 0 for none yet."""
        with contextlib.suppress(BlockingIOError, ConnectionRefusedError):
            while True:
                packet = codec.decode(self.wire.recv(DATAGRAM_BYTES_MAX))
                if isinstance(packet, Beacon):
                    self.beacon = packet.value
                elif isinstance(packet, Order):
                    self.orders.append(packet)
        return self.beacon

    def close(self) -> None:
        self.wire.close()
