"""What a frame means once its bytes have been understood.

Integers carry the unit in the name and the scale of the wire (``pressure_dbar`` is in tenths of a
bar); ``None`` is the wire's explicit "unknown". The classes are slotted but not frozen: a frozen
one costs a microsecond more to build, and a base builds one for every frame it hears.
"""

from dataclasses import dataclass
from enum import IntEnum


class Kind(IntEnum):
    """What a frame is; the value is the byte on the wire."""

    SIGN_ON = 1
    STATUS = 2
    EVENT = 3
    SIGN_OFF = 4
    RECEIPT = 5
    BEACON = 8
    ORDER = 9
    ENVELOPE = 12
    BEAT = 13


class Motion(IntEnum):
    """What the pack's motion sensor says of its wearer."""

    UNKNOWN = 0
    MOVING = 1
    STILL = 2
    PRE_ALARM = 3
    ALARM = 4


class CheckResult(IntEnum):
    """Outcome of one of the pack's own tests since it was switched on."""

    NOT_RUN = 0
    PASSED = 1
    FAILED = 2


class Apparatus(IntEnum):
    """Kind of breathing apparatus. Only open circuit gets an air forecast in version 1."""

    UNKNOWN = 0
    OPEN_CIRCUIT = 1
    CLOSED_CIRCUIT = 2
    AIRLINE = 3


class OrderKind(IntEnum):
    """What the base asks of one pack."""

    EVACUATE = 1
    COME_OUT = 2
    ROLL_CALL = 3
    TEST = 4
    DISTRESS_CONFIRMED = 5
    COMING_OUT_CONFIRMED = 6


CONFIRMATIONS = frozenset({OrderKind.DISTRESS_CONFIRMED, OrderKind.COMING_OUT_CONFIRMED})
"""These tell a wearer that the base knows. They ask for no answer: the button never means them."""


class ReceiptKind(IntEnum):
    """What a pack or its wearer answers."""

    RECEIVED = 1
    ACKNOWLEDGED = 2
    COMING_OUT = 3


@dataclass(slots=True)
class Equipment:
    """What a pack says of itself when it signs on, and again at least every 60 s."""

    apparatus: Apparatus
    rated_pressure_dbar: int | None
    """Rated (filling) pressure of the cylinder, 0.1 bar."""
    water_volume_cl: int | None
    """Water volume of the cylinder or cylinders together, 0.01 L."""
    low_air_dbar: int | None
    """Pressure at which the set's own low-air warning starts, 0.1 bar."""


@dataclass(slots=True)
class Report:
    """A pack's state: sign-on, status, event or sign-off, told apart by ``kind``."""

    kind: Kind
    identity: int
    """The pack, unique, 32 bits, never 0."""
    boot: int
    """Boot counter, kept over power-off, only ever rises; 32 bits, from 1."""
    sequence: int
    """Number of the frame since this boot, from 1."""
    epoch: int
    """Which fleet key was used, 0 to 255; 0 in an open frame."""
    keyed: bool
    """False: an open frame, carrying no proof of where it comes from."""
    pressure_dbar: int | None
    """Gauge pressure, 0.1 bar."""
    gas_temperature_c: int | None
    battery_percent: int | None
    motion: Motion
    distress: bool
    """The wearer's own button."""
    low_air: bool
    """The set's own warning device has started."""
    coming_out: bool
    """The wearer has said, by button, that they are on the way out."""
    self_test: CheckResult
    air_warning_test: CheckResult
    motion_warning_test: CheckResult
    interval_s: int
    """Report interval: silence means something only against this. 1 to 60 s."""
    uptime_ms: int
    """Since this boot; frames held back somewhere are found by it."""
    order_received: int
    """Highest order number this pack has received, 0 for none."""
    order_acknowledged: int
    """Highest order number the wearer has acknowledged, 0 for none."""
    beacon_heard: int
    """Value of the last base beacon heard, 0 for none."""
    equipment: Equipment | None = None
    """In a sign-on only."""
    extras: tuple[tuple[int, bytes], ...] = ()
    """Appended fields this version does not know, as (type, value)."""


@dataclass(slots=True)
class Receipt:
    """A pack's answer to an order, or the wearer's own word that they are coming out."""

    identity: int
    boot: int
    sequence: int
    epoch: int
    keyed: bool
    answer: ReceiptKind
    order: int
    """Number of the order answered; 0 with COMING_OUT that answers none."""
    uptime_ms: int
    beacon_heard: int


@dataclass(slots=True)
class Beacon:
    """From a base to every pack: proof, once echoed, that the pack is alive now."""

    base: int
    """The base's own identity, never 0."""
    boot: int
    """Counts the base's sessions, from 1."""
    sequence: int
    epoch: int
    keyed: bool
    value: int
    """Random, 1 to 4294967295."""


@dataclass(slots=True)
class Order:
    """From a base to one pack; repeated until received, then until acknowledged."""

    identity: int
    """The pack it is meant for."""
    boot: int
    """That pack's boot counter, as last heard."""
    sequence: int
    """The last sequence number heard from that pack: this is what makes the order fresh."""
    epoch: int
    keyed: bool
    base: int
    order: int
    """Number of the order, 1 to 65535; a higher one is later."""
    what: OrderKind


@dataclass(slots=True)
class Envelope:
    """What a base radio wraps around a frame it has heard; it proves nothing."""

    radio: int
    signal_dbm: int | None
    radio_ms: int
    """The radio's own clock; for its diagnosis only, never for an age."""
    frame: bytes


@dataclass(slots=True)
class Beat:
    """A base radio's own 1 Hz sign of life."""

    radio: int
    radio_ms: int
    frames_heard: int


UpPacket = Report | Receipt
"""Pack to base: authenticated with the pack's upward key, ordered by boot and sequence."""
DownPacket = Beacon | Order
"""Base to pack."""
LocalPacket = Envelope | Beat
"""Base radio to base, on a local wire: a checksum only."""
Packet = UpPacket | DownPacket | LocalPacket
