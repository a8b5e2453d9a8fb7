"""Breaks of what a pack makes of beacons and orders: tags, shapes, kinds."""

import hashlib
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from protocol import codec
from protocol.integrity import TAIL_BYTES, checksum, tag
from protocol.packets import Beacon, Kind, Order, OrderKind
from tests.simulators.conformance.breaks import Break, breaks, heard, open_heard
from tests.simulators.conformance.changes import (
    beaconed,
    blind,
    content_of,
    drops,
    edited,
    nothing,
    of,
    seems,
    told,
)
from tests.simulators.conformance.wearing import Case, Heard, Unit

ORDER, BEACON = Kind.ORDER, Kind.BEACON


def kinds_as(unit: Unit, content: bytearray) -> None:
    """Any kind is taken for the one that its length fits."""
    content[1] = ORDER if len(content) >= 23 else BEACON


def flags_as(unit: Unit, content: bytearray) -> None:
    content[2] &= 0x0F


def epoch_as(unit: Unit, content: bytearray) -> None:
    content[3] = unit.pack.build.keys.epoch if unit.pack.build.keys else 0


def what_as(_unit: Unit, content: bytearray) -> None:
    """An order of a kind that is not known is taken for a test."""
    if len(content) > 22 and not 1 <= content[22] <= 6:
        content[22] = OrderKind.TEST


def base_as(_unit: Unit, content: bytearray) -> None:
    if content[16:20] == bytes(4):
        content[19] = 1


def value_as(_unit: Unit, content: bytearray) -> None:
    """Appended fields that run over the end are not looked at."""
    size = 23 if content[1] == ORDER else 20
    del content[size:]


def longer(unit: Unit, content: bytearray) -> None:
    """Frames of over 240 bytes are taken."""
    if len(content) > 230:
        del content[23:]


def cut_short(unit: Unit, content: bytearray) -> None:
    """What is missing at the end is taken for a test."""
    if len(content) == 22:
        content.append(OrderKind.TEST)


