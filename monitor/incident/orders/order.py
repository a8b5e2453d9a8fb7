"""An order, and how far each wearer it covers has got with it.

Received (the pack), acknowledged (the wearer's button), answered by voice, and out are four facts,
each with its time. How orders differ from one another is in ``RULES``.
"""

from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from monitor.incident.orders.events import GiveOrder, OrderName
from monitor.incident.picture import Phase
from monitor.incident.wearer import Wear, Wearer
from protocol.packets import OrderKind

COPIES_KEPT_MAX = 500
"""An hour and a half of repeats to a pack that never answers."""
INSIDE = frozenset({Phase.ON_AIR, Phase.ENTERED})
"""Under air, and not yet out."""
NOT_OUT = INSIDE | {Phase.MOVED}
"""That another board watches somebody does not bring them out."""


@dataclass(frozen=True, slots=True)
class Rule:
    """How one order goes."""

    wire: OrderKind
    urgency: int
    """To one pack the lowest of these is sent first."""
    over: Literal["out", "answered"]
    """What each wearer must be for the order to close by itself."""
    say: str
    """To be said by voice, with ``{scope}``."""


RULES: dict[OrderName, Rule] = {
    "evacuate": Rule(
        OrderKind.EVACUATE,
        0,
        "out",
        "Evacuate, evacuate, evacuate. {scope}: come out now. Acknowledge.",
    ),
    "come out": Rule(OrderKind.COME_OUT, 3, "out", "{scope}: come out. Acknowledge."),
    "roll call": Rule(OrderKind.ROLL_CALL, 4, "answered", "Roll call. {scope}: answer."),
    "test": Rule(OrderKind.TEST, 5, "answered", "Test. {scope}: press your button."),
}
CONFIRMATIONS = {OrderKind.DISTRESS_CONFIRMED: 1, OrderKind.COMING_OUT_CONFIRMED: 2}
"""Their urgency among the orders. Nobody answers them: that the pack has it is all."""
COME_OUT_REASONS = (
    "uncontrolled loss of pressure",
    "unwell or confused",
    "gauge faulty or unreadable",
    "breathed what is outside the mask",
    "low-air warning sounds",
    "pressure to turn at is reached",
)
"""What makes a whole crew come out when it happens to one of them (national guidance on the
withdrawal of wearers). Numbered picks on the screen; free text is an extra."""


@dataclass(slots=True)
class Line:
    """One wearer in one order, for one stay on air."""

    wearer: int
    wear: Wear | None
    """The stay it covers; None for somebody who never connected."""
    since_ns: int
    """When it began to cover them: the giving, or when they went in after it."""
    late: bool = False
    """Went in while the order stood."""
    committed: bool = False
    """Sent in as emergency crew: the order does not ask them to come out."""
    pack: int = 0
    """The pack that the next two are of."""
    number: int = 0
    """On the air; 0 until the pack has been heard."""
    boot: int = 0
    """Boot of the pack in which that number was received."""
    sent_ns: int | None = None
    copies: int = 0
    copies_ns: list[int] = field(default_factory=list)
    """When each went out; the first ``COPIES_KEPT_MAX``."""
    received_ns: int | None = None
    acknowledged_ns: int | None = None
    voice_ns: int | None = None
    out_ns: int | None = None

    @property
    def answered_ns(self) -> int | None:
        """When the wearer answered, by button or by voice; None if not."""
        times = [t for t in (self.acknowledged_ns, self.voice_ns) if t is not None]
        return min(times, default=None)

    def is_out(self, wearer: Wearer) -> bool:
        """Whether the stay on air that is covered is over, or its wearer at the door."""
        return wearer.wear is not self.wear or wearer.phase not in NOT_OUT


@dataclass(slots=True)
class Order:
    """One order, open until it is closed."""

    number: int
    given: GiveOrder
    given_ns: int
    lines: dict[int, Line] = field(default_factory=dict)
    """By wearer."""
    closed_ns: int | None = None
    override: str = ""
    """Why it was closed with somebody unanswered or still in."""

    @property
    def rule(self) -> Rule:
        """How it goes."""
        return RULES[self.given.order]

    @property
    def is_open(self) -> bool:
        """Whether it still stands."""
        return self.closed_ns is None

    def waits_for(self, line: Line) -> bool:
        """Whether this wearer keeps the order from closing by itself."""
        if line.committed:
            return False
        return (line.out_ns if self.rule.over == "out" else line.answered_ns) is None

    def unanswered(self, line: Line) -> bool:
        """Whether an answer of this wearer is still outstanding; nobody asks one who is out."""
        if line.committed or line.answered_ns is not None:
            return False
        return self.rule.over == "answered" or line.out_ns is None


@dataclass(slots=True)
class Confirmation:
    """What the base tells a pack of something it has heard from it."""

    what: OrderKind
    since_ns: int
    wearer: int
    number: int = 0
    boot: int = 0
    sent_ns: int | None = None
    copies: int = 0
    received_ns: int | None = None


class Reach(NamedTuple):
    """The newest frame of a pack: an order that names it is fresh."""

    heard_ns: int
    boot: int
    sequence: int
    epoch: int
    keyed: bool


@dataclass(slots=True)
class Pager:
    """One pack as far as orders go: numbers given to it, and what it says it has."""

    unproven: Reach | None = None
    """The newest that did not count as heard: genuine, but held up, or of a pack that has not yet
    answered a beacon. An order that follows a recording harms nobody, so it waits for no proof."""
    boot: int = 0
    received: int = 0
    """Highest number received in this boot, as told."""
    asks: int = 0
    """The highest of these that asks for an answer: what the wearer's button answers."""
    acknowledged: int = 0
    given: int = 0
    """Highest number ever given to it."""
    coming_out: bool = False
    """Said in this boot by the wearer's button ..."""
    coming_out_ns: int = 0
    """... and when."""
    distress: bool = False
    """Said in this boot."""
    confirmed_alarm: tuple[int, int] = (0, 0)
    """The distress (its number, and since when it waited) last confirmed back."""
    confirmations: list[Confirmation] = field(default_factory=list)
    """Newest of each kind, at most ``len(CONFIRMATIONS)``."""

    @property
    def began_anew(self) -> bool:
        """In a later boot than the one known, nothing of it proven: it has received nothing."""
        return self.unproven is not None and self.unproven.boot > self.boot

    def next_number(self) -> int:
        """A number above all that the pack has been given or has received."""
        self.given = max(self.given, self.received) + 1
        return self.given


@dataclass(frozen=True, slots=True)
class Outstanding:
    """What is to be sent to one pack now, again and again, until it is outstanding no more."""

    order: int
    """In this incident; 0 for a confirmation."""
    pack: int
    reach: Reach
    number: int
    what: OrderKind
    received: bool
    """By the pack; what is missing is its wearer's answer."""
