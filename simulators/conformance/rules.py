"""The rules of the packet format that a pack can be seen to keep or to break, and what was seen."""

from collections import Counter
from typing import Literal, NamedTuple

Verdict = Literal["passed", "failed", "not seen"]


class Rule(NamedTuple):
    """One rule, and the section of PACKET-FORMAT.md that says it."""

    what: str
    section: str


RULES: dict[str, Rule] = {
    "checksum": Rule("framing, length and checksum are right", "Checksum"),
    "kind": Rule("version, kind and length for the kind are known", "A frame"),
    "way": Rule("nothing is sent that only a base sends", "A frame"),
    "size": Rule("a status has at most 48 bytes", "A frame"),
    "flags": Rule("flags that are sent as 0 are 0", "Header"),
    "header": Rule("identity, boot and sequence are in range", "Header"),
    "tag": Rule("epoch and tag fit the fleet key, or open where there is none", "Authentication"),
    "report": Rule("values of reports are in range", "Report"),
    "bits": Rule("bits of alerts and checks that are sent as 0 are 0", "Report"),
    "equipment": Rule("values of sign-ons are in range", "Equipment"),
    "receipt": Rule("values of receipts are in range", "Receipt"),
    "appended": Rule("appended fields are whole, and of a maker's own types", "Appended fields"),
    "radio": Rule("a base radio's own frames are right", "Base radio"),
    "boot": Rule("the boot counter never goes back", "What a pack does"),
    "first": Rule("the first frame of a boot is a sign-on", "What a pack does"),
    "sequence": Rule("each new frame has one more, and none comes again later", "What a pack does"),
    "number": Rule("no sequence number has two contents", "What a pack does"),
    "uptime": Rule("uptime goes as the clock does", "Report"),
    "interval": Rule("a status every interval, within a tenth", "What a pack does"),
    "spread": Rule("intervals are spread at random", "What a pack does"),
    "sign-on": Rule("it signs on again at least every 60 s", "What a pack does"),
    "event": Rule("what changes is told by an event, no status before it", "What a pack does"),
    "copies": Rule("two to four copies of events and of what a button says", "What a pack does"),
    "once": Rule("a receipt for an order received goes out once", "What a pack does"),
    "gaps": Rule("copies are 0.1 to 0.4 s apart", "What a pack does"),
    "sign-off": Rule("it signs off, with five copies within 3 s", "What a pack does"),
    "beacon": Rule("reports carry the last beacon", "What a pack does"),
    "received": Rule("an order is receipted within a second", "What a pack does"),
    "level": Rule("every report tells the highest order received", "Orders"),
    "again": Rule("an order that comes again is answered again", "Orders"),
    "button": Rule("the button acknowledges the last order, and reports say so", "Orders"),
    "forged beacon": Rule("a beacon with a wrong tag is not believed", "Authentication"),
    "forged": Rule("an order with a wrong tag is not obeyed", "Orders"),
    "other pack": Rule("an order for another pack is not obeyed", "Orders"),
    "other boot": Rule("an order for another boot is not obeyed", "Orders"),
    "ahead": Rule("an order naming a frame not sent yet is not obeyed", "Orders"),
    "passed": Rule("an order below the highest received is not obeyed", "Orders"),
    "late": Rule("an order naming a frame of over 60 s ago is not obeyed", "Orders"),
}
"""By a short name of our own, in the order of the table."""


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


class Findings:
    """What was seen of each rule; only the first fault of each is kept whole."""

    def __init__(self, start_ns: int) -> None:
        """Nothing was seen."""
        self._start_ns = start_ns
        self._kept: Counter[str] = Counter()
        self._broken: Counter[str] = Counter()
        self._first: dict[str, Fault] = {}

    def kept(self, *names: str) -> None:
        """Count rules that were seen to be kept."""
        self._kept.update(names)

    def broken(self, name: str, at_ns: int, why: str, frame: bytes = b"") -> None:
        """Count a rule that was broken."""
        assert name in RULES, name
        self._broken[name] += 1
        self._first.setdefault(name, Fault(at_ns - self._start_ns, why, frame))

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
                self._first.get(name),
            )
            for name, rule in RULES.items()
        ]  # fmt: skip

    def _verdict(self, name: str) -> Verdict:
        if self._broken[name]:
            return "failed"
        return "passed" if self._kept[name] else "not seen"
