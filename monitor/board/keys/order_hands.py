"""The keys of orders: opening one, saying for whom and on whose order, sending it. Pure.

What is common to all questions is here too: which one is open, until when, who is chosen.
"""

from dataclasses import dataclass, field, replace

from monitor.board.acts import drafts
from monitor.board.acts.drafts import WHOSE, Draft
from monitor.board.acts.effects import CrewState, Effect, Say
from monitor.board.acts.questions import CLOSE_REASONS, Mode
from monitor.board.words.choosing import wearer_of
from monitor.incident.orders.events import OrderName
from monitor.incident.orders.order import COME_OUT_REASONS
from monitor.incident.picture import OrderView, Picture

CHOSEN_NS = 5_000_000_000
"""A chosen wearer is forgotten after this long."""
QUESTION_NS = 10_000_000_000
"""A question that nobody answers goes away, and so does an order that nobody sends."""
ORDER_READ_NS = 200_000_000
"""An order must have stood this long on the screen before it can be sent: two keys struck together
by an arm or a sleeve come within some hundredths of a second."""
NOT_SENT = "NOT SENT"
LAPSED = f"{NOT_SENT}: the order stood open for {QUESTION_NS // 1_000_000_000} s"
"""Said once an open order has gone away by itself."""
NO_ORDER = "no order is open: f evacuate, Tab another order"
IN_ORDER = frozenset(
    {
        *("digit", "crew", "and", "whose", "send", "evacuate", "orders", "leave", "quit"),
        *("take", "take cautions", "silence"),
    }
)
"""What a key may do while an order stands open. Any other closes it and does nothing else."""
OPENED: dict[int, OrderName | None] = {1: "come out", 2: "roll call", 3: "test", 7: None}
"""Numbered picks of ``Mode.ORDERS``; None: close an order."""
CREW_STATES: dict[int, CrewState] = {4: "ready", 5: "committed", 6: "stood down"}
"""The others: what the chosen crew is as emergency crew."""


