"""Several journals of one operation on one axis of time, as a page. Pure.

Each board keeps incident time of its own; what they share is the time of day, by the clock of each
base. Nothing here sets one clock right by another: how far they were apart no journal knows.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from heapq import merge

from monitor.incident.picture import Priority
from monitor.report import words
from monitor.report.blocks import Block, Chart, Row, Section, Table, Text
from monitor.report.charts import overview_chart
from monitor.report.curves import AlarmMark, Bar, Overview
from monitor.report.heading import CAUTION, use_word
from monitor.report.html import Page
from monitor.report.reading import Told
from monitor.report.sections.overview import BARS_MAX
from monitor.report.sections.wear_curves import marks
from monitor.report.teller import Teller
from monitor.report.wears import WearRecord

BOARDS_MAX = 20
"""More than one page holds, and than an operation has doors."""
CLOCKS = (
    "Times of day are those of each base's own clock, as it was set then. Where two clocks "
    "differed, what happened at the same moment stands apart here by so much: no journal knows it."
)


@dataclass(frozen=True, slots=True)
class Board:
    """One journal, and what its board is called here."""

    name: str
    teller: Teller

    def wall(self, t: int) -> int:
        """The time of day of an instant of its record."""
        return self.teller.found.wall.at(t)


def operation(several: Sequence[Told], zone: words.Zone) -> Page:
    """Lay out the page; boards in order of their opening."""
    boards = _named(sorted(several, key=lambda told: told.gathered.wall.at(0)), zone)
    uses = {use_word(told) for told in several}
    first, last = _span(boards)
    return Page(
        title=f"{len(boards)} boards on one axis of time",
        use=uses.pop() if len(uses) == 1 else "REAL AND EXERCISE",
        exercise=all(use_word(told) == "EXERCISE" for told in several),
        subtitle=f"{words.moment(first, zone)} to {words.moment(last, zone)}",
        caution=CAUTION,
        sections=(
            Section("boards", "Boards", _which(boards)),
            Section("crews", "Crews", _crews(boards, zone)),
            Section("orders", "Orders", (_orders(boards),)),
            Section("dangers", "Dangers", (_dangers(boards),)),
            Section("timeline", "Everything in order", (_everything(boards, zone),)),
        ),
    )


def _named(several: Iterable[Told], zone: words.Zone) -> list[Board]:
    """Each by its incident and door; where two are called the same, by its journal too."""
    tellers = [Teller(told, zone) for told in several]
    names = [", ".join(filter(None, (t.opened.name, t.opened.entry_point))) for t in tellers]
    return [
        Board(name if names.count(name) == 1 else f"{name} ({teller.told.name})", teller)
        for name, teller in zip(names, tellers, strict=True)
    ]


def _span(boards: Iterable[Board]) -> tuple[int, int]:
    ends = [board.wall(t) for board in boards for t in (0, board.teller.found.end_ns)]
    return min(ends), max(ends)


def _which(boards: Sequence[Board]) -> Iterator[Block]:
    yield Text(CLOCKS)
    yield Table(
        "In order of opening",
        ("board", "journal", "use", "officer", "opened", "ends", "stays on air", "most under air",
         "dangers", "orders", "the record"),
        tuple(map(_board_row, boards)),
    )  # fmt: skip
    for board in boards:
        if left_out := board.teller.told.left_out:
            yield Text(f"{board.name}: damaged. Not told: {left_out}.", strong=True)
        for t, by_ns in board.teller.found.clock_set:
            how = "forward" if by_ns > 0 else "back"
            span = words.span(abs(by_ns))
            yield Text(f"{board.name}: the clock was set {how} by {span} at {board.teller.at(t)}.")


def _board_row(board: Board) -> Row:
    teller, found = board.teller, board.teller.found
    dangers = sum(life.priority is Priority.DANGER for life in found.lives.in_order())
    return (
        board.name,
        teller.told.name,
        use_word(teller.told),
        ", ".join(dict.fromkeys(name for _, name in found.officers)),
        teller.moment(0),
        teller.moment(found.end_ns),
        str(len(found.wears.all)),
        str(found.wears.max_under_air),
        str(dangers),
        str(len(found.orders)),
        "closed" if found.closed else "not closed: told up to there",
    )


def _crews(boards: Sequence[Board], zone: words.Zone) -> Iterator[Block]:
    """All wearers of all boards as bars on the one axis, then each stay as a row."""
    bars = [bar for board in boards for bar in _bars(board)]
    spells = [end for bar in bars for spell in bar.on_air for end in spell]
    said = "The table below tells the same."
    for at in range(0, len(bars), BARS_MAX):
        drawn = Overview(
            "Crews of all boards: on air, inside, alarms",
            f"Crews of {len(boards)} boards on one axis of time. {said}",
            min(spells), max(*spells, min(spells) + 1), tuple(bars[at : at + BARS_MAX]),
        )  # fmt: skip
        yield Chart(overview_chart(drawn, f"o{at}", lambda t: words.clock(t, zone), lambda t: t))
    stays = sorted(
        ((board.wall(wear.spell.from_ns), n, board, wear)
         for n, board in enumerate(boards) for wear in board.teller.found.wears.all),
        key=lambda stay: stay[:2],
    )  # fmt: skip
    yield Table(
        "Each stay on air",
        ("board", "wearer", "crew", "connected", "entered", "out", "off air", "wearing time"),
        tuple(_stay(board, wear) for _, _, board, wear in stays),
        "nobody connected to air",
    )


def _stay(board: Board, wear: WearRecord) -> Row:
    teller = board.teller
    return (
        board.name,
        teller.name_of(wear),
        wear.crew,
        teller.at(wear.spell.from_ns),
        teller.at(wear.entered_ns),
        teller.at(wear.out_ns),
        teller.at(wear.spell.to_ns) or "still on air",
        words.span(wear.spell.length_ns(teller.found.end_ns)),
    )


def _bars(board: Board) -> Iterator[Bar]:
    teller, end = board.teller, board.teller.found.end_ns

    def walls(spells: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
        return tuple((board.wall(a), board.wall(b)) for a, b in spells)

    by_wearer: dict[int, list[WearRecord]] = {}
    for wear in teller.found.wears.all:
        by_wearer.setdefault(wear.number, []).append(wear)
    for wears in by_wearer.values():
        yield Bar(
            label=f"{wears[0].label} ({wears[0].number})",
            crew=board.name,
            on_air=walls(wear.spell.until(end) for wear in wears),
            inside=walls(spell.until(end) for wear in wears for spell in wear.inside),
            silent=walls(spell.until(end) for wear in wears for spell in teller.heard_of(wear)),
            alarms=tuple(
                AlarmMark(board.wall(mark.t), mark.number, mark.priority)
                for wear in wears
                for mark in marks(teller.alarms_of(wear))
            ),
        )


def _orders(boards: Sequence[Board]) -> Table:
    rows = sorted(
        (
            (board.wall(order.given_at_ns), n, order.number, board, order)
            for n, board in enumerate(boards)
            for order in board.teller.found.orders
        ),
        key=lambda one: one[:3],
    )
    return Table(
        "Every order, the first to be given first",
        ("given", "board", "order", "to whom", "by", "answered", "how it stands"),
        tuple(
            (
                board.teller.at(order.given_at_ns), board.name, f"{order.number} {order.order}",
                order.scope, order.by, f"{order.answered} of {order.of}", order.state,
            )
            for *_, board, order in rows
        ),
        "none was given",
    )  # fmt: skip


def _dangers(boards: Sequence[Board]) -> Table:
    found = sorted(
        (
            (board.wall(life.raised_ns), n, life.number, board, life)
            for n, board in enumerate(boards)
            for life in board.teller.found.lives.in_order()
            if life.priority is Priority.DANGER
        ),
        key=lambda one: one[:3],
    )
    return Table(
        "Every danger, the first to be raised first",
        ("raised", "board", "alarm", "about", "place", "why", "ended"),
        tuple(
            (
                board.teller.at(life.raised_ns), board.name, f"{life.number} {life.word}",
                life.subject, life.location, life.detail,
                board.teller.at(life.ended_ns) or "stands where the record ends",
            )
            for *_, board, life in found
        ),
        "none was raised",
    )  # fmt: skip


def _everything(boards: Sequence[Board], zone: words.Zone) -> Table:
    """The time lines of all boards as one, by the time of day."""

    def told(n: int, board: Board) -> Iterator[tuple[int, int, str, str, str]]:
        for line in board.teller.found.timeline.lines:
            yield board.wall(line.t), n, board.name, line.words, line.by

    return Table(
        "By the clocks of the bases",
        ("time", "board", "what", "by"),
        (
            (words.clock(wall, zone), name, said, by)
            for wall, _, name, said, by in merge(
                *(
                    sorted(told(n, board), key=lambda one: one[:2])
                    for n, board in enumerate(boards)
                ),
                key=lambda one: one[:2],
            )
        ),
        "nothing was noted",
    )
