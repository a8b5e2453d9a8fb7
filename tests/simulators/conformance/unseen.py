"""Breaks that nobody can see from outside in a trial, each with why."""

from dataclasses import replace

from protocol.packets import CONFIRMATIONS, Order
from simulators.pack import Pack, Senses
from simulators.tone import Tone
from tests.simulators.conformance.changes import passes, renumbered
from tests.simulators.conformance.wearing import Case


class Mute(Pack):
    """An order to evacuate makes no sound."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        order = super().hear(now_ns, frame)
        self.sounding = None
        return order


class SoundsForAll(Pack):
    """Every order makes the sound of an evacuation."""

    def hear(self, now_ns: int, frame: bytes) -> Order | None:
        order = super().hear(now_ns, frame)
        if order is not None and order.what not in CONFIRMATIONS:
            self.sounding = Tone(order.order, now_ns)
        return order


class SoundsOn(Pack):
    """The sound goes on after the button."""

    def acknowledge(self, now_ns: int) -> None:
        sounding = self.sounding
        super().acknowledge(now_ns)
        self.sounding = sounding


class ShowsMore(Pack):
    """The pressure is rounded up."""

    def sense(self, now_ns: int, senses: Senses) -> None:
        dbar = senses.pressure_dbar
        super().sense(now_ns, replace(senses, pressure_dbar=None if dbar is None else dbar + 1))


class NeverLow(Pack):
    """The set's own warning is never told."""

    def sense(self, now_ns: int, senses: Senses) -> None:
        super().sense(now_ns, senses)
        self.low_air = False


UNSEEN: dict[str, Case] = {
    "no tone: it is for ears": Case(pack=Mute),
    "a tone for every order: the same": Case(pack=SoundsForAll),
    "a tone that goes on: the same": Case(pack=SoundsOn),
    "pressure a tenth too high: no gauge is read beside it": Case(pack=ShowsMore),
    "low air is never told: nobody empties a cylinder for a trial": Case(pack=NeverLow),
    "numbers of 16 bits: a trial has some hundred frames": Case(
        sent=renumbered(lambda unit, out: (out.sequence - 1) % 65535 + 1)
    ),
    "60 s are 75 s in a pack that sends each second: 64 frames are gone before": Case(
        interval_s=1,
        heard=passes(
            lambda unit, order, t: 60 < (t - unit.sent_at.get(order.sequence, t)) / 1e9 < 75
        ),
    ),
}
