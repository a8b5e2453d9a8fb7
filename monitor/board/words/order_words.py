"""Orders, emergency crews and roll calls in words, for lines and for sentences alike. Pure."""

from monitor.board.words import wording
from monitor.board.words.marks import clean
from monitor.incident.picture import CrewCount, OrderLineView, OrderView, Phase, Picture, WearerView

COMING_OUT = "COMING OUT"
COMMITTED = "COMMITTED"
READY = "READY"
NOT_AT_DOOR = "NOT AT DOOR"
ALL_ANSWERED = "ALL ANSWERED"
WELL = "ok"
"""The state word of a wearer on whom nothing is to be said."""
_COUNT_WORDS = (
    *("none", "one", "two", "three", "four", "five", "six"),
    *("seven", "eight", "nine", "ten", "eleven", "twelve"),
)
"""As counts are spoken; from thirteen on in digits."""
_AT_DOOR = frozenset({Phase.CHECKED_IN, Phase.ON_AIR})
_GOING_OUT = frozenset({Phase.ON_AIR, Phase.ENTERED})


def spoken(number: int) -> str:
    """A small count as a word."""
    return _COUNT_WORDS[number] if number < len(_COUNT_WORDS) else str(number)


def crew_words(crew: CrewCount) -> str:
    """``Alpha 2 two of two``."""
    return f"{clean(crew.crew) or 'no crew'} {spoken(crew.answered)} of {spoken(crew.of)}"


def crews_missing_first(order: OrderView) -> list[CrewCount]:
    """Its crews, those of whom somebody is missing on top."""
    return sorted(order.crews, key=lambda crew: crew.answered == crew.of)


def asks_out(order: OrderView) -> bool:
    """Tell whether it asks people to come out; the others only ask for an answer."""
    return order.order in {"evacuate", "come out"}


def counts(order: OrderView) -> list[tuple[str, bool]]:
    """The count words, and whether each may be left out where room is short.

    Such a one tells of nothing that is missing or has happened. The four facts are apart: received,
    acknowledged by button, by voice, out.
    """
    answered = order.state != "open"
    words = [
        (f"received {order.received}", answered or order.received == order.of),
        (f"acknowledged {order.acknowledged}", answered),
        (f"by voice {order.by_voice}", not order.by_voice),
    ]
    if asks_out(order):
        return [*words, (f"out {order.out} of {order.of}", False)]
    return [*words, (f"answered {order.answered} of {order.of}", False)]


def state_words(order: OrderView) -> str:
    """What it has come to, and after how long once it is over; empty while answers are missing."""
    after = f" after {wording.age(order.for_ns)}"
    if order.override:
        return f"CLOSED{after}: {clean(order.override)}"
    if order.state == "all out":
        return f"ALL OUT{after}"
    if order.state == "all answered":
        return ALL_ANSWERED if order.is_open else f"{ALL_ANSWERED}{after}"
    return ""


def given_words(order: OrderView) -> str:
    """Who gave it, on whose order, and why."""
    words = f"by {clean(order.by)}"
    if order.on_order_of:
        words += f", on the order of {clean(order.on_order_of)}"
    return f"{words}: {clean(order.reason)}" if order.reason else words


def progress(line: OrderLineView) -> str:
    """How far one wearer has got with an order."""
    if line.committed:
        return COMMITTED
    if line.out_ns is not None:
        return "out"
    if line.unanswered:
        return _unanswered(line)
    answered = "acknowledged" if line.acknowledged_ns is not None else "by voice"
    return f"{answered}, coming out" if line.back_ns is not None else answered


def _unanswered(line: OrderLineView) -> str:
    late = "WENT IN AFTER IT, " if line.late else ""
    if not line.telemetry:
        return f"{late}VOICE ONLY"
    if line.received_ns is not None:
        return f"{late}received, NO ANSWER"
    return f"{late}NOT RECEIVED" if line.sent_ns is not None else f"{late}NOT SENT YET"


def missing_words(order: OrderView) -> str:
    """Who keeps it open, counted; empty: nobody."""
    unanswered = sum(line.unanswered for line in order.lines)
    answered = sum(line.waits and not line.unanswered for line in order.lines)
    words = [f"{unanswered} not answered" if unanswered else ""]
    words.append(f"{answered} answered, not out" if answered else "")
    return ", ".join(filter(None, words))


# ---------------------------------------------------------------- emergency crew, roll, row


def emergency_words(picture: Picture) -> str:
    """``emergency crew READY Alpha 4``, or that there is none.

    Ready is who stands at the door: of a crew whose wearers are not all there it says how many
    are, and one of which nobody is, is not ready, whatever was noted.
    """
    states: dict[str, list[str]] = {READY: [], COMMITTED: [], NOT_AT_DOOR: []}
    phase = {wearer.wearer: wearer.phase for wearer in picture.wearers}
    for one in picture.emergency:
        crew = clean(one.crew)
        here = sum(phase.get(number) in _AT_DOOR for number in one.wearers)
        if one.state == "committed":
            states[COMMITTED].append(crew)
        elif here == 0:
            states[NOT_AT_DOOR].append(crew)
        else:
            all_here = here == len(one.wearers)
            states[READY].append(crew if all_here else f"{crew} {here} of {len(one.wearers)}")
    said = [f"{word} {', '.join(crews)}" for word, crews in states.items() if crews]
    return f"emergency crew {', '.join(said) or 'NONE'}"


def is_coming_out(wearer: WearerView) -> bool:
    """Tell whether the wearer has said so by button and is not out yet."""
    return wearer.coming_out_ns is not None and wearer.phase in _GOING_OUT


def is_committed(wearer: WearerView) -> bool:
    """Tell whether the wearer is to go in, or is in, as emergency crew."""
    return wearer.committed and wearer.phase not in {Phase.OUT, Phase.OFF_AIR}


def row_state(wearer: WearerView) -> str:
    """The word of a wearer's line: anything that is not well goes before where the wearer goes."""
    if wearer.state in {WELL, wearer.phase.value} and wearer.priority is None:
        if is_coming_out(wearer):
            return COMING_OUT
        if is_committed(wearer):
            return COMMITTED
    return wearer.state


def state_for_ns(wearer: WearerView) -> int:
    """For how long that has been so."""
    coming_out = row_state(wearer) == COMING_OUT and wearer.coming_out_ns is not None
    return wearer.coming_out_ns or 0 if coming_out else wearer.state_for_ns
