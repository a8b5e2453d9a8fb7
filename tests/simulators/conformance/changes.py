"""What can be done to the frames that a pack sends and hears, so that it breaks one rule.

Upward a frame is spoilt after it was made. Downward it is mended before the pack looks at it: a
pack that never looks at a field is one to which that field always seems right.
"""

from collections.abc import Callable, Iterable
from dataclasses import replace
from typing import Any

from protocol import codec
from protocol.freshness import ORDER_WINDOW
from protocol.integrity import TAIL_BYTES, checksum, tag
from protocol.packets import Beacon, Kind, Order, Receipt, ReceiptKind, Report
from simulators.pack import Outgoing
from tests.simulators.conformance.wearing import Heard, Sent, Unit

S = 1_000_000_000
MS = 1_000_000
When = Callable[[Outgoing], bool]
REPORTS = (Kind.SIGN_ON, Kind.STATUS, Kind.EVENT, Kind.SIGN_OFF)


# ---------------------------------------------------------------- upward: bytes


def sealed(unit: Unit, content: bytes) -> bytes:
    """A frame with the right tag and checksum."""
    frame = content + (tag(unit.keys.up, content) if unit.keys else b"")
    return frame + checksum(frame)


def content_of(unit: Unit, frame: bytes) -> bytes:
    return frame[: -TAIL_BYTES if unit.keys else -2]


def always(_out: Outgoing) -> bool:
    return True


def reports(out: Outgoing) -> bool:
    return out.kind in REPORTS


def of(*kinds: Kind) -> When:
    return lambda out: out.kind in kinds


def statuses(out: Outgoing) -> bool:
    return out.kind is Kind.STATUS


def now_and_then(out: Outgoing) -> bool:
    """One status in three."""
    return out.kind is Kind.STATUS and out.sequence % 3 == 0


def edited(change: Callable[[bytearray], Any], when: When = always) -> Sent:
    """The content is changed, tag and checksum fit it."""

    def sent(unit: Unit, t: int, out: Outgoing) -> Iterable[tuple[int, bytes]]:
        if not when(out):
            return [(t, out.frame)]
        content = bytearray(content_of(unit, out.frame))
        change(content)
        return [(t, sealed(unit, bytes(content)))]

    return sent


def bits(at: int, mask: int, when: When = reports) -> Sent:
    def change(content: bytearray) -> None:
        content[at] |= mask

    return edited(change, when)


def put(at: int, value: bytes, when: When = now_and_then) -> Sent:
    def change(content: bytearray) -> None:
        content[at : at + len(value)] = value

    return edited(change, when)


def appended(more: bytes, when: When = statuses) -> Sent:
    return edited(lambda content: content.extend(more), when)


def tagged(make: Callable[[Unit, bytes], bytes]) -> Sent:
    """Another tag than the right one."""

    def sent(unit: Unit, t: int, out: Outgoing) -> Iterable[tuple[int, bytes]]:
        content = content_of(unit, out.frame)
        frame = content + make(unit, content)
        return [(t, frame + checksum(frame))]

    return sent


def summed(make: Callable[[bytes], bytes], when: When = always) -> Sent:
    """Another checksum than the right one."""

    def sent(_unit: Unit, t: int, out: Outgoing) -> Iterable[tuple[int, bytes]]:
        return [(t, out.frame[:-2] + make(out.frame[:-2]) if when(out) else out.frame)]

    return sent


# ---------------------------------------------------------------- upward: meaning


def told(change: Callable[[Unit, Any, int], Any], when: When = always) -> Sent:
    """The packet is another one."""

    def sent(unit: Unit, t: int, out: Outgoing) -> Iterable[tuple[int, bytes]]:
        if not when(out):
            return [(t, out.frame)]
        return [(t, encoded(unit, change(unit, codec.decode(out.frame), t)))]

    return sent


def encoded(unit: Unit, packet: Any) -> bytes:
    return codec.encode(packet, unit.keys.up if unit.keys else None)


def as_kind(kind: Kind) -> Callable[[Unit, Report, int], Report]:
    def change(unit: Unit, packet: Report, _t: int) -> Report:
        equipment = unit.pack.build.equipment if kind is Kind.SIGN_ON else None
        return replace(packet, kind=kind, equipment=equipment)

    return change


def receipts(answer: ReceiptKind, change: Callable[[Unit, Receipt, int], Any]) -> Sent:
    """Receipts of one sort are other ones."""

    def of_that(unit: Unit, packet: Any, t: int) -> Any:
        return change(unit, packet, t) if packet.answer is answer else packet

    return told(of_that, of(Kind.RECEIPT))


