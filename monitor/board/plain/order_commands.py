"""The typed commands of the plain board that have to do with orders. Pure.

A typed word cannot be struck by a sleeve, so one line is enough to give an order here.
"""

from monitor.board.acts import drafts
from monitor.board.acts.drafts import Draft
from monitor.board.acts.effects import CrewState, Ordering, Say
from monitor.board.plain.orders import orders_sentences
from monitor.board.words.choosing import crews_of
from monitor.board.words.marks import clean
from monitor.incident.orders.events import OrderName
from monitor.incident.picture import Picture

BY = "by:"
"""What follows this word is who gave the order, if it was given elsewhere."""
_GIVEN: dict[str, OrderName] = {
    "evacuate": "evacuate",
    "comeout": "come out",
    "roll": "roll call",
    "test": "test",
}
_CREWS: dict[str, CrewState] = {
    "ready": "ready",
    "commit": "committed",
    "standdown": "stood down",
}


def order_command(words: list[str], picture: Picture) -> Ordering | list[str] | None:
    """Read a typed line, split into words; None if it has nothing to do with orders."""
    word, rest = words[0].casefold(), words[1:]
    if word in _GIVEN:
        return _give(_GIVEN[word], word, rest, picture)
    if word == "voice":
        chosen, left = wearers_named(rest, picture)
        if not chosen or left:
            return ["voice: say the numbers of wearers on the board."]
        return _said(drafts.voice_answer(picture, chosen))
    if word in _CREWS:
        chosen, left = wearers_named(rest, picture)
        if not chosen or left:
            return [f"{word}: say the number of a wearer of that crew."]
        return _said(drafts.emergency(picture, chosen, _CREWS[word]))
    if word == "close":
        return _close(rest, picture)
    if word == "orders" and not rest:
        return orders_sentences(picture) or ["No orders."]
    return None


def _give(order: OrderName, word: str, rest: list[str], picture: Picture) -> Ordering | list[str]:
    place = next((n for n, w in enumerate(rest) if w.casefold() == BY), len(rest))
    on_order_of = clean(" ".join(rest[place + 1 :]))
    rest = rest[:place]
    everybody = [w.casefold() for w in rest[:1]] == ["all"] or (order == "roll call" and not rest)
    chosen, left = ((), rest[1:]) if everybody else wearers_named(rest, picture)
    reasoned = order == "come out"
    if (left and not reasoned) or (not chosen and (reasoned or not everybody)):
        those = "numbers" if reasoned else "all, numbers, or crew and numbers"
        return [f"{word}: say {those} of wearers on the board."]
    draft = Draft(order, clean(" ".join(left)))
    return _said(drafts.given(draft, picture, chosen, on_order_of))


def wearers_named(words: list[str], picture: Picture) -> tuple[tuple[int, ...], list[str]]:
    """The wearers named at the start of these words, none if one is not on the board; the rest."""
    crews = [w.casefold() for w in words[:1]] == ["crew"]
    words = words[1:] if crews else words
    numbers: list[int] = []
    for word in words:
        if not (word.isascii() and word.isdigit()):
            break
        numbers.append(int(word))
    left = words[len(numbers) :]
    if not set(numbers) <= {w.wearer for w in picture.wearers}:
        return (), left
    chosen = tuple(numbers)
    return (crews_of(picture, chosen) if crews else chosen), left


def _close(rest: list[str], picture: Picture) -> Ordering | list[str]:
    number, reason = rest[:1], clean(" ".join(rest[1:]))
    if not number or not reason:
        return ["close: say the number of an order, and why."]
    for order in drafts.open_orders(picture):
        if [str(order.number)] == number:
            return drafts.closed(order, reason)
    return ["No such order stands."]


def _said(effect: Ordering | Say) -> Ordering | list[str]:
    """A word of refusal as a sentence."""
    if isinstance(effect, Say):
        return [f"{effect.words[:1].upper()}{effect.words[1:]}."]
    return effect
