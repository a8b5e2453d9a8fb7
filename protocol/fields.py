"""The layout of every frame, as tables: what stands where, in which unit, within which range.

The codec takes its structs and limits from here, the tables of PACKET-FORMAT.md are compared with
these by a test, and the range tests walk over them. All integers are in network byte order.

A frame of a pack or a base:   header | body | extras (type, length, value)* | tag | checksum
A frame of a base radio:       local header | rest | checksum

The tag (8 bytes) is there in a keyed frame only. It covers everything before it; the checksum
(2 bytes) covers everything before it, the tag included.
"""

from dataclasses import dataclass
from struct import Struct

from protocol.packets import Kind
from protocol.rejects import Reject

VERSION = 1
"""First byte of every frame."""
FLAG_KEYED = 0x01
"""The frame carries a tag."""
FLAGS_CRITICAL = 0xF0
"""A frame with one of these set means something else to who knows it: others refuse it."""

CHECKSUM_BYTES = 2
TAG_BYTES = 8
FRAME_BYTES_MAX = 254
"""The most that line framing carries with one byte of overhead."""
ENVELOPE_BYTES = 14
"""What a base radio adds around a frame: local header and checksum."""
PACK_FRAME_BYTES_MAX = FRAME_BYTES_MAX - ENVELOPE_BYTES
"""So that a base radio can wrap every frame it may hear."""
STATUS_BYTES_MAX = 48
"""A status with its appended fields stays within this: airtime is shared by all packs."""

PRESSURE_DBAR_MAX = 4500
TEMPERATURE_C_MIN = -60
TEMPERATURE_C_MAX = 100
BATTERY_PERCENT_MAX = 100
INTERVAL_S_MAX = 60
WATER_VOLUME_CL_MAX = 3000
SIGNAL_DBM_MIN = -127
SIGNAL_DBM_MAX = 20

