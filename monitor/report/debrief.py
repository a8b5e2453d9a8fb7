"""A score as a page to talk over: what came, what the board showed, what was done. Pure."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.report import words
from monitor.report.blocks import Block, Facts, Row, Section, Table, Text
from monitor.report.event_words import act_words, who
from monitor.report.forecasts import Judgement
from monitor.report.heading import use_word
from monitor.report.html import Page
from monitor.report.reading import Told
from monitor.report.score import Judged, Score, Shown
from monitor.report.teller import Teller

CAUTION = (
    "A score tells when keys were pressed, beside what the scenario and its procedure ask for. It "
    "does not hear what was said, and it is no proof of competence: the instructor judges. Outby "
    "is an aid to decision and training, not a certified safety device."
)
SECOND_NS = 1_000_000_000
WORDS = {
    "done": "done in time",
    "late": "LATE",
    "missed": "MISSED",
    "scripted": "by the script",
    "not over": "the run ended first",
    "not asked": "not asked in this run",
}


MARKS = {"turn": "turn-back", "low": "low-air warning", "empty": "empty"}
WAYS = {"F": "forecast", "R": "planned rate", "T": "table"}
Ticks = Sequence[tuple[int, str, frozenset[int]]]
"""When an instructor ticked what was done by voice, and for whom."""


@dataclass(frozen=True, slots=True)
class Played:
    """What was played, and by whom."""

    scenario: str
    seed: int
    trainee: str = ""
    """Empty: nobody said."""
    teaches: str = ""
    look_for: Sequence[str] = ()
    """What the trainer watches for."""


def debrief(
    told: Told,
    found: Score,
    played: Played,
    zone: words.Zone,
    ticks: Ticks = (),
    forecasts: Sequence[Judgement] = (),
) -> Page:
    """Lay out the page of one run."""
    teller = Teller(told, zone)
    opened = teller.opened
    return Page(
        title=f"{opened.name}: debrief of a drill",
        use=use_word(told),
        exercise=told.header.use == "exercise",
        subtitle=f"scenario {played.scenario}, seed {played.seed}, officer {opened.officer}, "
        f"{f'trainee {played.trainee}, ' if played.trainee else ''}"
        f"{teller.moment(0)} to {teller.moment(told.gathered.end_ns)}",
        caution=CAUTION,
        sections=(
            Section("sum", "In short", (*_lesson(played), *_sum(found))),
            Section("board", "What came, and what the board showed", tuple(_board(teller, found))),
            Section("acts", "What was to be done", tuple(_acts(teller, found))),
            Section("voice", "Done by voice", tuple(_by_voice(teller, ticks))),
            Section("others", "To talk over", tuple(_others(teller, found))),
            Section("air", "What the board said of air to come", tuple(_air(forecasts))),
        ),
    )


def _lesson(played: Played) -> Iterator[Block]:
    """What no figure tells, and the trainer has seen."""
    if played.teaches:
        yield Text(f"What this scenario teaches: {played.teaches}.", strong=True)
    if played.look_for:
        rows = tuple((line, "") for line in played.look_for)
        yield Table("What the trainer looks for", ("what", "seen"), rows)


def _sum(found: Score) -> Iterator[Block]:
    asked = sum(
        one.outcome not in {"not asked", "scripted"} and one.expected.needed for one in found.judged
    )
    good = found.count("done", needed=False)
    yield Facts(
        "Of the acts that are needed",
        (
            ("asked for", str(asked)),
            ("done in time", str(found.count("done"))),
            ("late", str(found.count("late"))),
            ("missed", str(found.count("missed"))),
            ("good to do, and done in time", str(good)),
            ("alarms taken too fast to have been read", str(len(found.unread))),
            ("injects that did not come in this run", ", ".join(found.never_came) or "none"),
        ),
    )


def _by_voice(teller: Teller, ticks: Ticks) -> Iterator[Block]:
    people = teller.found.wears.people
    rows = tuple((teller.at(t), what, who(wearers, people)) for t, what, wearers in ticks)
    yield Table(
        "As the instructor ticked it", ("time", "what", "about"), rows, "nothing was ticked"
    )


def _board(teller: Teller, found: Score) -> Iterator[Block]:
    head = ("inject", "at", "must show as", "within", "the board", "after", "taken after", "by")
    rows = tuple(_inject(teller, one) for one in found.shown)
    yield Table("Injects, in order of time", head, rows)


def _inject(teller: Teller, one: Shown) -> Row:
    must = one.inject.shows.replace("_", " ")
    return (
        one.inject.name,
        teller.clock(one.at_ns),
        must or "nothing",
        words.span(one.inject.within_ns) if must else "",
        one.verdict,
        "" if one.shown_ns is None else words.seconds_up(one.shown_ns),
        _taken(one),
        one.by,
    )


def _taken(one: Shown) -> str:
    if one.shown_ns is None:
        return ""
    return "NOT TAKEN" if one.taken_ns is None else words.seconds_up(one.taken_ns)


def _acts(teller: Teller, found: Score) -> Iterator[Block]:
    head = ("act", "because of", "from", "within", "came out", "after", "by", "why")
    for caption, needed in (("Needed", True), ("Good to do", False)):
        rows = tuple(_act(teller, one) for one in found.judged if one.expected.needed is needed)
        yield Table(caption, head, rows)


def _act(teller: Teller, one: Judged) -> Row:
    expected = one.expected
    what = expected.order or expected.what.replace("_", " ")
    wearers = ", ".join(map(str, sorted(expected.wearers)))
    return (
        f"{what} {wearers}".rstrip(),
        expected.inject or "the time",
        "" if one.from_ns is None else teller.clock(one.from_ns),
        words.span(expected.within_ns),
        WORDS[one.outcome],
        "" if one.after_ns is None else words.seconds_up(one.after_ns),
        one.by,
        expected.why,
    )


def _others(teller: Teller, found: Score) -> Iterator[Block]:
    unread = tuple(
        (teller.clock(t), f"{life.word}, {life.subject}", words.seconds_up(after_ns))
        for t, life, after_ns in found.unread
    )
    head: Row = ("at", "alarm", "taken after")
    yield Table("Taken too fast to have been read", head, unread)
    people, unit = teller.found.wears.people, teller.unit
    unasked = tuple(
        (teller.clock(t), act_words(act, people, unit), act.by) for t, act in found.unasked
    )
    yield Table("Orders that the scenario does not ask for", ("at", "what", "by"), unasked)


def _air(forecasts: Sequence[Judgement]) -> Iterator[Block]:
    head = (
        "next mark", "by", "said", "came", "not before said", "median", "most early",
        "most late", "over 2 min late",
    )  # fmt: skip
    rows = tuple(
        (
            MARKS[one.target],
            WAYS[one.by],
            str(one.said),
            str(one.reached),
            words.percent_down(one.inside / one.reached) if one.reached else "",
            _off(one.median_ns),
            _off(one.earliest_ns),
            _off(one.latest_ns),
            str(one.late),
        )
        for one in forecasts
    )
    yield Table("Asked once a minute of each wear, beside the truth", head, rows)
    yield Text(
        "The board says when a mark comes at the earliest. Early: it came after that, and time "
        "was given away. Late: it came before that. What befell a wearer afterwards, such as free "
        "flow, counts all the same. Marks that were not reached in the same wear cannot be "
        "judged."
    )


def _off(ns: int | None) -> str:
    """How far it was from the truth; to the second away from none."""
    if ns is None:
        return ""
    away = -(-abs(ns) // SECOND_NS)
    return f"{away} s {'late' if ns > 0 else 'early'}" if away else "0 s"