def part_of_tag(start: int, stop: int) -> Heard:
    """Only some bytes of the tag are compared."""

    def change(unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
        content = content_of(unit, frame)
        if unit.keys is None or len(content) < 20:
            return [frame]
        key = unit.keys.broadcast if content[1] == BEACON else unit.keys.down
        right, made = tag(key, content), frame[len(content) : -2]
        if made[start:stop] != right[start:stop] or checksum(frame[:-2]) != frame[-2:]:
            return [frame]
        return [content + right + checksum(content + right)]

    return change


def under(name: str, *kinds: Kind) -> Heard:
    """Frames under another key are taken too."""

    def change(unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
        keys = unit.keys
        if keys is None or frame[1] not in kinds or len(frame) < 30:
            return [frame]
        content = content_of(unit, frame)
        other = {"up": keys.up, "down": keys.down, "beacons": keys.broadcast}[name]
        made = frame[len(content) : -2]
        if name == "whole digest":
            made = b""
        if made != tag(other, content) or checksum(frame[:-2]) != frame[-2:]:
            return [frame]
        right = tag(keys.broadcast if frame[1] == BEACON else keys.down, content)
        return [content + right + checksum(content + right)]

    return change


def whole_digest(unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
    """The beginning of the 32-byte digest is taken as well."""
    keys, content = unit.keys, content_of(unit, frame)
    if keys is None or len(content) < 20:
        return [frame]
    key = keys.broadcast if content[1] == BEACON else keys.down
    if hashlib.blake2s(content, key=key).digest()[:8] != frame[len(content) : -2]:
        return [frame]
    right = tag(key, content)
    return [content + right + checksum(content + right)]


def takes_open(kind: Kind) -> Heard:
    """A keyed pack takes open frames of a kind."""

    def change(unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
        packet: Any = codec.decode(frame)
        keys = unit.keys
        if keys is None or not isinstance(packet, Order | Beacon) or packet.keyed:
            return [frame]
        if Kind(frame[1]) is not kind:
            return [frame]
        key = keys.broadcast if kind is BEACON else keys.down
        return [codec.encode(replace(packet, keyed=True, epoch=keys.epoch), key)]

    return change


def takes_keyed(_unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
    """An open pack takes keyed frames, whatever their tag."""
    packet: Any = codec.decode(frame)
    if not isinstance(packet, Order | Beacon) or not packet.keyed:
        return [frame]
    return [codec.encode(replace(packet, keyed=False, epoch=0), None)]


def ignores(*kinds: OrderKind) -> Case:
    return heard(drops(lambda unit, order, t: order.what in kinds))


def fills(frame: bytes, unit: Unit) -> bytes:
    """What is appended to a right frame."""
    content = content_of(unit, frame)
    return content[23 if frame[1] == ORDER else 20 :]


def refuses_frames(kind: Kind, when: Any) -> Heard:
    """Right frames are not taken if ``when`` holds for their content."""

    def change(unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
        if len(frame) > 20 and frame[1] == kind and when(unit, frame):
            return []
        return [frame]

    return change


def one_base(unit: Unit, order: Order, _t: int) -> bool:
    """Only the first base that gave an order is obeyed."""
    return bool(unit.memory.setdefault("base", order.base) != order.base)


def one_beacon_base(unit: Unit, beacon: Beacon, _frame: bytes) -> bool:
    return bool(unit.memory.setdefault("base", beacon.base) == beacon.base)


def rising(unit: Unit, beacon: Beacon, _frame: bytes) -> bool:
    """A beacon whose number is not higher than the last is refused."""
    rises = beacon.sequence > unit.memory.get("sequence", 0)
    unit.memory["sequence"] = max(beacon.sequence, unit.memory.get("sequence", 0))
    return bool(rises)


def every(count: int) -> Heard:
    """Only each so many-th beacon is taken."""

    def take(unit: Unit, _beacon: Beacon, _frame: bytes) -> bool:
        unit.memory["beacons"] = unit.memory.get("beacons", 0) + 1
        return bool(unit.memory["beacons"] % count == 1)

    return beaconed(take)


def one_behind(unit: Unit, t: int, frame: bytes) -> Iterable[bytes]:
    """The beacon before the last is told."""
    packet = codec.receive_down(frame, unit.pack.build.identity, unit.keys)
    if not isinstance(packet, Beacon):
        return [frame]
    before, unit.memory["held"] = unit.memory.get("held"), frame
    return [before] if before else []


def no_beacon(_unit: Unit, packet: Any, _t: int) -> Any:
    return replace(packet, beacon_heard=0)


OF_TAGS: tuple[Break, ...] = (
    breaks("forged", "tags are not looked at", heard(blind(nothing, ORDER, tail=True))),
    breaks(
        "beacon forged",
        "tags of beacons are not looked at",
        heard(blind(nothing, BEACON, tail=True)),
    ),
    breaks("forged", "only the first byte of the tag is compared", heard(part_of_tag(0, 1))),
    breaks("forged", "only the first four bytes of the tag are compared", heard(part_of_tag(0, 4))),
    breaks(
        "forged", "only the first seven bytes of the tag are compared", heard(part_of_tag(0, 7))
    ),
    breaks("forged", "only the last seven bytes of the tag are compared", heard(part_of_tag(1, 8))),
    breaks("forged", "only the last four bytes of the tag are compared", heard(part_of_tag(4, 8))),
    breaks("forged", "the beginning of a longer digest is taken too", heard(whole_digest)),
    breaks(
        "other key", "orders under the key of beacons are obeyed", heard(under("beacons", ORDER))
    ),
    breaks("other key", "orders under the key up are obeyed", heard(under("up", ORDER))),
    breaks("beacon forged", "beacons under the key down are taken", heard(under("down", BEACON))),
    breaks("beacon forged", "beacons under the key up are taken", heard(under("up", BEACON))),
    breaks("open", "open orders are obeyed though it has keys", heard(takes_open(ORDER))),
    breaks("beacon forged", "open beacons are taken though it has keys", heard(takes_open(BEACON))),
    breaks(
        "open, beacon forged",
        "keyed orders are obeyed though it has no keys",
        open_heard(takes_keyed),
    ),
    breaks("epoch", "the epoch is not looked at", heard(blind(epoch_as, ORDER))),
    breaks(
        "beacon forged, beacon wrong",
        "the epoch of beacons is not looked at",
        heard(blind(epoch_as, BEACON)),
    ),
    breaks("epoch", "an open pack does not look at the epoch", open_heard(blind(epoch_as, ORDER))),
)
OF_SHAPES: tuple[Break, ...] = (
    breaks(
        "noise",
        "the checksum is not looked at",
        heard(lambda unit, t, frame: [frame[:-2] + checksum(frame[:-2])]),
    ),
    breaks(
        "noise",
        "an open pack does not look at the checksum",
        open_heard(lambda unit, t, frame: [frame[:-2] + checksum(frame[:-2])]),
    ),
    breaks(
        "version down", "the version is not looked at", heard(blind(seems(0, lambda u: b"\x01")))
    ),
    breaks(
        "version down",
        "version 0 is taken too",
        heard(blind(lambda u, content: content.__setitem__(0, content[0] or 1))),
    ),
    breaks("flags down", "flags are not looked at", heard(blind(flags_as, ORDER))),
    breaks(
        "flags down",
        "only the highest flag is looked at",
        heard(blind(lambda u, content: content.__setitem__(2, content[2] & 0x8F), ORDER)),
    ),
    breaks(
        "flags down",
        "only flags 4 to 6 are looked at",
        heard(blind(lambda u, content: content.__setitem__(2, content[2] & 0x7F), ORDER)),
    ),
    breaks("beacon wrong", "flags of beacons are not looked at", heard(blind(flags_as, BEACON))),
    breaks(
        "beacon wrong",
        "the version of beacons is not looked at",
        heard(blind(seems(0, lambda u: b"\x01"), BEACON)),
    ),
    breaks(
        "beacon wrong",
        "the checksum of beacons is not looked at",
        heard(
            lambda unit, t, frame: (
                [frame[:-2] + checksum(frame[:-2])] if frame[1] == BEACON else [frame]
            )
        ),
    ),
    breaks(
        "kind down, beacon wrong", "the kind is guessed from the length", heard(blind(kinds_as))
    ),
    breaks("values down", "an order of a kind not known is obeyed", heard(blind(what_as, ORDER))),
    breaks("values down", "an order of base 0 is obeyed", heard(blind(base_as, ORDER))),
    breaks(
        "beacon wrong",
        "a beacon of base 0 is taken",
        heard(blind(lambda u, content: content.__setitem__(7, content[7] or 1), BEACON)),
    ),
    breaks(
        "beacon wrong",
        "a beacon of value 0 is taken",
        heard(lambda unit, t, frame: _zero_taken(unit, frame)),
    ),
    breaks("length down", "a field over the end is not looked at", heard(blind(value_as, ORDER))),
    breaks(
        "beacon wrong",
        "a field over the end of a beacon is not looked at",
        heard(blind(value_as, BEACON)),
    ),
    breaks("length down", "frames of 241 bytes are taken", heard(blind(longer, ORDER))),
    breaks("length down", "an order cut by a byte is taken", heard(blind(cut_short, ORDER))),
    breaks(
        "forms",
        "an order with appended fields is refused",
        heard(refuses_frames(ORDER, lambda u, frame: fills(frame, u))),
    ),
    breaks(
        "forms",
        "appended type 0 is refused",
        heard(refuses_frames(ORDER, lambda u, frame: fills(frame, u)[:1] == b"\x00")),
    ),
    breaks(
        "forms",
        "an order of over 100 bytes is refused",
        heard(refuses_frames(ORDER, lambda u, frame: len(frame) > 100)),
    ),
    breaks(
        "forms",
        "an order of exactly 240 bytes is refused",
        heard(refuses_frames(ORDER, lambda u, frame: len(frame) == 240)),
    ),
    breaks(
        "forms",
        "flags 1 to 3 are looked at",
        heard(refuses_frames(ORDER, lambda u, frame: frame[2] & 0x0E)),
    ),
    breaks(
        "beacon forms",
        "a beacon with appended fields is refused",
        heard(refuses_frames(BEACON, lambda u, frame: fills(frame, u))),
    ),
    breaks(
        "beacon forms",
        "flags 1 to 3 of beacons are looked at",
        heard(refuses_frames(BEACON, lambda u, frame: frame[2] & 0x0E)),
    ),
)
OF_BEACONS: tuple[Break, ...] = (
    breaks("beacon", "beacons are never told", Case(sent=told(no_beacon))),
    breaks(
        "beacon", "beacons are not told in receipts", Case(sent=told(no_beacon, of(Kind.RECEIPT)))
    ),
    breaks("beacon", "the first beacon is told for ever", heard(every(10_000))),
    breaks("beacon, beacon forms", "each sixth beacon is taken", heard(every(6))),
    breaks("beacon, beacon forms", "the beacon before the last is told", heard(one_behind)),
    breaks(
        "beacon forms", "only the first base's beacons are taken", heard(beaconed(one_beacon_base))
    ),
    breaks(
        "beacon forms", "a beacon whose number does not rise is refused", heard(beaconed(rising))
    ),
    breaks(
        "beacon",
        "the beacon is told lowest byte first",
        Case(
            sent=edited(
                lambda content: content.__setitem__(slice(24, 28), content[24:28][::-1]),
                lambda out: out.kind is Kind.STATUS,
            )
        ),
    ),
)
OF_KINDS: tuple[Break, ...] = (
    breaks("evacuate", "orders to evacuate are ignored", ignores(OrderKind.EVACUATE)),
    breaks("come out", "orders to come out are ignored", ignores(OrderKind.COME_OUT)),
    breaks("roll call", "roll calls are ignored", ignores(OrderKind.ROLL_CALL)),
    breaks("test", "tests are ignored", ignores(OrderKind.TEST)),
    breaks("confirmed", "distress confirmed is ignored", ignores(OrderKind.DISTRESS_CONFIRMED)),
    breaks("confirmed", "coming out confirmed is ignored", ignores(OrderKind.COMING_OUT_CONFIRMED)),
    breaks(
        "evacuate",
        "only tests and roll calls are obeyed",
        ignores(OrderKind.EVACUATE, OrderKind.COME_OUT),
    ),
    breaks("forms", "only the first base is obeyed", heard(drops(one_base))),
    breaks(
        "again",
        "what comes again is not answered",
        heard(drops(lambda unit, order, t: order.order == unit.pack.order_received)),
    ),
    breaks("evacuate", "orders are not heard at all", heard(drops(lambda unit, order, t: True))),
)


def _zero_taken(unit: Unit, frame: bytes) -> Iterable[bytes]:
    content = content_of(unit, frame)
    is_zero = content[1:2] == b"\x08" and content[16:20] == bytes(4)
    if unit.keys and is_zero and frame[-TAIL_BYTES:-2] == tag(unit.keys.broadcast, content):
        unit.pack.beacon_heard = 0
    return [frame]


OF_HEARING = (*OF_TAGS, *OF_SHAPES, *OF_BEACONS, *OF_KINDS)
