"""Breaks of what a pack makes of the numbers in an order: for whom, which frame, which order."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from protocol import codec
from protocol.integrity import tag
from protocol.packets import Kind, Order
from tests.simulators.conformance.breaks import Break, breaks, heard, open_heard
from tests.simulators.conformance.changes import (
    S,
    age_ns,
    back,
    blind,
    content_of,
    drops,
    in_window,
    of,
    ordered,
    passes,
    seems,
    told,
)
from tests.simulators.conformance.wearing import Case, Heard, Unit

ORDER = Kind.ORDER


def low_bytes(at: int, right: Any, count: int) -> Heard:
    """Only the lowest bytes of a number are compared."""

    def fix(unit: Unit, content: bytearray) -> None:
        whole = right(unit).to_bytes(4, "big")
        if content[at + 4 - count : at + 4] == whole[4 - count :]:
            content[at : at + 4] = whole

    return blind(fix, ORDER)


def renumbered(number: Any) -> Heard:
    """The order number is understood as another one."""
    return ordered(
        lambda unit, order, t: replace(order, order=made) if (made := number(order.order)) else None
    )


def signed(unit: Unit, order: Order, _t: int) -> bool:
    """Numbers from 32768 on are taken for negative ones."""
    return order.order >= 0x8000 > unit.pack.order_received


def below_counts(least: int) -> Heard:
    """A number that is lower by no more than this is obeyed: it is heard as the next higher one."""

    def change(unit: Unit, order: Order, _t: int) -> Order:
        low = unit.pack.order_received - least <= order.order < unit.pack.order_received
        if not low:
            return order
        heard_as = min(unit.pack.order_received + 1, 65535)
        unit.memory[heard_as] = order.order
        return replace(order, order=heard_as)

    return ordered(change)


def tells_passed(unit: Unit, packet: Any, _t: int) -> Any:
    """Its receipt names the number as it was given."""
    return replace(packet, order=unit.memory.pop(packet.order, packet.order))


def _for_any(unit: Unit, frame: bytes) -> Iterable[bytes]:
    """An order under the other pack's own key is obeyed: the fleet secret is in the pack."""
    packet: Any = codec.decode(frame)
    if unit.keyring is None or unit.keys is None or not isinstance(packet, Order):
        return [frame]
    if not packet.keyed or packet.identity == unit.pack.build.identity:
        return [frame]
    content = content_of(unit, frame)
    if packet.epoch not in unit.keyring.epochs:
        return [frame]
    key = unit.keyring.pack_key(packet.identity, packet.epoch, up=False)
    if frame[len(content) : -2] != tag(key, content):
        return [frame]
    return [codec.encode(replace(packet, identity=unit.pack.build.identity), unit.keys.down)]


OF_NUMBERS: tuple[Break, ...] = (
    breaks("other pack", "the identity is not looked at", heard(
        lambda unit, t, frame: _for_any(unit, frame))),
    breaks("other pack", "an open pack does not look at the identity", open_heard(
        blind(seems(4, lambda u: u.pack.build.identity.to_bytes(4, "big")), ORDER))),
    breaks("other pack", "only the lowest byte of the identity is compared", open_heard(
        low_bytes(4, lambda u: u.pack.build.identity, 1))),
    breaks("other pack", "only the lowest two bytes of the identity are compared", open_heard(
        low_bytes(4, lambda u: u.pack.build.identity, 2))),
    breaks("other pack", "another identity under its own key is obeyed", heard(
        blind(seems(4, lambda u: u.pack.build.identity.to_bytes(4, "big")), ORDER))),
    breaks("other boot", "the boot is not looked at",
           heard(blind(seems(8, lambda u: u.pack.build.boot.to_bytes(4, "big")), ORDER))),
    breaks("other boot", "only the lowest byte of the boot is compared", heard(
        low_bytes(8, lambda u: u.pack.build.boot, 1))),
    breaks("other boot", "only the lowest two bytes of the boot are compared", heard(
        low_bytes(8, lambda u: u.pack.build.boot, 2))),
    breaks("other boot", "an order of an earlier boot is obeyed", heard(ordered(
        lambda unit, order, t: replace(order, boot=max(order.boot, unit.pack.build.boot))))),
    breaks("ahead", "a frame not sent yet may be named", heard(passes(
        lambda unit, order, t: back(unit, order) < 0))),
    breaks("ahead", "up to 60 ahead may be named", heard(passes(
        lambda unit, order, t: -60 <= back(unit, order) < 0))),
    breaks("ahead", "up to 10 ahead may be named", heard(passes(
        lambda unit, order, t: -10 <= back(unit, order) < 0))),
    breaks("ahead", "the next frame may be named", heard(passes(
        lambda unit, order, t: back(unit, order) == -1))),
    breaks("ahead", "only the lowest two bytes of the sequence are compared", heard(
        low_bytes(12, lambda u: u.pack.sequence, 2))),
    breaks("too far back", "any earlier frame may be named", heard(passes(
        lambda unit, order, t: back(unit, order) >= 64))),
    breaks("too far back", "65 frames back may be named", heard(passes(
        lambda unit, order, t: back(unit, order) in (64, 65)))),
    breaks("too far back", "the window is one too wide", heard(passes(
        lambda unit, order, t: back(unit, order) == 64))),
    breaks("earlier", "the window is one too narrow", heard(drops(
        lambda unit, order, t: back(unit, order) >= 63))),
    breaks("earlier", "only the last 32 may be named", heard(drops(
        lambda unit, order, t: back(unit, order) >= 32))),
    breaks("earlier", "only the last 8 may be named", heard(drops(
        lambda unit, order, t: back(unit, order) >= 8))),
    breaks("earlier", "only the newest may be named", heard(drops(
        lambda unit, order, t: back(unit, order) >= 1))),
    breaks("earlier", "only frames of 10 s may be named", heard(drops(
        lambda unit, order, t: age_ns(unit, order, t) > 10 * S))),
    breaks("earlier", "only frames of 30 s may be named", heard(drops(
        lambda unit, order, t: age_ns(unit, order, t) > 30 * S))),
    breaks("earlier", "only frames of 45 s may be named", heard(drops(
        lambda unit, order, t: age_ns(unit, order, t) > 45 * S))),
    breaks("late", "frames of 90 s may be named", heard(passes(
        lambda unit, order, t: in_window(unit, order) and 60 < age_ns(unit, order, t) / S < 90))),
    breaks("late", "frames of any age may be named", heard(passes(
        lambda unit, order, t: in_window(unit, order) and age_ns(unit, order, t) > 60 * S))),
    breaks("passed", "a lower number is obeyed",
           Case(heard=below_counts(65535), sent=told(tells_passed, of(Kind.RECEIPT)))),
    breaks("passed", "a number one lower is obeyed",
           Case(heard=below_counts(1), sent=told(tells_passed, of(Kind.RECEIPT)))),
    breaks("wide", "numbers are cut to 8 bits", heard(renumbered(lambda number: number & 0xFF))),
    breaks("wide", "numbers are cut to 15 bits", heard(renumbered(lambda number: number & 0x7FFF))),
    breaks("wide", "numbers above 32767 are negative", heard(drops(signed))),
    breaks("wide", "65535 is refused", heard(drops(lambda unit, order, t: order.order == 65535))),
)  # fmt: skip
