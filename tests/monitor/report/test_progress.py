"""Two runs made by hand: each thing that can go better or worse."""

from typing import Any

import pytest

from monitor.incident.events import Note
from monitor.report.progress import DIFFERENT_NS, Progress, act_of, progress
from monitor.report.score import Expected, Inject, Judged, Outcome, Score, Shown

S = 1_000_000_000
CAUGHT = Inject("caught", "distress", frozenset({1}), 5 * S)
BACK = Expected("start_back", "caught", 0, "distress", "", frozenset({2, 1}), 60 * S, True, "")


def run(
    taken_s: float | None = 8, outcome: Outcome = "done", shown_s: float | None = 2, **more: Any
) -> Score:
    """The inject shown and taken after so long, and the one act that is needed."""
    shown = None if shown_s is None else round(shown_s * S)
    taken = None if taken_s is None else round(taken_s * S)
    fields: dict[str, Any] = {
        "shown": (Shown(CAUGHT, 10 * S, 1, shown, taken, "R. Harrow"),),
        "judged": (Judged(BACK, outcome, 12 * S),), "never_came": (), "unread": (), "unasked": (),
    } | more  # fmt: skip
    return Score(**fields)


def test_the_same_again_is_alike() -> None:
    assert progress(run(), run()) == Progress((), (), 2)


@pytest.mark.parametrize(
    ("before", "after", "better", "worse"),
    [
        (20, 8.05, ("caught: taken after 8.1 s, taken after 20.0 s before",), ()),
        (8.05, 20, (), ("caught: taken after 20.0 s, taken after 8.1 s before",)),
        (None, 8, ("caught: taken after 8.0 s, not taken before",), ()),
        (8, None, (), ("caught: not taken, taken after 8.0 s before",)),
        (None, None, (), ()),
        (8, 8 + DIFFERENT_NS / S - 0.1, (), ()),
        (8, 8 + DIFFERENT_NS / S, (), ("caught: taken after 10.0 s, taken after 8.0 s before",)),
    ],
)
def test_how_soon_an_alarm_was_taken(
    before: float | None, after: float | None, better: tuple[str, ...], worse: tuple[str, ...]
) -> None:
    found = progress(run(before), run(after))
    assert (found.better, found.worse) == (better, worse)


@pytest.mark.parametrize(
    ("before", "after", "better", "worse"),
    [
        ("missed", "done", "done in time, missed before", None),
        ("missed", "late", "done late, missed before", None),
        ("done", "late", None, "done late, done in time before"),
        ("done", "missed", None, "missed, done in time before"),
        ("done", "not asked", None, None),
        ("scripted", "missed", None, None),
        ("not over", "done", None, None),
    ],
)
def test_what_came_of_an_act(
    before: Outcome, after: Outcome, better: str | None, worse: str | None
) -> None:
    found = progress(run(outcome=before), run(outcome=after))
    what = "start back 1, 2 because of caught: "
    assert found.better == ((what + better,) if better else ())
    assert found.worse == ((what + worse,) if worse else ())


def test_what_the_board_did_not_show_is_not_the_officers() -> None:
    assert progress(run(shown_s=None, taken_s=None), run()).better == ()
    assert progress(run(), run(shown=())).worse == ()


def test_what_nothing_asked_for_is_counted() -> None:
    note = (S, Note(id="note-000001", by="R. Harrow", text="x"))
    found = progress(run(unasked=(note, note)), run(unasked=(note,)))
    assert found.better == ("orders that nothing asked for: 1, 2 before",)
    assert progress(run(), run(unasked=(note,))).worse == (
        "orders that nothing asked for: 1, 0 before",
    )


def test_an_act_is_named_by_its_order() -> None:
    order = Expected("give_order", "", 30 * S, "", "evacuate", frozenset(), 60 * S, True, "")
    assert act_of(order) == "evacuate"
