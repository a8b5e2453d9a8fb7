"""The electronics of one pack: what it sends, when, and what it does with what it hears.

On from ``Pack(...)`` to ``switch_off``. It knows nothing of wearer or cylinder but what its
sensors say (``Senses``), and nothing of the radio but frames. Time is integer ns of the run.

    report    every interval, a random part of a tenth early so that packs do not stay in step;
              at least every 60 s it is a sign-on, which carries the equipment
    event     the same state, at once when it changes for the worse or back, then as copies
    sign-off  five copies
    receipt   an order received, once, within a second; an order acknowledged by the wearer, coming
              out: at once, with copies

The wearer's button answers the highest order received that asks for an answer; a distress that
is confirmed asks for none. An order to evacuate sounds (``tone``) until the button is pressed or
the pack is off.

The motion sensor warns after 20 s without a move and alarms after 30 s, as pass devices in
common use do; a move ends the warning, the alarm stays until it is set back by hand.
"""

import heapq
from collections import Counter
from dataclasses import dataclass
from random import Random

from protocol import codec
from protocol.freshness import Fresh, OrderGate
from protocol.integrity import PackKeys
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
from protocol.rejects import Reject
from simulators.randoms import between
from simulators.tone import Tone

SECOND_NS = 1_000_000_000
STILL_NS = 3 * SECOND_NS
"""Shorter than this nobody calls it still."""
PRE_ALARM_NS = 20 * SECOND_NS
ALARM_NS = 30 * SECOND_NS
SPREAD = (0.9, 1.0)
"""A report comes after so much of its interval, so that two packs do not stay in step."""
FIRST_SPREAD = (0.2, 1.0)
"""The same of the first report after the sign-on that begins a boot."""
SIGN_ON_NS = 60 * SECOND_NS
EVENT_COPIES = 4
RECEIPT_COPIES = 3
RECEIVED_S = (0.05, 1.0)
"""An order is receipted once, so long after it: many packs get it at once, and all would answer
into the base's next one."""
SIGN_OFF_COPIES = 5
COPY_GAP_S = (0.1, 0.4)
"""Between copies: beyond the length of a short burst of noise."""
ANSWERED = (OrderKind.EVACUATE, OrderKind.COME_OUT, OrderKind.ROLL_CALL, OrderKind.TEST)
"""Orders that the wearer answers with a button."""
BATTERY_NS_PER_PERCENT = 600 * SECOND_NS
"""A full battery lasts about 16 hours (invented)."""


@dataclass(frozen=True, slots=True)
class Habits:
    """How often and when it sends. Copies count the frame itself; spans are drawn from evenly."""

    event_copies: int = EVENT_COPIES
    receipt_copies: int = RECEIPT_COPIES
    sign_off_copies: int = SIGN_OFF_COPIES
    sign_on_copies: int = EVENT_COPIES
    """Of the one that begins a boot."""
    copy_gap_s: tuple[float, float] = COPY_GAP_S
    sign_off_gap_s: tuple[float, float] = COPY_GAP_S
    received_s: tuple[float, float] = RECEIVED_S
    spread: tuple[float, float] = SPREAD
    first_spread: tuple[float, float] = FIRST_SPREAD
    sign_on_ns: int = SIGN_ON_NS


OURS = Habits()


@dataclass(frozen=True, slots=True)
class Build:
    """What is fixed about a pack while it is on."""

    identity: int
    boot: int
    interval_s: int
    equipment: Equipment
    battery_percent: int | None
    """When it is switched on; None: it does not know."""
    keys: PackKeys | None
    """None: an open pack, its frames prove nothing."""
    tests: tuple[CheckResult, CheckResult, CheckResult] = (CheckResult.PASSED,) * 3
    """Self-test, low-air warning, motion warning."""
    habits: Habits = OURS


@dataclass(slots=True)
class Senses:
    """What the sensors say at one instant."""

    pressure_dbar: int | None
    gas_temperature_c: int | None
    last_moved_ns: int


