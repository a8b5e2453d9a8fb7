"""The log of orders: what was ordered, who got it when, who answered how, who was out when. Pure.

One order a block, one wearer a line, every time counted from the giving of the order. Received,
acknowledged, answered by voice, started out and out are five facts; none stands for another.
"""

from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass

from monitor.csv_cells import harmless
from monitor.incident.picture import OrderLineView, OrderView
from monitor.report import words
from monitor.report.reading import Told

NOT = "-"
"""Has not been so."""
Tones = Mapping[int, tuple[tuple[int, int], ...]]
"""By pack: from when to when its evacuation tone was heard, incident time; from a truth file."""


@dataclass(frozen=True, slots=True)
class LogLine:
    """One wearer in one order. Times are ns since it was given; None: not so far."""

    wearer: int
    name: str
    crew: str
    telemetry: bool
    committed: bool
    late: bool
    sent_ns: tuple[int, ...]
    """Each copy."""
    received_ns: int | None
    acknowledged_ns: int | None
    voice_ns: int | None
    back_ns: int | None
    out_ns: int | None
    tone_ns: tuple[tuple[int, int], ...]
    """Heard from when to when, where a truth file says."""


@dataclass(frozen=True, slots=True)
class OrderLog:
    """One order and what became of it."""

    order: int
    what: str
    scope: str
    everybody: bool
    by: str
    on_order_of: str
    reason: str
    given_wall_ns: int
    state: str
    override: str
    stood_ns: int
    """How long, until it closed or the record ends."""
    of: int
    received: int
    acknowledged: int
    by_voice: int
    answered: int
    out: int
    committed: int
    lines: tuple[LogLine, ...]

    @property
    def whole(self) -> str:
        """How it ended, in words: "all out after 6 min 41 s"."""
        after = words.span(self.stood_ns)
        if self.state == "closed":
            return f"closed after {after}: {self.override}"
        if self.state == "open" or (self.state == "all answered" and self.what in _TO_COME_OUT):
            return f"{self.state}, stands for {after}"
        return f"{self.state} after {after}"


_TO_COME_OUT = ("evacuate", "come out")


def orders_log(told: Told, tones: Tones | None = None) -> tuple[OrderLog, ...]:
    """Every order of a journal, in the order of giving."""
    return tuple(_log(told, order, tones or {}) for order in told.gathered.orders)


def _log(told: Told, order: OrderView, tones: Tones) -> OrderLog:
    found = told.gathered
    last = found.last
    packs = {w.wearer: w.pack for w in last.wearers} if last else {}
    copies = found.copies.get(order.number, {})
    return OrderLog(
        order=order.number,
        what=order.order,
        scope=order.scope,
        everybody=order.everybody,
        by=order.by,
        on_order_of=order.on_order_of,
        reason=order.reason,
        given_wall_ns=found.wall.at(order.given_at_ns),
        state=order.state,
        override=order.override,
        stood_ns=order.for_ns,
        of=order.of,
        received=order.received,
        acknowledged=order.acknowledged,
        by_voice=order.by_voice,
        answered=order.answered,
        out=order.out,
        committed=order.committed,
        lines=tuple(
            _line(order, line, copies, tones.get(packs.get(line.wearer) or 0, ()))
            for line in sorted(order.lines, key=lambda line: line.wearer)
        ),
    )


def _line(
    order: OrderView,
    line: OrderLineView,
    copies: Mapping[int, tuple[int, ...]],
    tones: tuple[tuple[int, int], ...],
) -> LogLine:
    given, ends = order.given_at_ns, order.given_at_ns + order.for_ns
    heard = order.order == "evacuate"
    return LogLine(
        wearer=line.wearer,
        name=line.name,
        crew=line.crew,
        telemetry=line.telemetry,
        committed=line.committed,
        late=line.late,
        sent_ns=copies.get(line.wearer, ()),
        received_ns=line.received_ns,
        acknowledged_ns=line.acknowledged_ns,
        voice_ns=line.voice_ns,
        back_ns=line.back_ns,
        out_ns=line.out_ns,
        tone_ns=tuple((a - given, b - given) for a, b in tones if heard and given <= a <= ends),
    )


