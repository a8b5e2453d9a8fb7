"""Breaks of when a pack sends what: counters, clock, restarts, intervals, copies, buttons."""

from dataclasses import replace
from typing import Any

from protocol import codec
from protocol.packets import CONFIRMATIONS, Kind, Order, ReceiptKind, Report
from simulators.pack import Build, Habits, Outgoing, Pack
from tests.simulators.conformance.breaks import Break, breaks
from tests.simulators.conformance.changes import (
    MS,
    S,
    as_kind,
    clocked,
    delayed,
    encoded,
    of,
    renumbered,
    reports,
    told,
    twice,
)
from tests.simulators.conformance.wearing import Case, Sent, Unit

EVENT, STATUS, SIGN_ON, SIGN_OFF = (
    of(kind) for kind in (Kind.EVENT, Kind.STATUS, Kind.SIGN_ON, Kind.SIGN_OFF)
)
RECEIVED, ACKNOWLEDGED, COMING_OUT = ReceiptKind


def same_number(unit: Unit, out: Outgoing) -> int:
    """A receipt has the number of the frame before it."""
    if out.kind is Kind.RECEIPT:
        unit.memory["receipts"] = unit.memory.get("receipts", 0) + (not out.copy)
    return max(out.sequence - int(unit.memory.get("receipts", 0)), 1)


