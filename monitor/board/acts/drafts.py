"""An order before it is sent, and the other acts that have to do with orders. Pure.

Nothing here sends: ``GiveAnOrder`` comes from ``hands`` once the second key has been pressed.
"""

from dataclasses import dataclass

from monitor.board.acts.effects import (
    AnswerForThem,
    CloseAnOrder,
    CrewState,
    EmergencyState,
    GiveAnOrder,
    Say,
)
from monitor.board.words.choosing import crews_of, names, scope_words, wearer_of
from monitor.board.words.marks import clean
from monitor.incident.orders.events import OrderName
from monitor.incident.orders.order import RULES
from monitor.incident.picture import OrderView, Picture

WHOSE = ("", "command", "another entry point")
"""On whose order: the officer's own, or passed on. A name can be typed at the plain board."""
EVERYBODY = "everybody"


@dataclass(frozen=True, slots=True)
class Draft:
    """An order that stands ready."""

    order: OrderName = "evacuate"
    reason: str = ""
    whose: int = 0
    """Place in ``WHOSE``."""


def covered(draft: Draft, picture: Picture, chosen: tuple[int, ...]) -> tuple[int, ...]:
    """Whom it covers, by number; empty: everybody. One who comes out brings the whole crew."""
    return crews_of(picture, chosen) if draft.order == "come out" else chosen


def scope_of(draft: Draft, picture: Picture, chosen: tuple[int, ...]) -> str:
    """The same in words."""
    wearers = covered(draft, picture, chosen)
    return scope_words(picture, wearers) if wearers else EVERYBODY


def say_words(order: OrderName, scope: str) -> str:
    """What is to be said by voice."""
    return RULES[order].say.format(scope=scope[:1].upper() + scope[1:])


def given(
    draft: Draft, picture: Picture, chosen: tuple[int, ...], on_order_of: str = ""
) -> GiveAnOrder | Say:
    """The order as it is to be sent; a word if it cannot be, because nobody is named."""
    wearers = covered(draft, picture, chosen)
    if draft.order == "come out" and not wearers:
        return Say("NOT SENT: come out: first the number of a wearer")
    scope = scope_of(draft, picture, chosen)
    return GiveAnOrder(
        order=draft.order,
        wearers=wearers,
        scope=scope,
        reason=draft.reason,
        on_order_of=on_order_of or WHOSE[draft.whose],
        subject=f"{draft.order.upper()} {scope}",
    )


def voice_answer(picture: Picture, chosen: tuple[int, ...]) -> AnswerForThem | Say:
    """These have answered by voice: the most urgent order that still waits for one of them.

    Whoever has pressed the button is noted as well, once nobody waits any more.
    """
    for unanswered in (True, False):
        for order in open_orders(picture):
            found = tuple(
                line.wearer
                for line in order.lines
                if line.wearer in chosen
                and line.voice_ns is None
                and not line.committed
                and (line.unanswered or not unanswered)
            )
            if found:
                words = f"by voice: {names(picture, found)}: {order.order}"
                return AnswerForThem(order.number, tuple(sorted(found)), words)
    return Say(f"no order waits for {names(picture, chosen)}")


def emergency(picture: Picture, chosen: tuple[int, ...], state: CrewState) -> EmergencyState | Say:
    """The crew of these is ready as emergency crew, is sent in as such, or is one no more."""
    crews = {one.crew for number in chosen if (one := wearer_of(picture, number)) is not None}
    if not crews:
        return Say("emergency crew: first the number of a wearer")
    crew = crews.pop()
    if crews or not crew:
        return Say("emergency crew: one crew at a time" if crews else "this wearer has no crew")
    return EmergencyState(crew, state, f"emergency crew {state}: {clean(crew)}")


def open_orders(picture: Picture) -> list[OrderView]:
    """Those that still stand, the most urgent first."""
    return [order for order in picture.orders if order.is_open]


def called_order(order: OrderView) -> str:
    """What an order is called in a question and in what became of it."""
    return f"{order.order.upper()} {clean(order.scope)}"


def closed(order: OrderView, reason: str) -> CloseAnOrder:
    """End it, whoever is still open in it, for this reason."""
    return CloseAnOrder(order.number, reason, f"close {called_order(order)}: {reason}")
