"""The trainee's page of one run made by hand."""

from collections.abc import Callable
from datetime import UTC
from typing import TYPE_CHECKING, Any

import pytest

from monitor.incident import events
from monitor.report.debrief import Played
from monitor.report.html import page
from monitor.report.reading import Told
from monitor.report.score import Expected, Inject, Score, Shown, score
from monitor.report.trainee_page import seen_ns, trainee_page

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead

S = 1_000_000_000
CAUGHT = Inject("caught <under> bricks", "distress", frozenset({1}), 5 * S)
FOG = Inject("fog", "", frozenset(), 0)
NEVER = Inject("free flow", "loss_of_pressure", frozenset({1}), 20 * S)
BECAUSE = CAUGHT.name
EXPECTED = (
    Expected("acknowledge", BECAUSE, 0, "distress", "", frozenset({1}), 30 * S, True, "at once"),
    Expected("start_back", BECAUSE, 0, "distress", "", frozenset({1}), 60 * S, True, "all out"),
    Expected("note", "", 90 * S, "", "", frozenset(), 5 * S, True, "by the clock"),
)
PLAYED = Played("Kiln Lane", 7, "T. Novice", "Distress first", ())


@pytest.fixture
def told(tale: Any, tell: Any) -> Told:
    """Opened 22:13:20. Caught at 10 s, shown at 12 s, taken at 20.05 s; nobody starts back."""
    tale.person(1)
    tale.hear(1)
    tale.act(2, events.Connect, wearers=(1,))
    tale.act(3, events.Enter, wearers=(1,))
    tale.hear(12, distress=True)
    tale.act(20.05, events.Acknowledge, alarms=tale.alarms(19, "distress"))
    made: Told = tell(tale, 100)
    return made


def judged(told: Told, came: tuple[tuple[int, str], ...]) -> Score:
    lives = told.gathered.lives.in_order()
    return score((CAUGHT, FOG, NEVER), EXPECTED, came, lives, told.gathered.acts, 100 * S)


@pytest.fixture
def read(told: Told, parse: "Callable[[str], PageRead]") -> "PageRead":
    found = judged(told, ((10 * S, CAUGHT.name), (30 * S, FOG.name), (40 * S, NEVER.name)))
    boards = {CAUGHT.name: '<svg xmlns="http://www.w3.org/2000/svg" role="img"></svg>'}
    return parse("".join(page(trainee_page(told, found, PLAYED, boards, UTC))))


def test_each_thing_that_came_says_when_it_was_seen_and_taken(read: "PageRead") -> None:
    facts = read.facts("What came")
    assert facts["it happened at"] == "22:13:30"
    assert facts["it showed it after"] == "2.0 s"
    assert facts["taken after that"] == "8.1 s, by R. Harrow"
    words = read.words()
    assert "1. caught <under> bricks" in words
    assert "The board at 22:13:32, as it showed it:" in words
    assert "What this scenario teaches: Distress first." in words
    assert "your run, T. Novice" in words


def test_what_was_done_stands_beside_what_good_looks_like(read: "PageRead") -> None:
    """The taking at 20.05 s after the opening; the start back was due 60 s after 12 s."""
    done = read.table("What was done")
    assert [(row["act"], row["how it came out"], row["at"]) for row in done] == [
        ("acknowledge 1", "done in time", "22:13:40"), ("start back 1", "MISSED", ""),
    ]  # fmt: skip
    good = read.table("What good looks like")
    assert [(row["act"], row["within"], row["because"]) for row in good] == [
        ("acknowledge 1", "30 s", "at once"), ("start back 1", "1 min 0 s", "all out"),
    ]  # fmt: skip
    (alone,) = read.table("Acts that were due by the time")
    assert (alone["act"], alone["how it came out"]) == ("note", "MISSED")


def test_what_the_board_never_showed_is_looked_at_when_it_had_to() -> None:
    assert seen_ns(Shown(NEVER, 40 * S, 0, None, None, "")) == 60 * S
    assert seen_ns(Shown(CAUGHT, 10 * S, 1, 2 * S, None, "")) == 12 * S


def test_a_run_in_which_nothing_came(told: Told, parse: "Callable[[str], PageRead]") -> None:
    read = parse("".join(page(trainee_page(told, judged(told, ()), PLAYED, {}, UTC))))
    assert "Nothing came in this run." in read.words()
    assert read.facts("To talk over")["what did not come in this run"].startswith("caught")
