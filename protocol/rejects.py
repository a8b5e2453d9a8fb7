"""Why a frame was not let through: one reason a cause, each with words for a person.

Bad input is data. Nothing in this package raises on bytes from a wire: a function answers with a
packet or with one of these, and the base counts them by name.
"""

from enum import IntEnum


class Reject(IntEnum):
    """One cause. Names and values are written into journals, so they never change meaning."""

    # The bytes themselves.
    SHORT = 1
    LONG = 2
    FRAMING = 3
    CHECKSUM = 4
    VERSION = 5
    KIND = 6
    FLAGS = 7
    LENGTH = 8
    EXTRAS = 9
    NESTED = 10

    # Who sent it, and to whom.
    EPOCH_UNKNOWN = 20
    NOT_KEYED = 21
    KEYED_UNREADABLE = 22
    TAG = 23
    DIRECTION = 24
    OTHER_PACK = 25
    BUSY = 26

    # A field outside its range: one reason a field.
    EPOCH = 40
    IDENTITY = 41
    BOOT = 42
    SEQUENCE = 43
    PRESSURE = 44
    TEMPERATURE = 45
    BATTERY = 46
    MOTION = 47
    SELF_TEST = 48
    AIR_WARNING_TEST = 49
    MOTION_WARNING_TEST = 50
    INTERVAL = 51
    APPARATUS = 52
    RATED_PRESSURE = 53
    WATER_VOLUME = 54
    LOW_AIR = 55
    ANSWER = 56
    ORDER = 57
    ORDER_KIND = 58
    BEACON = 59
    BASE = 60
    RADIO = 61
    SIGNAL = 62

    # Genuine, but not new.
    COPY = 80
    REPEATED = 81
    TOO_OLD = 82
    BOOT_BACK = 83
    TWIN = 84

    # An order that a pack must not obey.
    ORDER_BOOT = 90
    ORDER_AHEAD = 91
    ORDER_TOO_OLD = 92
    ORDER_LATE = 93
    ORDER_PASSED = 94

    @property
    def words(self) -> str:
        """The reason in words, without a full stop."""
        return _WORDS[self]

    @property
    def genuine_but_old(self) -> bool:
        """True: the numbers went back. Two packs with one identity, a repair, or a recording.

        This is never passed over in silence.
        """
        return self in _GENUINE_BUT_OLD


_GENUINE_BUT_OLD = frozenset({Reject.TOO_OLD, Reject.BOOT_BACK, Reject.TWIN})

_WORDS = {
    Reject.SHORT: "fewer bytes than the shortest frame",
    Reject.LONG: "more bytes than the longest frame",
    Reject.FRAMING: "the line framing cannot be undone",
    Reject.CHECKSUM: "checksum wrong: damaged on its way",
    Reject.VERSION: "a format version that is not known here",
    Reject.KIND: "a kind of frame that is not known here",
    Reject.FLAGS: "a flag that must be understood and is not",
    Reject.LENGTH: "length does not fit the kind",
    Reject.EXTRAS: "appended fields run over the end",
    Reject.NESTED: "a base radio's frame inside a base radio's envelope",
    Reject.EPOCH_UNKNOWN: "made with a fleet key that is not held here",
    Reject.NOT_KEYED: "an open frame, and this base asks for keyed ones",
    Reject.KEYED_UNREADABLE: "a keyed frame, and this base has no key",
    Reject.TAG: "authentication wrong: forged, or another fleet's key",
    Reject.DIRECTION: "a frame that travels the other way",
    Reject.OTHER_PACK: "meant for another pack",
    Reject.BUSY: "an identity never heard, not looked at: too many such at once",
    Reject.EPOCH: "key epoch out of range",
    Reject.IDENTITY: "identity is 0",
    Reject.BOOT: "boot counter is 0",
    Reject.SEQUENCE: "sequence number is 0",
    Reject.PRESSURE: "gauge pressure out of range",
    Reject.TEMPERATURE: "gas temperature out of range",
    Reject.BATTERY: "battery out of range",
    Reject.MOTION: "motion state not known",
    Reject.SELF_TEST: "self-test result not known",
    Reject.AIR_WARNING_TEST: "low-air warning test result not known",
    Reject.MOTION_WARNING_TEST: "motion warning test result not known",
    Reject.INTERVAL: "report interval out of range",
    Reject.APPARATUS: "kind of apparatus not known",
    Reject.RATED_PRESSURE: "rated pressure out of range",
    Reject.WATER_VOLUME: "water volume out of range",
    Reject.LOW_AIR: "low-air value out of range",
    Reject.ANSWER: "kind of answer not known",
    Reject.ORDER: "order number out of range",
    Reject.ORDER_KIND: "kind of order not known",
    Reject.BEACON: "beacon value is 0",
    Reject.BASE: "base identity is 0",
    Reject.RADIO: "radio identity is 0",
    Reject.SIGNAL: "signal level out of range",
    Reject.COPY: "a copy of a frame just taken",
    Reject.REPEATED: "a frame taken before, sent again",
    Reject.TOO_OLD: "sequence number too far back",
    Reject.BOOT_BACK: "boot counter went back",
    Reject.TWIN: "a number taken before, with other contents: two packs with one identity",
    Reject.ORDER_BOOT: "an order for another boot of this pack",
    Reject.ORDER_AHEAD: "an order that names a frame this pack has not sent",
    Reject.ORDER_TOO_OLD: "an order that names a frame too far back",
    Reject.ORDER_LATE: "an order that names a frame sent too long ago",
    Reject.ORDER_PASSED: "a later order has been received already",
}
