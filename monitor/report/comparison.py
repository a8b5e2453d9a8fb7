"""Several runs of one trainee side by side, as a page. Pure.

What hangs on injects needs the run's truth file. Where there is none, that run tells only what its
journal knows: how long alarms waited until they were taken, and which were taken too fast.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median_high

from monitor.incident.picture import Priority
from monitor.report import words
from monitor.report.alarm_lives import AlarmLife, Answer
from monitor.report.blocks import Block, Row, Section, Table, Text
from monitor.report.debrief import CAUTION
from monitor.report.heading import use_word
from monitor.report.html import Page
from monitor.report.progress import progress
from monitor.report.reading import Told
from monitor.report.score import Score, too_fast

RUNS_MAX = 20
"""More rows than a page holds."""
NO_TRUTH = "no truth file"


@dataclass(frozen=True, slots=True)
class Run:
    """One run."""

    told: Told
    scenario: str
    """Empty: there is no truth file to say it."""
    seed: int
    score: Score | None
    """None: there is no truth file to judge by."""
    trainee: str = ""
    """Empty: nobody said."""


def comparison(runs: Sequence[Run], zone: words.Zone) -> Page:
    """Lay out the page; runs in order of their beginning."""
    ordered = sorted(runs, key=lambda run: run.told.gathered.wall.at(0))
    first = ordered[0].told
    officers = {_officer(run) for run in ordered}
    return Page(
        title=f"{len(ordered)} runs compared",
        use=use_word(first),
        exercise=all(run.told.header.use == "exercise" for run in ordered),
        subtitle=f"officer {', '.join(sorted(officers))}",
        caution=CAUTION,
        sections=(
            Section("runs", "Which runs", tuple(_which(ordered, zone))),
            Section("progress", "Better and worse", tuple(_progress(ordered))),
            Section("times", "How long it took", tuple(_times(ordered))),
            Section("acts", "What was done", tuple(_acts(ordered))),
            Section("injects", "Inject by inject", tuple(_injects(ordered))),
        ),
    )


def _which(runs: Sequence[Run], zone: words.Zone) -> Iterator[Block]:
    rows = tuple(
        (
            str(number),
            run.told.name,
            words.moment(run.told.gathered.wall.at(0), zone),
            words.span(run.told.gathered.end_ns),
            _officer(run),
            run.trainee,
            run.scenario or NO_TRUTH,
            str(run.seed) if run.scenario else "",
        )
        for number, run in enumerate(runs, start=1)
    )
    yield Table(
        "In order of time",
        ("run", "journal", "began", "length", "officer", "trainee", "scenario", "seed"),
        rows,
    )
    if len({run.scenario for run in runs if run.scenario}) > 1:
        yield Text("The runs are of different scenarios: their times say little of one another.")
    if len({_officer(run) for run in runs}) > 1:
        yield Text("The runs are not all of one officer.")


def _progress(runs: Sequence[Run]) -> Iterator[Block]:
    """Each run beside the one before it of the same scenario."""
    before: dict[str, tuple[int, Score]] = {}
    told = False
    for number, run in _numbered(runs):
        if run.score is None:
            continue
        if run.scenario in before:
            earlier, score = before[run.scenario]
            found = progress(score, run.score)
            rows = [
                *((said, "better") for said in found.better),
                *((said, "worse") for said in found.worse),
            ]
            caption = f"Run {number} beside run {earlier}"
            yield Table(caption, ("what", "how it went"), tuple(rows), "all as before")
            yield Text(f"{words.counted(found.alike, 'thing')} went as before.")
            told = True
        before[run.scenario] = number, run.score
    if not told:
        yield Text("No two runs of one scenario have a truth file to set them side by side by.")
    else:
        yield Text(
            "Times of taking less than 2 s apart count as the same. Where wearers breathe by "
            "another seed, an alarm may come at another moment: times run from when the board "
            "showed it."
        )


def _times(runs: Sequence[Run]) -> Iterator[Block]:
    head = (
        "run", "shown, median", "longest", "taken, median", "longest",
        "acted on, median", "longest",
    )  # fmt: skip
    yield Table(
        "From inject to board, to key, to act", head, tuple(map(_time_row, _numbered(runs)))
    )
    yield Text(
        "Shown: from the inject until the board told it. Taken: from there until it was taken; "
        "without a truth file, of every danger and caution. Acted on: from when an act fell due "
        "until it was done, in time or late. Of two in the middle the longer; what never came "
        "is counted below and is in no median."
    )


def _time_row(numbered: tuple[int, Run]) -> Row:
    number, run = numbered
    if run.score is None:
        taken = _waits(run.told.gathered.lives.in_order())
        return (str(number), NO_TRUTH, "", *_middle_and_longest(taken), NO_TRUTH, "")
    shown = run.score.shown
    acted = (one.after_ns for one in run.score.judged)
    return (
        str(number),
        *_middle_and_longest(one.shown_ns for one in shown),
        *_middle_and_longest(one.taken_ns for one in shown),
        *_middle_and_longest(acted),
    )


def _acts(runs: Sequence[Run]) -> Iterator[Block]:
    head = (
        "run",
        "asked for",
        "in time",
        "late",
        "missed",
        "not shown",
        "not asked for",
        "too fast",
    )
    yield Table("Of the acts that are needed", head, tuple(map(_act_row, _numbered(runs))))
    yield Text(
        "Not shown: injects that the board never showed. Not asked for: orders and emergency "
        "crews that the scenario does not ask for. Too fast: alarms taken before anybody can "
        "have read them."
    )


def _act_row(numbered: tuple[int, Run]) -> Row:
    number, run = numbered
    found = run.score
    if found is None:
        fast = sum(1 for _ in too_fast(run.told.gathered.lives.in_order()))
        return (str(number), NO_TRUTH, "", "", "", "", "", str(fast))
    asked = sum(
        one.outcome not in {"not asked", "scripted"} and one.expected.needed for one in found.judged
    )
    return (
        str(number),
        str(asked),
        str(found.count("done")),
        str(found.count("late")),
        str(found.count("missed")),
        str(sum(one.verdict == "NOT SHOWN" for one in found.shown)),
        str(len(found.unasked)),
        str(len(found.unread)),
    )


def _injects(runs: Sequence[Run]) -> Iterator[Block]:
    """How long each took in each run, with the middle of all."""
    scored = [(number, run.score) for number, run in _numbered(runs) if run.score is not None]
    names = dict.fromkeys(one.inject.name for _, found in scored for one in found.shown)
    rows = tuple(_inject_row(name, [found for _, found in scored]) for name in names)
    head = ("inject", *(f"run {number}" for number, _ in scored), "median", "best", "worst")
    yield Table("From inject to the key that took its alarm", head, rows, "no run has any")
    yield Text(
        "What was shown and never taken is NOT TAKEN, and worse than any time. Of two in the "
        "middle the longer. Best and worst are of the runs in which it was taken."
    )


def _inject_row(name: str, scores: Sequence[Score]) -> Row:
    cells: list[str] = []
    taken: list[int] = []
    for found in scores:
        one = next((one for one in found.shown if one.inject.name == name), None)
        if one is None:
            cells.append("did not come")
        elif one.shown_ns is None:
            cells.append(one.verdict)
        elif one.taken_ns is None:
            cells.append("NOT TAKEN")
        else:
            taken.append(one.shown_ns + one.taken_ns)
            cells.append(words.seconds_up(taken[-1]))
    if not taken:
        return (name, *cells, "", "", "")
    ends = (median_high(taken), min(taken), max(taken))
    return (name, *cells, *map(words.seconds_up, ends))


def _numbered(runs: Sequence[Run]) -> Iterable[tuple[int, Run]]:
    return enumerate(runs, start=1)


def _officer(run: Run) -> str:
    opened = run.told.gathered.opened
    assert opened is not None, "nothing is told of a journal without an incident"
    return opened.officer


def _waits(lives: Iterable[AlarmLife]) -> Iterator[int]:
    for life in lives:
        for wait in life.waits:
            taken = wait.answer is Answer.TAKEN and wait.priority is not Priority.NOTICE
            if taken and wait.spell.to_ns is not None:
                yield wait.spell.to_ns - wait.spell.from_ns


def _middle_and_longest(times_ns: Iterable[int | None]) -> tuple[str, str]:
    known = [one for one in times_ns if one is not None]
    if not known:
        return "none", "none"
    return words.seconds_up(median_high(known)), words.seconds_up(max(known))
