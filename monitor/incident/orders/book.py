"""All that the fold keeps of orders and emergency crews."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from monitor.incident.orders.events import OrderName
from monitor.incident.orders.order import Confirmation, Line, Order, Pager

ORDERS_MAX = 1_000
"""Of one incident; far more than anybody gives."""
ANSWERS_TOO: dict[OrderName, tuple[OrderName, ...]] = {
    "evacuate": ("evacuate", "come out"),
    "come out": ("come out",),
    "roll call": ("roll call",),
    "test": ("test",),
}
"""Whoever answers the one has answered those, given earlier, as well."""
NUMBERS_LOST_MAX = 64
"""Orders to one pack that can have been sent with their rows lost: 20 ms as a rule, minutes on a
disk that takes nothing."""


@dataclass(frozen=True, slots=True)
class Emergency:
    """A crew that stands by, or has been sent in, as emergency crew."""

    state: Literal["ready", "committed"]
    since_ns: int


class Book:
    """Orders by number, packs by identity, emergency crews by name."""

    def __init__(self) -> None:
        self.orders: dict[int, Order] = {}
        self.pagers: dict[int, Pager] = {}
        self.sending: dict[int, tuple[Order | None, Line | Confirmation]] = {}
        """By pack: the one order or confirmation that goes to it now."""
        self.alarmed: set[int] = set()
        """Wearers on whom an alarm of orders stands."""
        self.emergency: dict[str, Emergency] = {}
        self.roll_from_ns: int | None = None
        """From when the time to the next roll call runs; None: nobody is in."""
        self.roll_wanted_ns: int | None = None
        """An evacuation ended then, and no roll has been called since."""

    def open(self) -> Iterator[Order]:
        """Those that still stand."""
        return (order for order in self.orders.values() if order.is_open)

    def lines_of(self, wearer: int) -> Iterator[tuple[Order, Line]]:
        """What stands open for this wearer, newest first."""
        for order in reversed(self.orders.values()):
            line = order.lines.get(wearer) if order.is_open else None
            if line is not None:
                yield order, line

    def answered_too(self, wearer: int, order: Order) -> list[Line]:
        """Lines of earlier orders that this wearer's answer to ``order`` answers as well."""
        names = ANSWERS_TOO[order.given.order]
        return [
            line
            for other, line in self.lines_of(wearer)
            if other.number < order.number and other.given.order in names
        ]

    def pager(self, identity: int) -> Pager:
        """A pack's side, made if it is new."""
        pager = self.pagers.get(identity)
        if pager is None:
            pager = self.pagers[identity] = Pager()
        return pager

    def state_of(self, crew: str) -> str:
        """``ready``, ``committed`` or empty."""
        emergency = self.emergency.get(crew)
        return emergency.state if emergency else ""

    def new_session(self) -> None:
        """The recorder was away: what it may have sent just before is in no journal.

        An order whose row was lost may still have reached packs under its number. So no number
        that could have been used so is ever used again.
        """
        for pager in self.pagers.values():
            pager.given = max(pager.given, pager.received) + NUMBERS_LOST_MAX
