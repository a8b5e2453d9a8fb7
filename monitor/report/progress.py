"""What went better and what worse from one run of a scenario to the next, in words. Pure.

Only what the officer does is set beside: how soon an alarm was taken, and acts that are needed. A
time counts as another from ``DIFFERENT_NS`` on. No figure is made of it: the instructor judges.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.report import words
from monitor.report.score import Expected, Score

DIFFERENT_NS = 2 * words.SECOND_NS
"""Less apart, two times are alike: to look, to find the key and to press it takes a second or two,
and so much another day. Common practice, no source."""
_RANKS = {"done": 0, "late": 1, "missed": 2}
_SAID = {"done": "done in time", "late": "done late", "missed": "missed"}


@dataclass(frozen=True, slots=True)
class Progress:
    """One run beside the one before it."""

    better: tuple[str, ...]
    worse: tuple[str, ...]
    alike: int
    """Injects and acts that came in both and went the same."""


def progress(before: Score, after: Score) -> Progress:
    """Set a run beside an earlier one of the same scenario; what came in one alone is left out."""
    better: list[str] = []
    worse: list[str] = []
    alike = 0
    for change, said in (*_taken(before, after), *_acts(before, after), *_counts(before, after)):
        if change == 0:
            alike += 1
        else:
            (better if change < 0 else worse).append(said)
    return Progress(tuple(better), tuple(worse), alike)


Change = tuple[int, str]
"""Below 0: better; above: worse; 0: the same. And in words."""


def _taken(before: Score, after: Score) -> Iterator[Change]:
    """Of each inject that the board showed in both: how soon its alarm was taken."""
    earlier = {one.inject.name: one for one in before.shown}
    for one in after.shown:
        then = earlier.get(one.inject.name)
        if then is None or then.shown_ns is None or one.shown_ns is None:
            continue
        if one.taken_ns is None or then.taken_ns is None:
            change = (one.taken_ns is None) - (then.taken_ns is None)
        else:
            apart = one.taken_ns - then.taken_ns
            change = 0 if abs(apart) < DIFFERENT_NS else apart
        yield change, f"{one.inject.name}: {_time(one.taken_ns)}, {_time(then.taken_ns)} before"


def _time(taken_ns: int | None) -> str:
    return "not taken" if taken_ns is None else f"taken after {words.seconds_up(taken_ns)}"


def _acts(before: Score, after: Score) -> Iterator[Change]:
    """Of each needed act that was asked for in both: in time, late or missed."""
    earlier = {one.expected: one.outcome for one in before.judged}
    for one in after.judged:
        then = earlier.get(one.expected)
        if one.expected.needed and then in _RANKS and one.outcome in _RANKS:
            said = f"{act_of(one.expected)}: {_SAID[one.outcome]}, {_SAID[then]} before"
            yield _RANKS[one.outcome] - _RANKS[then], said


def act_of(expected: Expected) -> str:
    """An expected act in words: what, of whom, because of what."""
    what = expected.order or expected.what.replace("_", " ")
    wearers = ", ".join(map(str, sorted(expected.wearers)))
    because = f" because of {expected.inject}" if expected.inject else ""
    return f"{what} {wearers}".rstrip() + because


def _counts(before: Score, after: Score) -> Iterator[Change]:
    """Alarms taken too fast, and orders that nothing asked for; silent where there were none."""
    for what, now, then in (
        ("alarms taken too fast to have been read", len(after.unread), len(before.unread)),
        ("orders that nothing asked for", len(after.unasked), len(before.unasked)),
    ):
        if now != then:
            yield now - then, f"{what}: {now}, {then} before"
