"""The page of one run for whoever was trained: what came, what the board told, what was done. Pure.

For the trainee's own eyes first. It judges nobody: beside each thing that came stands the board as
it was when it had to be seen, what was done and when, and what good looks like, by the scenario.
"""

from collections.abc import Iterator, Mapping, Sequence

from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.picture import Priority
from monitor.report import words
from monitor.report.blocks import Block, Chart, Facts, Row, Section, Table, Text
from monitor.report.charts import (
    EDGE,
    GRID,
    INSIDE,
    LEFT,
    LOOKS,
    ON_AIR,
    TITLE,
    TITLE_SIZE,
    WIDE,
    Frame,
    sign,
    times,
)
from monitor.report.curves import ticks
from monitor.report.debrief import CAUTION, WORDS, Played
from monitor.report.heading import use_word
from monitor.report.html import Page
from monitor.report.progress import act_of
from monitor.report.reading import Told
from monitor.report.score import Judged, Score, Shown
from monitor.report.svg import Drawing
from monitor.report.teller import Teller

Boards = Mapping[str, str]
"""By inject: the board as a drawing, as it was when the inject had to be seen on it."""
ROW_HIGH, TOP, LEFT_OF_LINE = 20.0, 24.0, 150.0
NAME_LETTERS = 32
"""Of an inject beside its line; the table has all."""


def seen_ns(one: Shown) -> int:
    """When an inject had to be seen: once the board showed it, else at the latest instant."""
    return one.at_ns + (one.inject.within_ns if one.shown_ns is None else one.shown_ns)


def trainee_page(
    told: Told, found: Score, played: Played, boards: Boards, zone: words.Zone
) -> Page:
    """Lay out the page of one run."""
    teller = Teller(told, zone)
    opened = teller.opened
    whose = played.trainee or opened.officer
    return Page(
        title=f"{opened.name}: your run, {whose}",
        use=use_word(told),
        exercise=told.header.use == "exercise",
        subtitle=f"scenario {played.scenario}, seed {played.seed}, "
        f"{teller.moment(0)} to {teller.moment(told.gathered.end_ns)}",
        caution=CAUTION,
        sections=(
            Section("run", "Your run in one line", tuple(_run(teller, found, played))),
            *(
                Section(
                    f"inject-{n}", f"{n}. {one.inject.name}", _inject(teller, found, one, boards)
                )
                for n, one in enumerate(found.shown, start=1)
            ),
            Section("rest", "What hung on the clock alone", tuple(_by_the_clock(teller, found))),
        ),
    )


def _run(teller: Teller, found: Score, played: Played) -> Iterator[Block]:
    if played.teaches:
        yield Text(f"What this scenario teaches: {played.teaches}.", strong=True)
    if not found.shown:
        yield Text("Nothing came in this run.")
        return
    yield Chart(run_line(teller, found))
    yield Text(
        "A line for each thing that came: pale from when it happened until the board showed it, "
        "dark until you took the alarm. Circle: an act done in time; triangle: done late; square: "
        "missed, where its time was over. The parts below tell each."
    )


def run_line(teller: Teller, found: Score) -> str:
    """What came and what was done, on one axis of time."""
    end = teller.found.end_ns
    bottom = TOP + ROW_HIGH * len(found.shown)
    frame = Frame(LEFT_OF_LINE, WIDE - 14, TOP, bottom, 0, max(1, end), 1)
    alt = (
        f"{len(found.shown)} things that came, on one axis of time. The parts below tell the same."
    )
    drawing = Drawing("run", alt, WIDE, bottom + 20, LOOKS)
    drawing.words((LEFT, 11), "What came, and what was done", TITLE_SIZE, **TITLE)
    marks = ticks(0, max(1, end), teller.found.wall.at)
    drawing.segments([((frame.x(t), TOP), (frame.x(t), bottom)) for t in marks], **GRID)
    for row, one in enumerate(found.shown):
        y = TOP + ROW_HIGH * (row + 0.5)
        name = one.inject.name
        short = name if len(name) <= NAME_LETTERS else f"{name[: NAME_LETTERS - 3]}..."
        drawing.words((LEFT_OF_LINE - 4, y + 2.5), f"{row + 1} {short}", text_anchor="end")
        seen, taken = seen_ns(one), _taken_at(one)
        x, seen_x = frame.x(one.at_ns), frame.x(seen)
        drawing.box((x, y - 4), max(1.0, seen_x - x), 8, **ON_AIR)
        if taken is not None:
            drawing.box((seen_x, y - 2.5), max(1.0, frame.x(taken) - seen_x), 5, **INSIDE)
        for judged in _acts_of(found, one):
            at = _act_at(judged)
            if at is not None and judged.outcome in _SIGNS:
                sign(drawing, (frame.x(min(at, end)), y), _SIGNS[judged.outcome], on_bar=True)
    drawing.lines([(frame.left, TOP), (frame.left, bottom), (frame.right, bottom)], **EDGE)
    times(drawing, frame, marks, teller.clock)
    return drawing.svg()


