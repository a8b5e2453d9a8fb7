"""A score as a page."""

from datetime import UTC
from typing import Any

import html5lib

from monitor.incident import events
from monitor.incident.orders.events import GiveOrder
from monitor.report.blocks import Facts, Table, Text
from monitor.report.debrief import CAUTION, Played, debrief
from monitor.report.forecasts import Judgement
from monitor.report.html import Page, page
from monitor.report.score import Expected, Inject, score
from monitor.report.text import text

S = 1_000_000_000
INJECTS = (
    Inject("caught <under> bricks", "distress", frozenset({1}), 5 * S),
    Inject("fog", "", frozenset(), 0),
    Inject("free flow", "loss_of_pressure", frozenset({2}), 20 * S),
)
CAME = ((10 * S, "caught <under> bricks"), (11 * S, "fog"))


FORECASTS = (
    Judgement("turn", "F", 8, 4, -50 * S, -90 * S, 10 * S + 1, 3, 0),
    Judgement("low", "R", 2, 0, None, None, None, 0, 0),
)


def told_page(tale: Any, tell: Any) -> Page:
    """Distress at 12 s, taken 0.5 s later; nobody starts back; an evacuation nobody asked for."""
    tale.person(1)
    tale.hear(1)
    tale.act(2, events.Connect, wearers=(1,))
    tale.act(3, events.Enter, wearers=(1,))
    tale.hear(12, distress=True)
    tale.act(12.5, events.Acknowledge, alarms=tale.alarms(12.4, "distress"))
    tale.act(40, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    told = tell(tale, 100)
    inject = "caught <under> bricks"
    expected = (
        Expected("acknowledge", inject, 0, "distress", "", frozenset({1}), 30 * S, True, "at once"),
        Expected("start_back", inject, 0, "distress", "", frozenset({1}), 60 * S, True, "out"),
        Expected("note", inject, 0, "distress", "", frozenset(), 60 * S, False, ""),
        Expected("locate", "free flow", 0, "", "", frozenset({2}), 60 * S, True, ""),
    )
    lives = told.gathered.lives.in_order()
    found = score(INJECTS, expected, CAME, lives, told.gathered.acts, 100 * S)
    return debrief(told, found, Played("Kiln Lane", 7), UTC, forecasts=FORECASTS)


def blocks(content: Page) -> dict[str, Any]:
    return {b.caption: b for s in content.sections for b in s.blocks if hasattr(b, "caption")}


def test_the_page_tells_what_came_and_what_was_done(tale: Any, tell: Any) -> None:
    found = blocks(told_page(tale, tell))
    short = found["Of the acts that are needed"]
    assert isinstance(short, Facts)
    assert short.rows == (
        ("asked for", "2"),
        ("done in time", "1"),
        ("late", "0"),
        ("missed", "1"),
        ("good to do, and done in time", "0"),
        ("alarms taken too fast to have been read", "1"),
        ("injects that did not come in this run", "free flow"),
    )
    caught, fog = found["Injects, in order of time"].rows
    # The tale opens at 22:13:20.
    assert caught == (
        "caught <under> bricks", "22:13:30", "distress", "5 s", "shown", "2.0 s", "0.5 s",
        "R. Harrow",
    )  # fmt: skip
    assert fog[2:5] == ("nothing", "", "need not show")
    taken, back, locate = found["Needed"].rows
    assert taken[4:6] == ("done in time", "0.5 s")
    assert back[0] == "start back 1"
    assert back[4] == "MISSED"
    assert locate[4] == "not asked in this run"


def test_what_is_to_be_talked_over(tale: Any, tell: Any) -> None:
    found = blocks(told_page(tale, tell))
    (fast,) = found["Taken too fast to have been read"].rows
    assert fast == ("22:13:32", "DISTRESS, 1 Alpha 1", "0.5 s")
    unasked = found["Orders that the scenario does not ask for"]
    assert isinstance(unasked, Table)
    ((at, what, by),) = tuple(unasked.rows)
    assert (at, by) == ("22:14:00", "R. Harrow")
    assert "evacuate" in what.casefold()


def test_it_is_valid_and_says_what_it_is_no_proof_of(tale: Any, tell: Any) -> None:
    content = told_page(tale, tell)
    html5lib.HTMLParser(strict=True).parse("".join(page(content)))
    said = text(content, 120)
    assert said.startswith("EXERCISE\nKiln Lane: debrief of a drill\nscenario Kiln Lane, seed 7")
    assert "no proof of competence" in CAUTION
    assert "the instructor judges" in said


def test_what_was_said_of_air_to_come(tale: Any, tell: Any) -> None:
    table = blocks(told_page(tale, tell))["Asked once a minute of each wear, beside the truth"]
    assert isinstance(table, Table)
    turn, low = table.rows
    # Three of four are 75 %; 10 s and a nanosecond late are 11 s.
    assert turn == (
        "turn-back", "forecast", "8", "4", "75.0 %", "50 s early", "90 s early", "11 s late", "0",
    )  # fmt: skip
    assert low == ("low-air warning", "planned rate", "2", "0", "", "", "", "", "0")


def test_what_is_taught_and_looked_for_stands_on_top(tale: Any, tell: Any) -> None:
    lesson = ("Distress: commit the emergency crew", ("who is told", "how soon"))
    nothing = score((), (), (), [], [], 100 * S)
    played = Played("Kiln Lane", 7, "", *lesson)
    content = debrief(tell(tale, 100), nothing, played, UTC)
    first, table = list(content.sections[0].blocks)[:2]
    assert isinstance(first, Text)
    assert first.words == "What this scenario teaches: Distress: commit the emergency crew."
    assert isinstance(table, Table)
    assert [row[0] for row in table.rows] == ["who is told", "how soon"]