U8_MAX = 0xFF
U16_MAX = 0xFFFF
U32_MAX = 0xFFFF_FFFF
U16_UNKNOWN = U16_MAX
U8_UNKNOWN = U8_MAX
I8_UNKNOWN = -128


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a frame. ``low`` to ``high`` are the values it may take besides ``unknown``."""

    name: str
    offset: int
    """From the first byte of the frame."""
    code: str
    """As in ``struct``: B, H, I unsigned of 1, 2, 4 bytes; b signed of 1 byte."""
    unit: str
    low: int
    high: int
    unknown: int | None = None
    """The value that says "not known", if there is one."""
    reject: Reject | None = None
    """The reason given when it is out of range; None: every value is in range."""

    @property
    def size(self) -> int:
        """Bytes."""
        return Struct(">" + self.code).size


def layout(fields: tuple[Field, ...]) -> Struct:
    """The struct that reads all of ``fields``; they must touch one another."""
    end = fields[0].offset
    for field in fields:
        assert field.offset == end, f"{field.name} does not begin where the field before it ends"
        end += field.size
    return Struct(">" + "".join(field.code for field in fields))


HEADER = (
    Field("version", 0, "B", "", VERSION, VERSION, None, Reject.VERSION),
    Field("kind", 1, "B", "", 1, 13, None, Reject.KIND),
    Field("flags", 2, "B", "bits", 0, 0x0F, None, Reject.FLAGS),
    Field("epoch", 3, "B", "", 1, U8_MAX, None, Reject.EPOCH),
    Field("identity", 4, "I", "", 1, U32_MAX, None, Reject.IDENTITY),
    Field("boot", 8, "I", "", 1, U32_MAX, None, Reject.BOOT),
    Field("sequence", 12, "I", "", 1, U32_MAX, None, Reject.SEQUENCE),
)
HEADER_BYTES = 16

REPORT = (
    Field("pressure", 16, "H", "0.1 bar", 0, PRESSURE_DBAR_MAX, U16_UNKNOWN, Reject.PRESSURE),
    Field("gas temperature", 18, "b", "1 C", TEMPERATURE_C_MIN, TEMPERATURE_C_MAX, I8_UNKNOWN,
          Reject.TEMPERATURE),
    Field("battery", 19, "B", "1 %", 0, BATTERY_PERCENT_MAX, U8_UNKNOWN, Reject.BATTERY),
    Field("uptime", 20, "I", "1 ms", 0, U32_MAX),
    Field("beacon heard", 24, "I", "", 0, U32_MAX),
    Field("order received", 28, "H", "", 0, U16_MAX),
    Field("order acknowledged", 30, "H", "", 0, U16_MAX),
    Field("motion", 32, "B", "", 0, 4, None, Reject.MOTION),
    Field("alerts", 33, "B", "bits", 0, U8_MAX),
    Field("checks", 34, "B", "bits", 0, U8_MAX, None, Reject.SELF_TEST),
    Field("interval", 35, "B", "1 s", 1, INTERVAL_S_MAX, None, Reject.INTERVAL),
)  # fmt: skip
REPORT_BYTES = 36

ALERT_DISTRESS = 0x01
ALERT_LOW_AIR = 0x02
ALERT_COMING_OUT = 0x04

SELF_TEST_SHIFT = 0
AIR_WARNING_TEST_SHIFT = 2
MOTION_WARNING_TEST_SHIFT = 4

EQUIPMENT = (
    Field("apparatus", 36, "B", "", 0, 3, None, Reject.APPARATUS),
    Field("rated pressure", 37, "H", "0.1 bar", 1, PRESSURE_DBAR_MAX, U16_UNKNOWN,
          Reject.RATED_PRESSURE),
    Field("water volume", 39, "H", "0.01 L", 1, WATER_VOLUME_CL_MAX, U16_UNKNOWN,
          Reject.WATER_VOLUME),
    Field("low-air value", 41, "H", "0.1 bar", 1, PRESSURE_DBAR_MAX, U16_UNKNOWN, Reject.LOW_AIR),
)  # fmt: skip
SIGN_ON_BYTES = 43

RECEIPT = (
    Field("uptime", 16, "I", "1 ms", 0, U32_MAX),
    Field("beacon heard", 20, "I", "", 0, U32_MAX),
    Field("order", 24, "H", "", 0, U16_MAX),
    Field("answer", 26, "B", "", 1, 3, None, Reject.ANSWER),
)
RECEIPT_BYTES = 27

BEACON = (Field("value", 16, "I", "", 1, U32_MAX, None, Reject.BEACON),)
BEACON_BYTES = 20

ORDER = (
    Field("base", 16, "I", "", 1, U32_MAX, None, Reject.BASE),
    Field("order", 20, "H", "", 1, U16_MAX, None, Reject.ORDER),
    Field("what", 22, "B", "", 1, 6, None, Reject.ORDER_KIND),
)
ORDER_BYTES = 23

LOCAL = (
    Field("version", 0, "B", "", VERSION, VERSION, None, Reject.VERSION),
    Field("kind", 1, "B", "", 1, 13, None, Reject.KIND),
    Field("flags", 2, "B", "bits", 0, 0x0F, None, Reject.FLAGS),
    Field("signal", 3, "b", "1 dBm", SIGNAL_DBM_MIN, SIGNAL_DBM_MAX, I8_UNKNOWN, Reject.SIGNAL),
    Field("radio", 4, "I", "", 1, U32_MAX, None, Reject.RADIO),
    Field("radio clock", 8, "I", "1 ms", 0, U32_MAX),
)
LOCAL_BYTES = 12

BEAT = (Field("frames heard", 12, "I", "", 0, U32_MAX),)
BEAT_BYTES = 16

FRAME_BYTES_MIN = LOCAL_BYTES + 1 + CHECKSUM_BYTES
"""An envelope around one byte: nothing shorter can be a frame."""

FIELDS_BY_KIND: dict[Kind, tuple[Field, ...]] = {
    Kind.SIGN_ON: HEADER + REPORT + EQUIPMENT,
    Kind.STATUS: HEADER + REPORT,
    Kind.EVENT: HEADER + REPORT,
    Kind.SIGN_OFF: HEADER + REPORT,
    Kind.RECEIPT: HEADER + RECEIPT,
    Kind.BEACON: HEADER + BEACON,
    Kind.ORDER: HEADER + ORDER,
    Kind.ENVELOPE: LOCAL,
    Kind.BEAT: LOCAL + BEAT,
}
FIXED_BYTES: dict[Kind, int] = {
    Kind.SIGN_ON: SIGN_ON_BYTES,
    Kind.STATUS: REPORT_BYTES,
    Kind.EVENT: REPORT_BYTES,
    Kind.SIGN_OFF: REPORT_BYTES,
    Kind.RECEIPT: RECEIPT_BYTES,
    Kind.BEACON: BEACON_BYTES,
    Kind.ORDER: ORDER_BYTES,
    Kind.ENVELOPE: LOCAL_BYTES,
    Kind.BEAT: BEAT_BYTES,
}
"""Bytes before extras, tag and checksum."""
PLAIN_REPORTS = frozenset((Kind.STATUS, Kind.EVENT, Kind.SIGN_OFF))
"""Kinds whose body is the report and nothing else."""

assert layout(HEADER).size == HEADER_BYTES
assert all(layout(fields).size == FIXED_BYTES[kind] for kind, fields in FIELDS_BY_KIND.items())
assert REPORT_BYTES + TAG_BYTES + CHECKSUM_BYTES <= STATUS_BYTES_MAX
assert LOCAL_BYTES + CHECKSUM_BYTES == ENVELOPE_BYTES