_SIGNS = {"done": Priority.NOTICE, "late": Priority.CAUTION, "missed": Priority.DANGER}
"""Circle, triangle, square: told apart in grey too."""


def _taken_at(one: Shown) -> int | None:
    return None if one.taken_ns is None else seen_ns(one) + one.taken_ns


def _act_at(judged: Judged) -> int | None:
    """When it was done, or its time was over."""
    if judged.from_ns is None:
        return None
    within = judged.expected.within_ns if judged.after_ns is None else judged.after_ns
    return judged.from_ns + within


def _acts_of(found: Score, one: Shown) -> list[Judged]:
    return [judged for judged in found.judged if judged.expected.inject == one.inject.name]


def _inject(teller: Teller, found: Score, one: Shown, boards: Boards) -> Iterator[Block]:
    must = one.inject.shows.replace("_", " ")
    yield Facts("What came", tuple(_facts(teller, one, must)))
    drawn = boards.get(one.inject.name)
    if drawn:
        moment = "as it showed it" if one.shown_ns is not None else "when it should have"
        yield Text(f"The board at {teller.clock(seen_ns(one))}, {moment}:")
        yield Chart(drawn)
    acts = _acts_of(found, one)
    yield Table(
        "What was done",
        ("act", "how it came out", "at", "after", "by"),
        tuple(_act(teller, judged) for judged in acts),
        "the scenario asks for nothing here",
    )
    yield Table(
        "What good looks like",
        ("act", "within", "because"),
        tuple(
            (
                _name(judged),
                _within(judged),
                judged.expected.why,
            )
            for judged in acts
        ),
        "to have read it, and to have gone on watching",
    )


def _facts(teller: Teller, one: Shown, must: str) -> Iterator[Row]:
    yield "it happened at", teller.clock(one.at_ns)
    if must:
        yield "the board must show", f"{must}, within {words.span(one.inject.within_ns)}"
    yield "the board", one.verdict
    if one.shown_ns is not None:
        yield "it showed it after", words.seconds_up(one.shown_ns)
        if one.taken_ns is not None:
            yield "taken after that", f"{words.seconds_up(one.taken_ns)}, by {one.by}"
        else:
            kind = Kind(one.inject.shows)
            notice = CATALOGUE[kind].priority is Priority.NOTICE
            yield "taken after that", "it needs no key" if notice else "not taken"


def _name(judged: Judged) -> str:
    return act_of(judged.expected).partition(" because of ")[0]


def _within(judged: Judged) -> str:
    span = words.span(judged.expected.within_ns)
    return span if judged.expected.needed else f"{span}, good to do"


def _act(teller: Teller, judged: Judged) -> Row:
    done = judged.after_ns is not None
    at = _act_at(judged)
    return (
        _name(judged),
        WORDS[judged.outcome],
        teller.clock(at) if done and at is not None else "",
        words.seconds_up(judged.after_ns) if done else "",
        judged.by,
    )


def _by_the_clock(teller: Teller, found: Score) -> Iterator[Block]:
    """Acts that hang on no inject, then what the instructor will want to talk over."""
    alone: Sequence[Judged] = [one for one in found.judged if not one.expected.inject]
    yield Table(
        "Acts that were due by the time",
        ("act", "how it came out", "at", "after", "by"),
        tuple(_act(teller, judged) for judged in alone),
        "there were none",
    )
    yield Facts(
        "To talk over",
        (
            ("alarms taken too fast to have been read", str(len(found.unread))),
            ("orders that nothing asked for", str(len(found.unasked))),
            ("what did not come in this run", ", ".join(found.never_came) or "nothing"),
        ),
    )