def delayed(after_ns: int, when: When) -> Sent:
    return lambda _unit, t, out: [(t + after_ns if when(out) else t, out.frame)]


def twice(after_ns: int, when: When) -> Sent:
    def sent(_unit: Unit, t: int, out: Outgoing) -> Iterable[tuple[int, bytes]]:
        again = [(t + after_ns, out.frame)] if when(out) and not out.copy else []
        return [(t, out.frame), *again]

    return sent


def renumbered(number: Callable[[Unit, Outgoing], int]) -> Sent:
    """Frames have other sequence numbers."""

    def sent(unit: Unit, t: int, out: Outgoing) -> Iterable[tuple[int, bytes]]:
        packet: Any = codec.decode(out.frame)
        return [(t, encoded(unit, replace(packet, sequence=number(unit, out))))]

    return sent


def clocked(uptime_ms: Callable[[int], int]) -> Sent:
    def change(_unit: Unit, packet: Any, _t: int) -> Any:
        return replace(packet, uptime_ms=uptime_ms(packet.uptime_ms))

    return told(change)


# ---------------------------------------------------------------- downward


def mended(unit: Unit, frame: bytes, fix: Callable[[bytearray], None], *, tail: bool) -> bytes:
    """The content is put right; tag and checksum are right if they were, or if ``tail`` says so."""
    keys = unit.keys
    if len(frame) < 22 or (keys is None and len(frame) < 14):
        return frame
    content = bytearray(content_of(unit, frame))
    made, sum_ = frame[len(content) : -2], frame[-2:]
    key = None if keys is None else keys.broadcast if content[1] == Kind.BEACON else keys.down
    right = key is None or made == tag(key, bytes(content))
    sums = sum_ == checksum(frame[:-2])
    fix(content)
    if key is not None and (right or tail):
        made = tag(key, bytes(content))
    whole = bytes(content) + made
    return whole + (checksum(whole) if sums or tail else sum_)


def blind(fix: Callable[[Unit, bytearray], None], *kinds: Kind, tail: bool = False) -> Heard:
    """A pack that does not look at what ``fix`` puts right; ``kinds``: of which frames, or all."""

    def heard(unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
        if kinds and (len(frame) < 2 or frame[1] not in kinds):
            return [frame]
        return [mended(unit, frame, lambda content: fix(unit, content), tail=tail)]

    return heard


def nothing(_unit: Unit, _content: bytearray) -> None:
    """Only tag and checksum are put right."""


def seems(at: int, value: Callable[[Unit], bytes]) -> Callable[[Unit, bytearray], None]:
    def fix(unit: Unit, content: bytearray) -> None:
        made = value(unit)
        content[at : at + len(made)] = made

    return fix


def ordered(change: Callable[[Unit, Order, int], Order | None]) -> Heard:
    """A right order is heard as another one, or not at all."""

    def heard(unit: Unit, t: int, frame: bytes) -> Iterable[bytes]:
        packet = codec.receive_down(frame, unit.pack.build.identity, unit.keys)
        if not isinstance(packet, Order):
            return [frame]
        changed = change(unit, packet, t)
        if changed is None:
            return []
        return [codec.encode(changed, unit.keys.down if unit.keys else None)]

    return heard


def beaconed(change: Callable[[Unit, Beacon, bytes], bool]) -> Heard:
    """A right beacon is taken only if ``change`` says so."""

    def heard(unit: Unit, _t: int, frame: bytes) -> Iterable[bytes]:
        packet = codec.receive_down(frame, unit.pack.build.identity, unit.keys)
        if isinstance(packet, Beacon) and not change(unit, packet, frame):
            return []
        return [frame]

    return heard


def passes(last: Callable[[Unit, Order, int], bool]) -> Heard:
    """A frame is named that is not right, and it is obeyed all the same."""

    def change(unit: Unit, order: Order, t: int) -> Order:
        wrong = last(unit, order, t)
        return replace(order, sequence=unit.pack.sequence) if wrong else order

    return ordered(change)


def drops(when: Callable[[Unit, Order, int], bool]) -> Heard:
    return ordered(lambda unit, order, t: None if when(unit, order, t) else order)


def back(unit: Unit, order: Order) -> int:
    return unit.pack.sequence - order.sequence


def age_ns(unit: Unit, order: Order, t: int) -> int:
    """Of the frame that is named."""
    return t - unit.sent_at.get(order.sequence, t)


def in_window(unit: Unit, order: Order) -> bool:
    return 0 <= back(unit, order) < ORDER_WINDOW