# ---------------------------------------------------------------- as text


def text(logs: tuple[OrderLog, ...], zone: words.Zone) -> Iterator[str]:
    """The lines of the log, for a terminal."""
    if not logs:
        yield "No order was given."
    for log in logs:
        at = words.moment(log.given_wall_ns, zone)
        yield f"{log.order}  {log.what.upper()}  {log.scope}  {at}  by {log.by}"
        if log.on_order_of:
            yield f"   on the order of {log.on_order_of}"
        if log.reason:
            yield f"   because {log.reason}"
        yield f"   {_counts(log)}"
        yield f"   {log.whole}"
        yield from _table(log)
        yield ""


def _counts(log: OrderLog) -> str:
    counts = [
        f"{log.received} of {log.of} packs received", f"{log.acknowledged} acknowledged",
        f"{log.by_voice} by voice", f"{log.out} out",
    ]  # fmt: skip
    if log.committed:
        counts.append(f"{log.committed} committed as emergency crew")
    return ", ".join(counts)


def _table(log: OrderLog) -> Iterator[str]:
    head = ("wearer", "copies", "sent", "received", "button", "voice", "started out", "out", "tone")
    rows = [head, *(_row(line) for line in log.lines)]
    widths = [max(len(row[n]) for row in rows) for n in range(len(head))]
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=True)]
        yield f"   {'  '.join(cells)}".rstrip()


def _row(line: LogLine) -> tuple[str, ...]:
    notes = [word for word, holds in (("COMMITTED", line.committed), ("late", line.late)) if holds]
    tone = ", ".join(f"{_after(a)} to {_after(b)}" for a, b in line.tone_ns)
    return (
        " ".join((line.name, *notes)),
        str(len(line.sent_ns)) if line.telemetry else NOT,
        _after(line.sent_ns[0]) if line.sent_ns else NOT,
        *map(_after, (line.received_ns, line.acknowledged_ns, line.voice_ns)),
        *map(_after, (line.back_ns, line.out_ns)),
        tone or NOT,
    )


def _after(ns: int | None) -> str:
    """Under two minutes to the tenth of a second, since it counts against us; else whole."""
    if ns is None:
        return NOT
    return words.seconds_up(ns) if ns < _LONG_NS else words.span(ns)


_LONG_NS = 120 * words.SECOND_NS


# ---------------------------------------------------------------- as fields

COLUMNS = (
    "use", "order", "what", "scope", "by", "on_order_of", "reason", "given_wall_ns", "state",
    "override", "stood_ns", "wearer", "name", "crew", "telemetry", "committed", "late", "sent_ns",
    "received_ns", "acknowledged_ns", "voice_ns", "back_ns", "out_ns", "tone_ns",
)  # fmt: skip
"""Of the table, one row a wearer and order. Several times in one cell stand apart by a blank, the
two ends of a tone by a hyphen."""


def fields(logs: tuple[OrderLog, ...]) -> list[dict[str, object]]:
    """The same for a program, nothing rounded."""
    return [asdict(log) | {"whole": log.whole} for log in logs]


def rows(logs: tuple[OrderLog, ...], use: str) -> Iterator[tuple[str, ...]]:
    """The table, its head first."""
    yield COLUMNS
    for log in logs:
        for line in log.lines:
            told = asdict(log) | asdict(line) | {"use": use}
            told["sent_ns"] = " ".join(map(str, line.sent_ns))
            told["tone_ns"] = " ".join(f"{a}-{b}" for a, b in line.tone_ns)
            yield tuple(_cell(told[name]) for name in COLUMNS)


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, str):
        return harmless(value)
    return str(value).lower() if isinstance(value, bool) else str(value)
