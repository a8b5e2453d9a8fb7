"""The rules of the packet format that a pack can be seen to keep or to break, and what was seen."""

from collections import Counter
from collections.abc import Iterable
from typing import Literal, NamedTuple

Verdict = Literal["passed", "failed", "not seen"]


class Rule(NamedTuple):
    """One rule, and the section of PACKET-FORMAT.md that says it."""

    what: str
    section: str


_A, _W, _S, _O = "Authentication", "What a pack does", "When it sends", "Orders"
RULES: dict[str, Rule] = {
    "checksum": Rule("framing, length and checksum are right", "Checksum"),
    "kind": Rule("version, kind and length for the kind are known", "A frame"),
    "way": Rule("nothing is sent that only a base sends", "A frame"),
    "size": Rule("a status has at most 48 bytes", "A frame"),
    "flags": Rule("flags that are sent as 0 are 0", "Header"),
    "header": Rule("identity, boot and sequence are in range", "Header"),
    "tag": Rule("epoch and tag fit the fleet key, or open where there is none", _A),
    "report": Rule("values of reports are in range", "Report"),
    "bits": Rule("bits of alerts and checks that are sent as 0 are 0", "Report"),
    "equipment": Rule("values of sign-ons are in range", "Equipment"),
    "receipt": Rule("values of receipts are in range", "Receipt"),
    "appended": Rule("appended fields are whole, and of a maker's own types", "Appended fields"),
    "radio": Rule("a base radio's own frames are right", "Base radio"),
    "boot": Rule("the boot counter never goes back", _W),
    "sequence": Rule("each new frame has one more, and none comes again later", _W),
    "number": Rule("no sequence number has two contents", _W),
    "uptime": Rule("uptime is that of the moment at which a frame is made", _W),
    "clock": Rule("uptime runs as fast as time does", _W),
    "restart": Rule(
        "a boot begins anew: numbers, uptime, beacon, orders", "What a restart forgets"
    ),
    "first": Rule("the first frame of a boot is a sign-on, within 3 s", _S),
    "sign-on": Rule("it signs on again at least every 60 s", _S),
    "interval": Rule("a status 0.9 to 1.0 of an interval after the last", _S),
    "spread": Rule("intervals are drawn at random", _S),
    "event": Rule("what changes is told by an event, and nothing else is", _S),
    "copies": Rule("two to four copies of events and of what a button says", _S),
    "single": Rule("a status goes out once, a sign-on with four copies at most", _S),
    "gaps": Rule("copies are 0.1 to 0.4 s apart", _S),
    "gaps at random": Rule("distances of copies are drawn at random", _S),
    "sign-off": Rule("it signs off, five or six times within 3 s, and is silent", _S),
    "coming out": Rule("coming out: a receipt, then an event, then in every report", _S),
    "beacon": Rule("every frame carries the last beacon", _W),
    "beacon forms": Rule("any base's beacon is taken, appended fields and all", _W),
    "beacon wrong": Rule("a beacon that is wrong in one thing is not taken", _O),
    "beacon forged": Rule("a beacon with a wrong tag or key is not taken", _O),
    "evacuate": Rule("an order to evacuate is received", _O),
    "come out": Rule("an order to come out is received", _O),
    "roll call": Rule("a roll call is received", _O),
    "test": Rule("a test is received", _O),
    "confirmed": Rule("distress and coming out confirmed are received", _O),
    "received": Rule("an order is receipted within a second", _S),
    "receipt at random": Rule("receipts go out at random moments", _S),
    "once": Rule("a receipt for an order received goes out once", _S),
    "level": Rule("every report tells the highest order received", _O),
    "again": Rule("an order that comes again is answered again", _O),
    "twice": Rule("heard twice at once it is answered once", _O),
    "button": Rule("the button acknowledges the last order that asks", _O),
    "unasked": Rule("nothing is acknowledged before the button is pressed", _O),
    "forms": Rule("any base's order is obeyed, appended fields and all", _O),
    "earlier": Rule("an order naming one of the last 64 frames of 60 s is obeyed", _O),
    "wide": Rule("order numbers go up to 65535", _O),
    "forged": Rule("an order with a wrong tag is not obeyed", _O),
    "other key": Rule("an order under another key is not obeyed", _O),
    "open": Rule("no open order at a keyed pack, no keyed one at an open pack", _O),
    "epoch": Rule("an order of another epoch is not obeyed", _O),
    "noise": Rule("an order with a wrong checksum is not obeyed", _O),
    "version down": Rule("an order of another version is not obeyed", _O),
    "flags down": Rule("an order with one of flags 4 to 7 is not obeyed", _O),
    "kind down": Rule("a frame of another kind is no order", _O),
    "length down": Rule("an order that is cut or runs over is not obeyed", _O),
    "values down": Rule("an order with a value out of range is not obeyed", _O),
    "other pack": Rule("an order for another pack is not obeyed", _O),
    "other boot": Rule("an order for another boot is not obeyed", _O),
    "ahead": Rule("an order naming a frame not sent yet is not obeyed", _O),
    "too far back": Rule("an order naming a frame 64 back or more is not obeyed", _O),
    "late": Rule("an order naming a frame of over 60 s ago is not obeyed", _O),
    "passed": Rule("an order below the highest received is not obeyed", _O),
}
"""By a short name of our own, in the order of the table."""