@dataclass(frozen=True, slots=True)
class Outgoing:
    """A frame on its way to the antenna."""

    kind: Kind
    sequence: int
    copy: int
    """0 for the frame itself, then 1, 2 ... for its copies."""
    frame: bytes


def equipment(rated_bar: float, water_volume_l: float, low_air_bar: float) -> Equipment:
    """Give an open-circuit set in the units of the wire."""
    return Equipment(
        apparatus=Apparatus.OPEN_CIRCUIT,
        rated_pressure_dbar=round(rated_bar * 10),
        water_volume_cl=round(water_volume_l * 100),
        low_air_dbar=round(low_air_bar * 10),
    )


class Pack:
    """One pack that is switched on."""

    def __init__(self, build: Build, random: Random, senses: Senses, now_ns: int) -> None:
        """Switch on: the sign-on is due at once, then a report each interval."""
        self.build = build
        self.on = True
        self.motion = Motion.MOVING
        self.low_air = False
        self.distress = False
        self.coming_out = False
        self.order_asked = 0
        """Highest order received that the wearer is to answer."""
        self.order_acknowledged = 0
        self.sounding: Tone | None = None
        """The evacuation tone, while it sounds."""
        self.beacon_heard = 0
        self.refused: Counter[Reject] = Counter()
        """Frames from the air that it did not take, by reason."""
        self._random = random
        self._senses = senses
        self._on_ns = now_ns
        self._charged_ns = now_ns
        """When the battery had what ``build`` says."""
        self._sequence = 0
        self._gate = OrderGate(build.boot)
        self._outbox: list[tuple[int, int, Outgoing]] = []
        self._receipts: list[tuple[int, int]] = []
        """Orders received and not receipted yet: when to, and the number."""
        self._posted = 0
        self._sign_on_ns = now_ns
        self._report_ns = now_ns + self._interval_ns(build.habits.first_spread)
        self._post(now_ns, Kind.SIGN_ON, build.habits.sign_on_copies)

    @property
    def sequence(self) -> int:
        """Number of the last frame sent in this boot."""
        return self._sequence

    @property
    def order_received(self) -> int:
        """Highest order number received in this boot."""
        return self._gate.highest

    @property
    def due_ns(self) -> int | None:
        """When it next has something to send; None if never (it is off and all is said)."""
        waiting = self._outbox[0][0] if self._outbox else None
        if not self.on:
            return waiting
        due = self._report_ns if waiting is None else min(waiting, self._report_ns)
        return min(due, self._receipts[0][0]) if self._receipts else due

    @property
    def motion_due_ns(self) -> int | None:
        """When the motion sensor will next warn if nothing moves; None: it has done so."""
        if not self.on or self.motion is Motion.ALARM:
            return None
        wait = ALARM_NS if self.motion is Motion.PRE_ALARM else PRE_ALARM_NS
        return self._senses.last_moved_ns + wait

    def send(self, now_ns: int) -> list[Outgoing]:
        """Everything that is due now, in order."""
        if self.on and self._report_ns <= now_ns:
            self._report(now_ns)
        while self.on and self._receipts and self._receipts[0][0] <= now_ns:
            number = heapq.heappop(self._receipts)[1]
            self._answer(now_ns, ReceiptKind.RECEIVED, number, 1)
        due: list[Outgoing] = []
        while self._outbox and self._outbox[0][0] <= now_ns:
            due.append(heapq.heappop(self._outbox)[2])
        return due

    def sense(self, now_ns: int, senses: Senses) -> None:
        """Take in what the sensors say; what matters is sent at once, as an event."""
        if not self.on:
            return
        self._senses = senses
        before = (self.motion >= Motion.PRE_ALARM, self.motion is Motion.ALARM, self.low_air)
        self.motion = self._motion(now_ns - senses.last_moved_ns)
        low_air_dbar = self.build.equipment.low_air_dbar
        if low_air_dbar is not None and senses.pressure_dbar is not None:
            self.low_air = senses.pressure_dbar <= low_air_dbar
        after = (self.motion >= Motion.PRE_ALARM, self.motion is Motion.ALARM, self.low_air)
        if after != before:
            self._post(now_ns, Kind.EVENT, self.build.habits.event_copies)

    def refit(self, now_ns: int, build: Build) -> None:
        """Change what is otherwise fixed while a pack is on; the base is told at once.

        The battery's level alone waits for the next report.
        """
        before, self.build = self.build, build
        if build.battery_percent != before.battery_percent:
            self._charged_ns = now_ns
        if not self.on:
            return
        if build.tests != before.tests:
            self._post(now_ns, Kind.EVENT, self.build.habits.event_copies)
        elif build.equipment != before.equipment:
            self._sign_on_ns = now_ns
            self._report_ns = now_ns + self._interval_ns(build.habits.spread)
            self._post(now_ns, Kind.SIGN_ON, 1)
        elif build.interval_s != before.interval_s:
            self._report_ns = now_ns

    def press_distress(self, now_ns: int, *, on: bool) -> None:
        """Press the distress button, or set it back."""
        if self.on and self.distress is not on:
            self.distress = on
            self._post(now_ns, Kind.EVENT, self.build.habits.event_copies)

    def reset_motion(self, now_ns: int) -> None:
        """Set the motion sensor back by hand, which is a move."""
        if self.on and self.motion >= Motion.PRE_ALARM:
            self.motion = Motion.MOVING
            self._senses.last_moved_ns = now_ns
            self._post(now_ns, Kind.EVENT, self.build.habits.event_copies)

    def say_coming_out(self, now_ns: int) -> None:
        """Tell the base, with the button, that the wearer is on the way out."""
        if self.on and not self.coming_out:
            self.coming_out = True
            self._answer(now_ns, ReceiptKind.COMING_OUT, self.order_acknowledged)
            self._post(now_ns, Kind.EVENT, self.build.habits.event_copies)

    def acknowledge(self, now_ns: int) -> None:
        """Acknowledge the last order, as the wearer does with a button."""
        if self.on and self.order_acknowledged < self.order_asked:
            self.order_acknowledged = self.order_asked
            self.sounding = None
            self._answer(now_ns, ReceiptKind.ACKNOWLEDGED, self.order_acknowledged)

    def switch_off(self, now_ns: int) -> None:
        """Sign off in order and be silent. What still waited to be sent goes with it."""
        if self.on:
            self._outbox.clear()
            self._post(now_ns, Kind.SIGN_OFF, self.build.habits.sign_off_copies)
            self._go_off()

    def die(self) -> None:
        """Be off at once, without a word: a dead battery."""
        self._outbox.clear()
        self._go_off()

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        """Take in a frame of the base; gives an order that is new, for the wearer to obey."""
        if not self.on:
            return None
        packet = codec.receive_down(frame, self.build.identity, self.build.keys)
        if isinstance(packet, Beacon):
            self.beacon_heard = packet.value
            return None
        if isinstance(packet, Order):
            verdict = self._gate.take(packet, now_ns)
            if isinstance(verdict, Fresh):
                if verdict is Fresh.NEW and packet.what in ANSWERED:
                    self._alert(now_ns, packet)
                wait_ns = round(between(self._random, *self.build.habits.received_s) * SECOND_NS)
                if all(number != packet.order for _, number in self._receipts):
                    heapq.heappush(self._receipts, (now_ns + wait_ns, packet.order))
                return packet if verdict is Fresh.NEW else None
            packet = verdict
        self.refused[packet] += 1
        return None

    def _alert(self, now_ns: int, order: Order) -> None:
        """Ask the wearer for an answer; the tone begins with the first order to evacuate."""
        self.order_asked = order.order
        if order.what is OrderKind.EVACUATE and self.sounding is None:
            self.sounding = Tone(order.order, now_ns)

    def _go_off(self) -> None:
        self.on = False
        self.sounding = None

    def _motion(self, still_ns: int) -> Motion:
        if self.motion is Motion.ALARM or still_ns >= ALARM_NS:
            return Motion.ALARM
        if still_ns >= PRE_ALARM_NS:
            return Motion.PRE_ALARM
        return Motion.STILL if still_ns >= STILL_NS else Motion.MOVING

    def _report(self, now_ns: int) -> None:
        interval_ns, habits = self.build.interval_s * SECOND_NS, self.build.habits
        # The report after this one may be too late to be the sign-on.
        last_chance = now_ns + interval_ns > self._sign_on_ns + habits.sign_on_ns
        self._post(now_ns, Kind.SIGN_ON if last_chance else Kind.STATUS, 1)
        if last_chance:
            self._sign_on_ns = now_ns
        self._report_ns = now_ns + self._interval_ns(habits.spread)

    def _interval_ns(self, spread: tuple[float, float]) -> int:
        return round(between(self._random, *spread) * self.build.interval_s * SECOND_NS)

    def _post(self, now_ns: int, kind: Kind, copies: int) -> None:
        """Put the present state into the outbox, with copies that are the same to the byte."""
        self._sequence += 1
        build = self.build
        packet = Report(
            kind=kind,
            identity=build.identity,
            boot=build.boot,
            sequence=self._sequence,
            epoch=build.keys.epoch if build.keys else 0,
            keyed=build.keys is not None,
            pressure_dbar=self._senses.pressure_dbar,
            gas_temperature_c=self._senses.gas_temperature_c,
            battery_percent=self._battery(now_ns),
            motion=self.motion,
            distress=self.distress,
            low_air=self.low_air,
            coming_out=self.coming_out,
            self_test=build.tests[0],
            air_warning_test=build.tests[1],
            motion_warning_test=build.tests[2],
            interval_s=build.interval_s,
            uptime_ms=self._uptime_ms(now_ns),
            order_received=self._gate.highest,
            order_acknowledged=self.order_acknowledged,
            beacon_heard=self.beacon_heard,
            equipment=build.equipment if kind is Kind.SIGN_ON else None,
        )
        self._queue(now_ns, packet, kind, copies)

    def _answer(self, now_ns: int, answer: ReceiptKind, order: int, copies: int = 0) -> None:
        """Queue a receipt; ``copies`` 0: as many as of an answer by button."""
        self._sequence += 1
        packet = Receipt(
            identity=self.build.identity,
            boot=self.build.boot,
            sequence=self._sequence,
            epoch=self.build.keys.epoch if self.build.keys else 0,
            keyed=self.build.keys is not None,
            answer=answer,
            order=order,
            uptime_ms=self._uptime_ms(now_ns),
            beacon_heard=self.beacon_heard,
        )
        self._queue(now_ns, packet, Kind.RECEIPT, copies or self.build.habits.receipt_copies)

    def _queue(self, now_ns: int, packet: Report | Receipt, kind: Kind, copies: int) -> None:
        frame = codec.encode(packet, self.build.keys.up if self.build.keys else None)
        self._gate.sent(self._sequence, now_ns)
        at_ns, habits = now_ns, self.build.habits
        gap_s = habits.sign_off_gap_s if kind is Kind.SIGN_OFF else habits.copy_gap_s
        for copy in range(copies):
            heapq.heappush(
                self._outbox,
                (at_ns, self._posted, Outgoing(kind, self._sequence, copy, frame)),
            )
            self._posted += 1
            at_ns += round(between(self._random, *gap_s) * SECOND_NS)

    def _battery(self, now_ns: int) -> int | None:
        if self.build.battery_percent is None:
            return None
        used = (now_ns - self._charged_ns) // BATTERY_NS_PER_PERCENT
        return max(self.build.battery_percent - used, 0)

    def _uptime_ms(self, now_ns: int) -> int:
        return (now_ns - self._on_ns) // 1_000_000
