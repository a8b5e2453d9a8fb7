"""Frames and gauge readings by voice as rows of the table of readings. Pure."""

from enum import IntEnum

from monitor.incident.events import Heard, JoinPack, SpokenReading
from monitor.incident.rows import Standing
from protocol.naming import words
from protocol.packets import (
    Apparatus,
    CheckResult,
    Equipment,
    Kind,
    Motion,
    Receipt,
    ReceiptKind,
    Report,
)

STANDINGS = {
    Standing.LIVE: "live",
    Standing.NOT_PROVEN: "not proven live",
    Standing.HELD: "held up on its way",
    Standing.OLD: "old",
    Standing.OLD_NOW: "old numbers, recent beacon",
    Standing.UNPROVEN_DISTRESS: "open distress",
}
"""What a frame proves, in the words of the tables."""
DBAR, CENTILITRES = 10, 100

Row = tuple[object, ...]
_TELEMETRY, _VOICE = "telemetry", "voice"


def _all_words(kind: type[IntEnum]) -> dict[int, str]:
    return {int(member): words(member) for member in kind}


_KINDS, _MOTIONS, _RESULTS = _all_words(Kind), _all_words(Motion), _all_words(CheckResult)
_APPARATUS, _ANSWERS = _all_words(Apparatus), _all_words(ReceiptKind)
_RECEIPT = words(Kind.RECEIPT)
_NO_EQUIPMENT: Row = (None, None, None, None)


class Readings:
    """Makes rows; remembers who has which pack, and what each set said of itself."""

    def __init__(self, use: str) -> None:
        self.use = use
        """EXERCISE or REAL, in every row from now on."""
        self._wearer_of: dict[int, int] = {}
        self.water_volume_l: dict[int, float] = {}
        """By pack, as its last sign-on told."""

    def join(self, act: JoinPack) -> None:
        """Note who has which pack from now on."""
        for pack in [p for p, wearer in self._wearer_of.items() if wearer == act.wearer]:
            del self._wearer_of[pack]
        if act.pack is not None:
            self._wearer_of[act.pack] = act.wearer

    def frame(self, number: int, clock: int, heard: Heard) -> Row:
        """One frame; ``clock``: the wall clock at its time, ns."""
        packet = heard.packet
        head = (
            self.use, number, heard.t, clock, _TELEMETRY, _RECEIPT, STANDINGS[heard.standing],
            self._wearer_of.get(packet.identity), packet.identity, heard.link, heard.signal_dbm,
            heard.late_ns, packet.boot, packet.sequence, packet.uptime_ms,
        )  # fmt: skip
        if isinstance(packet, Receipt):
            return _receipt(head, packet)
        return (*head[:5], _KINDS[packet.kind], *head[6:], *self._report(packet))

    def _report(self, report: Report) -> Row:
        dbar = report.pressure_dbar
        equipment = report.equipment
        return (
            None if dbar is None else dbar / DBAR,
            report.gas_temperature_c,
            report.battery_percent,
            _MOTIONS[report.motion],
            report.distress,
            report.low_air,
            report.coming_out,
            _RESULTS[report.self_test],
            _RESULTS[report.air_warning_test],
            _RESULTS[report.motion_warning_test],
            report.interval_s,
            report.order_received,
            report.order_acknowledged,
            None,
            *(_NO_EQUIPMENT if equipment is None else self._equipment(report.identity, equipment)),
        )

    def _equipment(self, pack: int, told: Equipment) -> Row:
        volume = _scaled(told.water_volume_cl, CENTILITRES)
        if volume is not None:
            self.water_volume_l[pack] = volume
        rated, low = _scaled(told.rated_pressure_dbar, DBAR), _scaled(told.low_air_dbar, DBAR)
        return _APPARATUS[told.apparatus], rated, volume, low

    def spoken(self, number: int, t: int, clock: int, act: SpokenReading) -> list[Row]:
        """One row a wearer whose gauge, or the lowest of whose gauges, was read out."""
        kind = "lowest of several" if act.lowest else "spoken reading"
        blank = (None,) * 16
        return [
            (self.use, number, t, clock, _VOICE, kind, None, wearer,
             self._pack_of(wearer), 0, None, 0, None, None, None, act.pressure_bar, *blank, None)
            for wearer in act.wearers
        ]  # fmt: skip

    def _pack_of(self, wearer: int) -> int | None:
        return next((pack for pack, whose in self._wearer_of.items() if whose == wearer), None)


def _receipt(head: Row, receipt: Receipt) -> Row:
    acknowledged = receipt.order if receipt.answer is ReceiptKind.ACKNOWLEDGED else None
    answer = _ANSWERS[receipt.answer]
    return (*head, *(None,) * 11, receipt.order, acknowledged, answer, *_NO_EQUIPMENT)


def _scaled(value: int | None, scale: int) -> float | None:
    return None if value is None else value / scale