def copies_counted(unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    """Each copy is a frame of its own."""
    number = unit.memory["number"] = unit.memory.get("number", 0) + 1
    packet: Any = codec.decode(out.frame)
    return [(t, encoded(unit, replace(packet, sequence=number)))]


def copies_clocked(unit: Unit, packet: Any, t: int) -> Any:
    """Each copy tells the uptime at which it is sent."""
    return replace(packet, uptime_ms=packet.uptime_ms + (t - unit.sent_at[packet.sequence]) // MS)


def sent_again_late(unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    again = [(t + 12 * S, out.frame)] if out.kind is Kind.STATUS and out.sequence % 10 == 5 else []
    return [(t, out.frame), *again]


def of_earlier_boot(**kept: bool) -> Sent:
    """Something goes on from the boot before."""

    def change(unit: Unit, packet: Any, t: int) -> Any:
        last = unit.memory.setdefault("last", {})
        before = unit.memory.get("before")
        if packet.boot != unit.memory.get("boot"):
            unit.memory["boot"], unit.memory["before"] = packet.boot, dict(last)
            before = unit.memory["before"]
        changed = {}
        for name in kept:
            if before:
                now, then = getattr(packet, name, None), before.get(name, 0)
                if now is None:
                    continue
                changed[name] = now + then if name in ("sequence", "uptime_ms") else now or then
            elif (now := getattr(packet, name, None)) is not None:
                last[name] = now
        return replace(packet, **changed)

    return told(change)


def no_event(name: str) -> Sent:
    """A status tells what an event should."""

    def sent(unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
        packet = codec.decode(out.frame)
        before = unit.memory.get(name, False)
        if isinstance(packet, Report) and not out.copy:
            unit.memory[name] = getattr(packet, name)
        hides = out.kind is Kind.EVENT and (
            getattr(packet, name) != before or unit.memory.get("hidden") == out.sequence
        )
        if not hides:
            return [(t, out.frame)]
        unit.memory["hidden"] = out.sequence
        as_status = encoded(unit, replace(packet, kind=Kind.STATUS))  # type: ignore[type-var]
        return [] if out.copy else [(t, as_status)]

    return sent


class Metronome(Pack):
    """Its event restarts the interval."""

    def press_distress(self, now_ns: int, *, on: bool) -> None:
        super().press_distress(now_ns, on=on)
        self._report_ns = now_ns + self._interval_ns(self.build.habits.spread)

    def acknowledge(self, now_ns: int) -> None:
        super().acknowledge(now_ns)
        self._report_ns = now_ns + self._interval_ns(self.build.habits.spread)

    def say_coming_out(self, now_ns: int) -> None:
        super().say_coming_out(now_ns)
        self._report_ns = now_ns + self._interval_ns(self.build.habits.spread)


class StatusAtOnce(Pack):
    """Sends a status as soon as it has heard an order."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        order = super().hear(now_ns, frame)
        if order is not None:
            self._post(now_ns, Kind.STATUS, 1)
        return order


class EventlessEvents(Pack):
    """Sends an event for every order."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        order = super().hear(now_ns, frame)
        if order is not None and order.what in CONFIRMATIONS:
            self._post(now_ns, Kind.EVENT, 4)
        return order


class AnswersTwice(Pack):
    """Two receipts, each with a number of its own."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        order = super().hear(now_ns, frame)
        if order is not None:
            self._answer(now_ns, RECEIVED, order.order, 1)
        return order


class AnswersEachCopy(Pack):
    """Heard twice at once it answers twice."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        waiting, self._receipts = self._receipts, []
        order = super().hear(now_ns, frame)
        self._receipts = sorted(self._receipts + waiting)
        return order


class PressesItself(Pack):
    """Acknowledges every order by itself."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        order = super().hear(now_ns, frame)
        self.acknowledge(now_ns)
        return order


class AcknowledgesSilently(Pack):
    """The same, told in reports alone."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        order = super().hear(now_ns, frame)
        self.order_acknowledged = self.order_asked
        return order


class ButtonMeansAll(Pack):
    """The button acknowledges a confirmation."""

    def acknowledge(self, now_ns: int) -> None:
        self.order_asked = self.order_received
        super().acknowledge(now_ns)


class ButtonMeansFirst(Pack):
    """The button acknowledges the number one lower."""

    def acknowledge(self, now_ns: int) -> None:
        self.order_asked = max(self.order_asked - 1, self.order_acknowledged + 1)
        super().acknowledge(now_ns)


class ButtonAlways(Pack):
    """The button sends its last receipt again, under a new number."""

    def acknowledge(self, now_ns: int) -> None:
        if self.order_acknowledged and self.order_acknowledged == self.order_asked:
            self._answer(now_ns, ACKNOWLEDGED, self.order_acknowledged)
        super().acknowledge(now_ns)


class OutMeansAll(Pack):
    """Coming out acknowledges what waits."""

    def say_coming_out(self, now_ns: int) -> None:
        self.acknowledge(now_ns)
        super().say_coming_out(now_ns)


class OutAnswersLast(Pack):
    """Coming out names the order received last."""

    def say_coming_out(self, now_ns: int) -> None:
        told_before, self.order_acknowledged = self.order_acknowledged, self.order_received
        on, self.coming_out = self.coming_out, True
        if not on:
            self._answer(now_ns, COMING_OUT, self.order_acknowledged)
        self.order_acknowledged = told_before
        if not on:
            self._post(now_ns, Kind.EVENT, 4)


class EventFirst(Pack):
    """Coming out: the event goes before the receipt."""

    def say_coming_out(self, now_ns: int) -> None:
        if not self.coming_out:
            self.coming_out = True
            self._post(now_ns, Kind.EVENT, 4)
            self._answer(now_ns, COMING_OUT, self.order_acknowledged)


class ForgetsOut(Pack):
    """Coming out is set in the event alone."""

    def say_coming_out(self, now_ns: int) -> None:
        super().say_coming_out(now_ns)
        self.coming_out = False


def without(answer: ReceiptKind) -> type[Pack]:
    """A pack that sends no receipts of one sort."""

    class Silent(Pack):
        def _answer(self, now_ns: int, answer_: ReceiptKind, order: int, copies: int = 0) -> None:
            if answer_ is not answer:
                super()._answer(now_ns, answer_, order, copies)

    return Silent


class TalksOn(Pack):
    """Goes on with a status after its sign-off."""

    def switch_off(self, now_ns: int) -> None:
        super().switch_off(now_ns)
        self._post(now_ns + 3 * S, Kind.STATUS, 1)


def first_late(unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    """The first sign-on waits for 5 s, and says so."""
    packet: Any = codec.decode(out.frame)
    changed = encoded(unit, replace(packet, uptime_ms=packet.uptime_ms + 5000))
    return [(t + 5 * S, changed)]


def event_of(name: str, when: Any) -> Sent:
    def change(unit: Unit, packet: Any, _t: int) -> Any:
        return replace(packet, **{name: when(unit, packet)})

    return told(change, reports)


def lags(name: str) -> Sent:
    """Reports tell what was so one report earlier."""

    def change(unit: Unit, packet: Any, _t: int) -> Any:
        key = ("at", packet.sequence)
        if key not in unit.memory:
            unit.memory[key] = unit.memory.get(name, 0)
            unit.memory[name] = getattr(packet, name)
        return replace(packet, **{name: unit.memory[key]})

    return told(change, reports)


def habits(**changed: Any) -> Case:
    return Case(habits=Habits(**changed))


def scaled(share: float, interval_s: int = 5) -> Case:
    return Case(habits=Habits(spread=(0.9 * share, 1.0 * share)), interval_s=interval_s)


def same_boot(build: Build) -> Build:
    return build


def boot_before(build: Build) -> Build:
    return replace(build, boot=build.boot - 1)


OF_COUNTERS: tuple[Break, ...] = (
    breaks(
        "sequence",
        "numbers go up by two",
        Case(sent=renumbered(lambda u, out: 2 * out.sequence - 1)),
    ),
    breaks(
        "number",
        "a receipt has the number of the report before",
        Case(sent=renumbered(same_number)),
    ),
    breaks("copies", "each copy has a number of its own", Case(sent=copies_counted)),
    breaks("number", "each copy has an uptime of its own", Case(sent=told(copies_clocked))),
    breaks("sequence", "an old frame is sent again", Case(sent=sent_again_late)),
    breaks(
        "number, sequence, uptime",
        "numbers go round at 128",
        Case(sent=renumbered(lambda u, out: (out.sequence - 1) % 128 + 1)),
    ),
    breaks("uptime", "uptime in seconds", Case(sent=clocked(lambda ms: ms // 1000))),
    breaks("uptime", "uptime stands still", Case(sent=clocked(lambda ms: 0))),
    breaks(
        "uptime", "uptime leaps by 10 s", Case(sent=clocked(lambda ms: ms + ms // 30_000 * 10_000))
    ),
    breaks("clock", "the clock is 1 % slow", Case(sent=clocked(lambda ms: ms * 99 // 100))),
    breaks("clock", "the clock is 1 % fast", Case(sent=clocked(lambda ms: ms * 101 // 100))),
    breaks("clock", "the clock is 0.1 % slow", Case(sent=clocked(lambda ms: ms * 999 // 1000))),
    breaks("clock", "the clock is 0.1 % fast", Case(sent=clocked(lambda ms: ms * 1001 // 1000))),
    breaks(
        "uptime",
        "a receipt is made 2 s before it is sent",
        Case(sent=delayed(2 * S, of(Kind.RECEIPT))),
    ),
)
OF_RESTARTS: tuple[Break, ...] = (
    breaks("boot", "the boot counter goes back", Case(reboot=boot_before)),
    breaks("number, uptime", "the boot counter stays", Case(reboot=same_boot)),
    breaks("restart", "numbers go on in a new boot", Case(sent=of_earlier_boot(sequence=True))),
    breaks("restart", "uptime goes on in a new boot", Case(sent=of_earlier_boot(uptime_ms=True))),
    breaks(
        "restart, beacon",
        "the beacon is kept over a restart",
        Case(sent=of_earlier_boot(beacon_heard=True)),
    ),
    breaks(
        "restart, level",
        "orders received are kept over a restart",
        Case(sent=of_earlier_boot(order_received=True)),
    ),
    breaks(
        "restart, button",
        "orders acknowledged are kept over a restart",
        Case(sent=of_earlier_boot(order_acknowledged=True)),
    ),
    breaks(
        "restart, coming out",
        "coming out is kept over a restart",
        Case(sent=of_earlier_boot(coming_out=True)),
    ),
    breaks(
        "first",
        "the first frame of a boot is a status",
        Case(sent=told(as_kind(Kind.STATUS), lambda out: out.sequence == 1)),
    ),
    breaks(
        "first",
        "the first frame of a boot is an event",
        Case(sent=told(as_kind(Kind.EVENT), lambda out: out.sequence == 1)),
    ),
    breaks("first", "the first sign-on comes after 5 s", Case(sent=first_late)),
)
OF_INTERVALS: tuple[Break, ...] = (
    breaks("spread", "always a whole interval", habits(spread=(1.0, 1.0))),
    breaks("spread", "always 0.95 of it", habits(spread=(0.95, 0.95))),
    breaks("spread", "the same at 1 s", Case(habits=Habits(spread=(0.95, 0.95)), interval_s=1)),
    breaks("spread, interval", "between 0.9 and 0.91 of it", habits(spread=(0.9, 0.91))),
    breaks("interval, spread", "0.9 to 1.1 of it", habits(spread=(0.9, 1.1))),
    breaks("interval", "8 % too slow", scaled(1.08)),
    breaks("interval", "8 % too fast", scaled(0.92)),
    breaks("interval", "12 % too slow", scaled(1.12)),
    breaks("interval", "12 % too fast", scaled(0.88)),
    breaks("interval", "8 % too slow at 1 s", scaled(1.08, 1)),
    breaks("interval", "8 % too fast at 1 s", scaled(0.92, 1)),
    breaks("interval", "twice what is told", scaled(2.0)),
    breaks("interval", "half of what is told", scaled(0.5)),
    breaks("interval, spread", "a button restarts it", Case(pack=Metronome, interval_s=5)),
    breaks("interval", "a status for every order", Case(pack=StatusAtOnce)),
    breaks("sign-on", "signs on each 65 s", habits(sign_on_ns=67 * S)),
    breaks("sign-on", "signs on each 90 s", habits(sign_on_ns=90 * S)),
    breaks(
        "sign-on",
        "signs on only once",
        Case(sent=told(as_kind(Kind.STATUS), lambda out: SIGN_ON(out) and out.sequence > 1)),
    ),
)
OF_COPIES: tuple[Break, ...] = (
    breaks("single", "a status goes out twice", Case(sent=twice(200 * MS, STATUS))),
    breaks("single", "the sign-on goes out seven times", habits(sign_on_copies=7)),
    breaks("copies", "events have no copies", habits(event_copies=1)),
    breaks("copies", "events have one copy", habits(event_copies=2)),
    breaks("copies", "events have five copies", habits(event_copies=6)),
    breaks("copies", "button receipts have no copies", habits(receipt_copies=1)),
    breaks("copies", "button receipts have one copy", habits(receipt_copies=2)),
    breaks("copies", "button receipts have six copies", habits(receipt_copies=7)),
    breaks("gaps", "copies 20 ms apart", habits(copy_gap_s=(0.02, 0.03))),
    breaks("gaps", "copies 0.5 s apart", habits(copy_gap_s=(0.48, 0.55))),
    breaks("gaps at random", "copies always 0.25 s apart", habits(copy_gap_s=(0.25, 0.25))),
    breaks("gaps at random", "copies always 0.1 s apart", habits(copy_gap_s=(0.1, 0.1))),
    breaks("gaps at random", "copies always 0.4 s apart", habits(copy_gap_s=(0.4, 0.4))),
    breaks(
        "gaps at random", "sign-off copies always 0.5 s apart", habits(sign_off_gap_s=(0.5, 0.5))
    ),
    breaks("sign-off", "signs off with three copies", habits(sign_off_copies=4)),
    breaks("sign-off", "signs off once", habits(sign_off_copies=1)),
    breaks("sign-off", "signs off eight times", habits(sign_off_copies=8)),
    breaks("sign-off, gaps", "signs off over 4 s", habits(sign_off_gap_s=(0.95, 1.0))),
    breaks("sign-off", "a status after the sign-off", Case(pack=TalksOn)),
    breaks(
        "once",
        "an order received is receipted with copies",
        Case(sent=twice(200 * MS, lambda out: out.kind is Kind.RECEIPT)),
    ),
)
OF_EVENTS: tuple[Break, ...] = (
    breaks("event", "distress in a status alone", Case(sent=no_event("distress"))),
    breaks("event, coming out", "coming out in a status alone", Case(sent=no_event("coming_out"))),
    breaks(
        "event, uptime", "the event comes after the next status", Case(sent=delayed(6 * S, EVENT))
    ),
    breaks("event", "an event though nothing has changed", Case(pack=EventlessEvents)),
    breaks("coming out", "no receipt for coming out", Case(pack=without(COMING_OUT))),
    breaks("coming out", "coming out: the event first", Case(pack=EventFirst)),
    breaks("coming out", "coming out: in the event alone", Case(pack=ForgetsOut)),
    breaks("coming out", "coming out names the order received last", Case(pack=OutAnswersLast)),
    breaks("unasked, coming out", "coming out acknowledges what waits", Case(pack=OutMeansAll)),
    breaks("unasked", "acknowledges before any press", Case(pack=PressesItself)),
    breaks(
        "button", "acknowledges before any press, in reports alone", Case(pack=AcknowledgesSilently)
    ),
    breaks("button", "the button acknowledges a confirmation", Case(pack=ButtonMeansAll)),
    breaks("button", "the button acknowledges one number lower", Case(pack=ButtonMeansFirst)),
    breaks("unasked", "the button acknowledges once more", Case(pack=ButtonAlways)),
    breaks(
        "button",
        "reports never tell what was acknowledged",
        Case(sent=event_of("order_acknowledged", lambda unit, packet: 0)),
    ),
    breaks("button", "reports tell an answer one late", Case(sent=lags("order_acknowledged"))),
    breaks("button", "no receipt for the button", Case(pack=without(ACKNOWLEDGED))),
    breaks(
        "level",
        "reports never tell what was received",
        Case(sent=event_of("order_received", lambda unit, packet: 0)),
    ),
    breaks("level", "reports tell an order one late", Case(sent=lags("order_received"))),
    breaks(
        "level",
        "reports tell what was acknowledged as received",
        Case(sent=event_of("order_received", lambda unit, packet: packet.order_acknowledged)),
    ),
)
OF_RECEIPTS: tuple[Break, ...] = (
    breaks("receipt at random", "receipts after 0.5 s", habits(received_s=(0.5, 0.5))),
    breaks("receipt at random", "receipts after 0.65 s", habits(received_s=(0.65, 0.65))),
    breaks("receipt at random", "receipts at once", habits(received_s=(0.0, 0.05))),
    breaks("receipt at random", "receipts after 0.05 to 0.35 s", habits(received_s=(0.05, 0.35))),
    breaks("receipt at random", "receipts after 0.9 to 1 s", habits(received_s=(0.9, 1.0))),
    breaks("received", "receipts after 1.4 to 3 s", habits(received_s=(1.4, 3.0))),
    breaks("evacuate", "no receipts for orders received", Case(pack=without(RECEIVED))),
    breaks("once", "two receipts with a number each", Case(pack=AnswersTwice)),
    breaks("twice", "an order heard twice at once is answered twice", Case(pack=AnswersEachCopy)),
)  # fmt: skip

OF_CONDUCT = (
    *OF_COUNTERS, *OF_RESTARTS, *OF_INTERVALS, *OF_COPIES, *OF_EVENTS, *OF_RECEIPTS,
)  # fmt: skip
