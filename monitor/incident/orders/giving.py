"""The officer's acts on orders and emergency crews: what they do, and why they may be refused."""

from collections.abc import Callable

from monitor.incident.orders import keeping
from monitor.incident.orders.book import ORDERS_MAX, Emergency
from monitor.incident.orders.events import AnswerByVoice, CloseOrder, EmergencyCrew, GiveOrder
from monitor.incident.orders.order import INSIDE, RULES, Line, Order
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer

NAMES_MAX = 4
"""Named in one sentence of refusal."""


# ---------------------------------------------------------------- done


def give_order(s: Situation, act: GiveOrder) -> None:
    """Open an order for all it covers. What goes to packs follows from that."""
    order = Order(max(s.orders.orders, default=0) + 1, act, s.now)
    for wearer in _covered(s, act):
        order.lines[wearer.number] = Line(wearer.number, wearer.wear, s.now)
    s.orders.orders[order.number] = order
    if act.order == "roll call":
        s.orders.roll_wanted_ns = None
        if s.orders.roll_from_ns is not None:
            s.orders.roll_from_ns = s.now


def answer_by_voice(s: Situation, act: AnswerByVoice) -> None:
    """Note an answer by voice, in this order and in lesser ones that it answers as well."""
    order = s.orders.orders[act.order]
    for number in act.wearers:
        for line in (order.lines[number], *s.orders.answered_too(number, order)):
            line.voice_ns = s.now if line.voice_ns is None else line.voice_ns


def close_order(s: Situation, act: CloseOrder) -> None:
    """End it, whoever has not answered."""
    keeping.close(s, s.orders.orders[act.order], act.override)


def emergency_crew(s: Situation, act: EmergencyCrew) -> None:
    """Note what the crew is now; one sent in is left out of evacuations that stand."""
    book = s.orders
    if act.state == "stood down":
        book.emergency.pop(act.crew, None)
    else:
        book.emergency[act.crew] = Emergency(act.state, s.now)
    for order in book.open():
        if order.given.order != "evacuate":
            continue
        for line in order.lines.values():
            if s.wearers[line.wearer].crew == act.crew:
                line.committed = act.state == "committed" and line.out_ns is None


def review_committed(s: Situation, wearer: Wearer) -> None:
    """A crew that was sent in is no emergency crew any more once the last of it has come out."""
    emergency = s.orders.emergency.get(wearer.crew)
    if emergency is not None and emergency.state == "committed":
        crew = s.crews.get(wearer.crew, [])
        if not any(one.phase in INSIDE or one.moved_from in INSIDE for one in crew):
            del s.orders.emergency[wearer.crew]


# ---------------------------------------------------------------- refused


def why_not_give(s: Situation, act: GiveOrder, _t: int) -> str | None:
    """Why nobody could be given this order; None if somebody can."""
    if len(s.orders.orders) >= ORDERS_MAX:
        return f"{ORDERS_MAX} orders are all there can be. Use voice."
    if not _covered(s, act):
        return "Nobody of these is inside." if act.wearers else "Nobody is under air."
    return None


def why_not_answer(s: Situation, act: AnswerByVoice, _t: int) -> str | None:
    """Why this answer cannot be noted."""
    order = s.orders.orders.get(act.order)
    if order is None or not order.is_open:
        return f"There is no open order {act.order}."
    for number in act.wearers:
        line = order.lines.get(number)
        if line is None:
            return f"{s.wearers[number].label} is not covered by order {act.order}."
        if line.voice_ns is not None:
            return f"{s.wearers[number].label} has answered already."
    return None


def why_not_close(s: Situation, act: CloseOrder, _t: int) -> str | None:
    """Why this order cannot be closed: it is over, or somebody is open and nobody says why."""
    order = s.orders.orders.get(act.order)
    if order is None or not order.is_open:
        return f"There is no open order {act.order}."
    names = [s.wearers[n].label for n, line in order.lines.items() if order.waits_for(line)]
    if names and not act.override.strip():
        missing = "Not out" if order.rule.over == "out" else "Not answered"
        return f"{missing}: {', '.join(names[:NAMES_MAX])}. Closing now needs a reason."
    return None


def why_not_emergency(s: Situation, act: EmergencyCrew, _t: int) -> str | None:
    """Why a crew cannot be that."""
    if not any(wearer.crew == act.crew for wearer in s.wearers.values()):
        return f"There is no crew {act.crew} on the board."
    before = s.orders.state_of(act.crew)
    if act.state == (before or "stood down"):
        return f"{act.crew} is {before} already." if before else f"{act.crew} is no emergency crew."
    return None


def why_not_end(s: Situation) -> str | None:
    """Why the incident itself should not be closed yet: a roll call with somebody missing."""
    for order in s.orders.open():
        names = [s.wearers[n].label for n, line in order.lines.items() if order.waits_for(line)]
        if names:
            missing = ", ".join(names[:NAMES_MAX])
            return f"The {order.given.order} waits for {missing}. Closing now needs a reason."
    return None


# ---------------------------------------------------------------- whom it covers


def _covered(s: Situation, act: GiveOrder) -> list[Wearer]:
    """Those who are in the list of this order, by number; nobody if it would ask nobody anything.

    An evacuation of everybody lists all under air: who is at the door already is out of it at once.
    Whoever another board watches is covered if named: "everybody" is everybody of this board.
    """
    roll_call = act.order == "roll call"
    chosen = [s.wearers[n] for n in sorted(set(act.wearers))] or _everybody(s, roll_call=roll_call)
    if act.order == "roll call":
        return chosen
    if RULES[act.order].over == "answered":
        return [wearer for wearer in chosen if wearer.under_air]
    inside = [w for w in chosen if w.phase in INSIDE or w.moved_from in INSIDE]
    return chosen if inside and act.everybody and act.order == "evacuate" else inside


def to_account_for(s: Situation) -> int:
    """How many a roll call of everybody would ask now."""
    return len(_everybody(s, roll_call=True))


def _everybody(s: Situation, *, roll_call: bool) -> list[Wearer]:
    """All under air; to a roll call also those whom evacuations have brought out since the last."""
    brought_out: set[int] = set()
    if roll_call:
        for order in reversed(s.orders.orders.values()):
            if order.given.order == "roll call":
                break
            if order.given.order == "evacuate":
                brought_out |= set(order.lines)
    return [w for _, w in sorted(s.wearers.items()) if w.under_air or w.number in brought_out]


# Each is only ever given the kind of act that it stands beside.
DOERS: dict[type, Callable[..., None]] = {
    GiveOrder: give_order,
    AnswerByVoice: answer_by_voice,
    CloseOrder: close_order,
    EmergencyCrew: emergency_crew,
}
CHECKS: dict[type, Callable[..., str | None]] = {
    GiveOrder: why_not_give,
    AnswerByVoice: why_not_answer,
    CloseOrder: why_not_close,
    EmergencyCrew: why_not_emergency,
}
