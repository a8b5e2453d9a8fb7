"""Orders and emergency crews in sentences: what stands, and what has come since. Pure."""

from monitor.board.acts.drafts import called_order
from monitor.board.words import wording
from monitor.board.words.marks import clean
from monitor.board.words.order_words import (
    counts,
    crew_words,
    crews_missing_first,
    emergency_words,
    given_words,
    progress,
    state_words,
)
from monitor.incident.picture import OrderLineView, OrderView, Picture


def orders_sentences(picture: Picture) -> list[str]:
    """Say every order of the picture, and whoever keeps it open."""
    said: list[str] = []
    for order in picture.orders:
        said.append(order_sentence(order))
        if order.order == "roll call":
            said.append(f"{', '.join(crew_words(c) for c in crews_missing_first(order))}.")
        said += [waiting_sentence(line, picture) for line in order.lines if line.waits]
    return said


def order_sentence(order: OrderView) -> str:
    """Say one order: what, whose, how far it has come; the words to say while it stands."""
    told = [words for words, _ in counts(order)]
    if order.committed:
        told.append(f"committed {order.committed}")
    head = f"Order {order.number}, {called_order(order)}, {given_words(order)}"
    state = state_words(order)
    if not order.is_open:
        return f"{head}: {', '.join(told)}. {state}."
    stands = f"for {wording.age(order.for_ns)}"
    state = f" {state}." if state else ""
    return f"{head}, {stands}: {', '.join(told)}.{state} Say: {clean(order.say)}"


def waiting_sentence(line: OrderLineView, picture: Picture) -> str:
    """Say how far somebody has got who keeps an order open, and what is known of them."""
    units = {w.wearer: w.unit for w in picture.wearers}
    unit = units.get(line.wearer, picture.pressure_unit)
    said = [f"{line.wearer} {clean(line.name)}: {progress(line)}"]
    if line.telemetry and line.motion:
        said.append(f"motion {line.motion}")
    if line.air.pressure_bar is None:
        said.append("air unknown")
    else:
        said.append(f"at least {wording.pressure(line.air.pressure_bar, unit)} {unit}")
    if line.air.reading_age_ns is not None:
        said[-1] += f", read {wording.age(line.air.reading_age_ns)} ago"
    if line.location:
        said.append(f"last at {clean(line.location)}")
    return f"{', '.join(said)}."


def order_changes(old: Picture, new: Picture) -> list[str]:
    """Say what has happened to orders and emergency crews between two pictures."""
    before = {order.number: order for order in old.orders}
    said: list[str] = []
    for order in sorted(new.orders, key=lambda order: order.number):
        was = before.get(order.number)
        if was is None:
            if order.is_open:
                said.append(order_sentence(order))
            continue
        said += _changes_of(was, order)
    if emergency_words(old) != emergency_words(new):
        said.append(f"E{emergency_words(new)[1:]}.")
    return said


def _changes_of(was: OrderView, order: OrderView) -> list[str]:
    called = f"Order {order.number}, {order.order.upper()}"
    said = []
    if order.received > was.received:
        said.append(f"{called}: received by {order.received} of {order.of}.")
    before = {line.wearer: line for line in was.lines}
    for line in order.lines:
        words = _news(before.get(line.wearer), line)
        if words:
            said.append(f"{called}: {line.wearer} {clean(line.name)} {words}.")
    state = state_words(order)
    if state and (state_words(was) == "" or was.is_open != order.is_open):
        said.append(f"{called}: {state}.")
    return said


def _news(was: OrderLineView | None, line: OrderLineView) -> str:
    """What one wearer has newly done, after how long since the order."""
    if was is None:
        return "is committed" if line.committed else "went in after it"
    news = (
        (line.acknowledged_ns, was.acknowledged_ns, "has acknowledged"),
        (line.voice_ns, was.voice_ns, "has answered by voice"),
        (line.out_ns, was.out_ns, "is out"),
    )
    said = [
        f"{words} after {wording.age(now)}"
        for now, then, words in news
        if now is not None and then is None
    ]
    if line.committed != was.committed:
        said.append("is committed" if line.committed else "is no longer committed")
    return ", ".join(said)


def roll_call_words(picture: Picture) -> str:
    """When the roll is to be called next, rounded down; empty: nobody says."""
    due_ns = picture.roll_call_in_ns
    if due_ns is None or picture.closed:
        return ""
    if due_ns <= 0:
        return "roll call due"
    return f"roll call in {due_ns // (wording.MINUTE_S * wording.SECOND_NS)} min"
