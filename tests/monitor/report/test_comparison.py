"""Runs side by side."""

from dataclasses import replace
from datetime import UTC
from typing import Any

import html5lib
import pytest

from monitor.incident import events
from monitor.report.blocks import Table, Text
from monitor.report.comparison import NO_TRUTH, Run, comparison
from monitor.report.html import Page, page
from monitor.report.reading import Told
from monitor.report.score import Expected, Inject, Score, score
from monitor.report.text import text

S = 1_000_000_000
INJECT = Inject("caught", "distress", frozenset({1}), 5 * S)
EXPECTED = (
    Expected("acknowledge", "caught", 0, "distress", "", frozenset({1}), 30 * S, True, ""),
    Expected("start_back", "caught", 0, "distress", "", frozenset({1}), 60 * S, True, ""),
)


@pytest.fixture
def told(tale: Any, tell: Any) -> Told:
    """The inject at 10 s, shown at 12 s, taken at 20.05 s; nobody starts back."""
    tale.person(1)
    tale.hear(1)
    tale.act(2, events.Connect, wearers=(1,))
    tale.act(3, events.Enter, wearers=(1,))
    tale.hear(12, distress=True)
    tale.act(20.05, events.Acknowledge, alarms=tale.alarms(19, "distress"))
    made: Told = tell(tale, 100)
    return made


def judged(told: Told) -> Score:
    lives = told.gathered.lives.in_order()
    return score([INJECT], EXPECTED, [(10 * S, "caught")], lives, told.gathered.acts, 100 * S)


def tables(content: Page) -> dict[str, Table]:
    blocks = [b for s in content.sections for b in s.blocks]
    return {b.caption: b for b in blocks if isinstance(b, Table)}


def texts(content: Page) -> str:
    return " ".join(b.words for s in content.sections for b in s.blocks if isinstance(b, Text))


def test_times_and_counts_run_by_run(told: Told) -> None:
    content = comparison([Run(told, "Kiln Lane", 7, judged(told))] * 2, UTC)
    found = tables(content)
    first, second = found["From inject to board, to key, to act"].rows
    # From showing to taking are 8.05 s, told as 8.1 s; the one act that was done is the taking.
    assert first == ("1", "2.0 s", "2.0 s", "8.1 s", "8.1 s", "8.1 s", "8.1 s")
    assert second[0] == "2"
    acts, _ = found["Of the acts that are needed"].rows
    assert acts == ("1", "2", "1", "0", "1", "0", "0", "0")
    which, _ = found["In order of time"].rows
    # The tale opens at 22:13:20 of 2023-11-14.
    assert which[2:] == (
        "2023-11-14 22:13:20", "1 min 40 s", "R. Harrow", "", "Kiln Lane", "7",
    )  # fmt: skip
    assert "different scenarios" not in texts(content)


def test_a_run_without_its_truth_tells_what_the_journal_knows(told: Told) -> None:
    found = tables(comparison([Run(told, "", 0, None), Run(told, "A", 1, judged(told))], UTC))
    times, _ = found["From inject to board, to key, to act"].rows
    assert times == ("1", NO_TRUTH, "", "8.1 s", "8.1 s", NO_TRUTH, "")
    acts, _ = found["Of the acts that are needed"].rows
    assert acts == ("1", NO_TRUTH, "", "", "", "", "", "0")
    assert next(iter(found["In order of time"].rows))[5:] == ("", NO_TRUTH, "")


def test_nothing_shown_is_in_no_median(told: Told) -> None:
    nothing = replace(judged(told), shown=(), judged=())
    found = tables(comparison([Run(told, "A", 1, nothing)], UTC))
    (times,) = found["From inject to board, to key, to act"].rows
    assert times == ("1", *["none"] * 6)


def test_runs_of_different_scenarios_are_said_to_be(told: Told) -> None:
    content = comparison([Run(told, "A", 1, judged(told)), Run(told, "B", 1, judged(told))], UTC)
    assert "different scenarios" in texts(content)


def test_as_text_and_as_a_page(told: Told) -> None:
    content = comparison([Run(told, "Kiln <Lane>", 7, judged(told))] * 3, UTC)
    assert "EXERCISE" in text(content, 132)
    assert max(map(len, text(content, 132).splitlines())) <= 132
    html5lib.HTMLParser(strict=True).parse("".join(page(content)))


def test_inject_by_inject_with_medians_best_and_worst(told: Told) -> None:
    """Shown after 2 s and taken 8.05 s later: 10.05 s. In other runs after 20 s, and never."""
    first = judged(told)
    (shown,) = first.shown
    later = replace(first, shown=(replace(shown, taken_ns=18 * S),))
    never = replace(first, shown=(replace(shown, taken_ns=None),))
    unseen = replace(first, shown=(replace(shown, shown_ns=None, taken_ns=None),))
    empty = replace(first, shown=())
    runs = [Run(told, "A", 1, one) for one in (first, later, never, unseen, empty)]
    table = tables(comparison(runs, UTC))["From inject to the key that took its alarm"]
    assert table.head == (
        "inject", "run 1", "run 2", "run 3", "run 4", "run 5", "median", "best", "worst",
    )  # fmt: skip
    assert tuple(table.rows) == (
        ("caught", "10.1 s", "20.0 s", "NOT TAKEN", "NOT SHOWN", "did not come", "20.0 s",
         "10.1 s", "20.0 s"),
    )  # fmt: skip


def test_an_inject_that_nobody_took_has_no_median(told: Told) -> None:
    found = judged(told)
    (shown,) = found.shown
    never = replace(found, shown=(replace(shown, taken_ns=None),))
    table = tables(comparison([Run(told, "A", 1, never)] * 2, UTC))
    (row,) = table["From inject to the key that took its alarm"].rows
    assert row == ("caught", "NOT TAKEN", "NOT TAKEN", "", "", "")


def test_what_was_better_and_worse_is_said_in_words(told: Told) -> None:
    """Nothing was done the first time, nor was the alarm taken."""
    good = judged(told)
    (shown,) = good.shown
    bad = replace(
        good,
        shown=(replace(shown, taken_ns=None),),
        judged=tuple(replace(one, outcome="missed") for one in good.judged),
    )
    content = comparison([Run(told, "A", 1, bad), Run(told, "A", 2, good)], UTC)
    assert list(tables(content)["Run 2 beside run 1"].rows) == [
        ("caught: taken after 8.1 s, not taken before", "better"),
        ("acknowledge 1 because of caught: done in time, missed before", "better"),
    ]
    assert "1 thing went as before." in texts(content)
    other = comparison([Run(told, "A", 1, bad), Run(told, "B", 2, good)], UTC)
    assert "No two runs of one scenario" in texts(other)