@dataclass(slots=True)
class OrderHands:
    """What is asked and chosen now, and the keys that have to do with orders."""

    mode: Mode = Mode.BOARD
    typed: str = ""
    chosen: tuple[int, ...] = ()
    until_ns: int = 0
    """When the present question or choice goes away."""
    draft: Draft = field(default_factory=Draft)
    """The order that stands open in ``Mode.ORDER``."""
    why: str = ""
    """The reason picked in an open question."""
    _others: tuple[int, ...] = ()
    """Chosen before the wearer chosen last, and to stay so."""
    _about: int = 0
    """The alarm, or order, that the open question is about."""
    _order_seen_ns: int | None = None
    """Since when the open order can be read on the screen."""

    def order_drawn(self, now_ns: int) -> None:
        """Take note that the open order stands on the screen."""
        if self._order_seen_ns is None:
            self._order_seen_ns = now_ns

    def half_typed(self, picture: Picture) -> bool:
        """Tell whether the digits so far are nobody's number yet."""
        return bool(self.typed) and wearer_of(picture, int(self.typed)) is None

    def _back(self) -> None:
        self.mode = Mode.BOARD
        self.typed = ""
        self.chosen = self._others = ()

    def _ask(self, mode: Mode, now_ns: int) -> None:
        self.mode = mode
        self.typed = ""
        self.until_ns = now_ns + QUESTION_NS

    def _stand(self, now_ns: int) -> None:
        """A choice stands for a while; within an open order as long as that."""
        self.until_ns = now_ns + (QUESTION_NS if self.mode is Mode.ORDER else CHOSEN_NS)

    def _order_key(self, does: str, name: str, now_ns: int, picture: Picture) -> Effect | None:
        match does:
            case "send":
                return self._send(now_ns, picture)
            case "orders":
                return self._orders(now_ns, picture)
            case "whose":
                return self._whose(name, now_ns)
        self._open_order(Draft(), now_ns)
        return None

    def _open_order(self, draft: Draft, now_ns: int) -> None:
        """Have an order stand ready for whoever is chosen; the same again changes nothing."""
        if self.mode is Mode.ORDER and self.draft.order == draft.order:
            return
        self._ask(Mode.ORDER, now_ns)
        self.draft = draft
        self._order_seen_ns = None

    def _send(self, now_ns: int, picture: Picture) -> Effect:
        """Send the order that stands open, if it could be read."""
        if self.mode is not Mode.ORDER:
            return Say(NO_ORDER)
        seen_ns = self._order_seen_ns
        if seen_ns is None or now_ns - seen_ns < ORDER_READ_NS:
            effect: Effect = Say(f"{NOT_SENT}: too soon; open it again, read it, then j")
        elif self.half_typed(picture):
            effect = Say(f"{NOT_SENT}: no wearer has number {self.typed}")
        else:
            effect = drafts.given(self.draft, picture, self.chosen)
        self._back()
        return effect

    def _whose(self, name: str, now_ns: int) -> Effect | None:
        """On whose order the open one is given: the officer's own, or passed on."""
        if self.mode is not Mode.ORDER:
            return Say(NO_ORDER)
        step = 1 if name == "right" else -1
        self.draft = replace(self.draft, whose=(self.draft.whose + step) % len(WHOSE))
        self.until_ns = now_ns + QUESTION_NS
        return None

    def _orders(self, now_ns: int, picture: Picture) -> Effect | None:
        """Ask which; about an order to be closed the next one."""
        if self.mode is Mode.WHY_CLOSE:
            return self._ask_close(now_ns, picture)
        self._ask(Mode.ORDERS, now_ns)
        return None

    def _ask_close(self, now_ns: int, picture: Picture) -> Effect | None:
        numbers = [order.number for order in drafts.open_orders(picture)]
        if not numbers:
            self._back()
            return Say("no order stands")
        again = self.mode is Mode.WHY_CLOSE and self._about in numbers
        place = numbers.index(self._about) + 1 if again else 0
        self._about = numbers[place % len(numbers)]
        self._ask(Mode.WHY_CLOSE, now_ns)
        return None

    def asked_to_close(self, picture: Picture) -> OrderView | None:
        """The order that is to be closed; None if it is over meanwhile."""
        return next((o for o in drafts.open_orders(picture) if o.number == self._about), None)

    def _order_digit(self, digit: int, now_ns: int, picture: Picture) -> Effect | None:
        """Take the numbered answer to a question about orders."""
        mode, chosen = self.mode, self.chosen
        if mode is Mode.ORDERS and digit in OPENED:
            return self._opened(OPENED[digit], now_ns, picture)
        if mode is Mode.WHY_OUT and digit <= len(COME_OUT_REASONS):
            reason = COME_OUT_REASONS[digit - 1] if digit else ""
            self._open_order(Draft("come out", reason), now_ns)
            return None
        order = self.asked_to_close(picture)
        if mode is Mode.CLOSE_SURE:
            return Say("Enter closes it, Esc leaves it")
        if mode is Mode.WHY_CLOSE and order and 0 < digit <= len(CLOSE_REASONS):
            self.why = CLOSE_REASONS[digit - 1]
            self._ask(Mode.CLOSE_SURE, now_ns)
            return None
        self._back()
        if mode is Mode.ORDERS and digit in CREW_STATES:
            return drafts.emergency(picture, chosen, CREW_STATES[digit])
        return Say("nothing done")

    def _opened(self, what: OrderName | None, now_ns: int, picture: Picture) -> Effect | None:
        """Go on with this order; None: with closing one."""
        if what is None:
            return self._ask_close(now_ns, picture)
        if what == "come out":
            if not self.chosen:
                self._back()
                return Say("come out: first the number of a wearer")
            self._ask(Mode.WHY_OUT, now_ns)
            return None
        self._open_order(Draft(what), now_ns)
        return None