LOSS_MAX = 0.01
"""A link that loses more is too poor to judge what lost frames can bring about."""
_SEEN_IN_A_FRAME = frozenset({
    "kind", "way", "size", "flags", "header", "tag", "report", "bits", "equipment", "receipt",
    "appended", "radio", "boot", "sequence", "number", "uptime", "clock", "restart", "first",
})  # fmt: skip
"""A frame that came breaks these by itself: no loss excuses it."""
_NOT_TO_BE_OBEYED = frozenset({
    "beacon wrong", "beacon forged", "forged", "other key", "open", "epoch", "noise",
    "version down", "flags down", "kind down", "length down", "values down", "other pack",
    "other boot", "ahead", "too far back", "late", "passed", "unasked",
})  # fmt: skip
"""An answer that came breaks these."""
LOSS_MAY_BREAK = RULES.keys() - _SEEN_IN_A_FRAME - _NOT_TO_BE_OBEYED


class Fault(NamedTuple):
    """The first thing that broke a rule."""

    at_ns: int
    """Since the trial began."""
    why: str
    frame: bytes
    """Empty: it is about what did not come."""


class Row(NamedTuple):
    """One line of the table."""

    name: str
    rule: Rule
    verdict: Verdict
    seen: int
    """How often it was kept."""
    faults: int
    first: Fault | None
    missed: int = 0
    """Of the faults, those of what did not come."""

    @property
    def loss_may_break(self) -> bool:
        """Whether lost frames alone may be to blame that it failed."""
        return self.name in LOSS_MAY_BREAK or self.missed == self.faults


def too_poor(lost_share: float, failed: Iterable[Row]) -> bool:
    """Whether a link that loses so much may be to blame for all of these."""
    return lost_share > LOSS_MAX and all(row.loss_may_break for row in failed)


class Findings:
    """What was seen of each rule; only the first fault of each is kept whole."""

    def __init__(self, start_ns: int) -> None:
        """Nothing was seen."""
        self._start_ns = start_ns
        self._kept: Counter[str] = Counter()
        self._broken: Counter[str] = Counter()
        self._missed: Counter[str] = Counter()
        self._first: dict[str, Fault] = {}

    def kept(self, *names: str) -> None:
        """Count rules that were seen to be kept."""
        self._kept.update(names)

    def broken(self, name: str, at_ns: int, why: str, frame: bytes = b"") -> None:
        """Count a rule that was broken."""
        assert name in RULES, name
        self._broken[name] += 1
        self._first.setdefault(name, Fault(at_ns - self._start_ns, why, frame))

    def missed(self, name: str, at_ns: int, why: str) -> None:
        """Count a rule that was broken by what did not come."""
        self._missed[name] += 1
        self.broken(name, at_ns, why)

    def judge(self, name: str, at_ns: int, why: str, frame: bytes = b"") -> None:
        """Count it as kept where ``why`` is empty, else as broken."""
        if why:
            self.broken(name, at_ns, why, frame)
        else:
            self.kept(name)

    def rows(self) -> list[Row]:
        """Every rule, in order."""
        return [
            Row(
                name, rule, self._verdict(name), self._kept[name], self._broken[name],
                self._first.get(name), self._missed[name],
            )
            for name, rule in RULES.items()
        ]  # fmt: skip

    def _verdict(self, name: str) -> Verdict:
        if self._broken[name]:
            return "failed"
        return "passed" if self._kept[name] else "not seen"
