"""What the board says of an incident, held against a line of a story."""

import re
from collections.abc import Callable
from datetime import UTC

from monitor.board.keys.hands import Hands
from monitor.board.lines.columns import COLUMNS, FIGURE, RowContext
from monitor.board.lines.header import Desk
from monitor.board.pages.one_wearer import wearer_page
from monitor.board.pages.screen import Shown, screen
from monitor.board.words.marks import ASCII, Look
from monitor.incident.incident import Incident
from monitor.incident.picture import AlarmView, WearerView
from tests.stories.telling import Line

LOOK = Look(80, 24, ASCII, UTC)
PAGE_LINES = 60
CELLS = {
    "state": "  STATE",
    "rate": "L/min",
    "next": "NEXT",
    "turn": "TURN AT",
    "signal": "SIGNAL",
}
"""Columns by their heading; that of the pressure has none."""
PRESENT = ("unacknowledged", "acknowledged")
"""States of an alarm whose condition holds."""


def check(incident: Incident, line: Line) -> None:
    """Fail where the board does not say it."""
    CHECKS[line.word](incident, line.rest)


def _line_of(incident: Incident, number: int) -> WearerView:
    return next(w for w in incident.picture().wearers if w.wearer == number)


def _cell(incident: Incident, number: int, name: str) -> str:
    context = RowContext(incident.picture(), LOOK)
    column = FIGURE if name == "air" else next(c for c in COLUMNS if c.heading == CELLS[name])
    text = column.cell(_line_of(incident, number), context)[0].strip()
    return text.lstrip("!*- ?").strip() if name == "state" else text


def _board(incident: Incident, rest: str) -> None:
    number, _, cells = rest.partition(" ")
    for told in cells.split(","):
        name, _, expected = told.strip().partition(" ")
        text, expected = _cell(incident, int(number), name), expected.strip()
        limit = re.fullmatch(r"at (most|least) (\d+)", expected)
        if limit:
            found = re.search(r"\d+", text)
            assert found, f"{name}: {text!r} has no figure"
            over = int(found[0]) - int(limit[2])
            assert over <= 0 if limit[1] == "most" else over >= 0, f"{name}: {text}, {expected}"
        else:
            assert text == ("" if expected == "-" else expected), f"{name}: {text!r}"


# ---------------------------------------------------------------- alarms


def _alarms_of(incident: Incident, kind: str, wearer: int | None) -> list[AlarmView]:
    return [
        alarm
        for alarm in incident.picture().alarms
        if alarm.kind == kind
        and alarm.state in PRESENT
        and (wearer is None or wearer in alarm.wearers)
    ]


def _told(rest: str) -> tuple[str, int | None, list[str]]:
    kind, *words = rest.split()
    wearer = int(words.pop(0)) if words and words[0].isdigit() else None
    return kind, wearer, words


def _alarm(incident: Incident, rest: str) -> None:
    head, _, detail = rest.partition(":")
    kind, wearer, more = _told(head)
    found = _alarms_of(incident, kind, wearer)
    there = [(a.kind, a.state) for a in incident.picture().alarms]
    assert found, f"there are {there}"
    if "since" in more:
        place = more.index("since")
        assert found[0].raised_at_ns == float(more[place + 1]) * 1e9, found[0].raised_at_ns
        del more[place : place + 2]
    if "taken" in more:
        more.remove("taken")
        assert found[0].acknowledged
    if "waits" in more:
        more.remove("waits")
        assert not found[0].acknowledged
    for priority in more:
        assert found[0].priority.name.casefold() == priority, found[0].priority
    if detail:
        assert found[0].detail == detail.strip(), found[0].detail


def _no_alarm(incident: Incident, rest: str) -> None:
    kind, wearer, _ = _told(rest)
    assert not _alarms_of(incident, kind, wearer)


def _to_do(incident: Incident, rest: str) -> None:
    head, _, text = rest.partition(":")
    kind, wearer, _ = _told(head)
    found = _alarms_of(incident, kind, wearer)
    assert found, f"there is no alarm {kind}"
    assert text.strip() in found[0].to_do, found[0].to_do


def _alarms(incident: Incident, rest: str) -> None:
    there = [alarm.kind for alarm in incident.picture().alarms]
    assert there == rest.split(), there


# ---------------------------------------------------------------- screens


def _text(lines: list[tuple[tuple[str, object], ...]]) -> str:
    return "\n".join("".join(text for text, _ in line) for line in lines)


def _screen(incident: Incident) -> str:
    shown = Shown(Desk(connected=True, holds=True), caution=False)
    return _text(screen(incident.picture(), LOOK, Hands(holds=True), shown).lines)  # type: ignore[arg-type]


def _one(incident: Incident, number: int) -> str:
    context = RowContext(incident.picture(), LOOK)
    wearer, detail = _line_of(incident, number), incident.air_detail(number)
    page = wearer_page(wearer, detail, context, PAGE_LINES, 0)
    return " ".join(_text(page.lines).split())  # type: ignore[arg-type]


def _on_screen(incident: Incident, rest: str) -> None:
    assert rest in _screen(incident), _screen(incident)


def _not_on_screen(incident: Incident, rest: str) -> None:
    assert rest not in _screen(incident), _screen(incident)


def _of_one(incident: Incident, rest: str) -> None:
    number, _, text = rest.partition(" ")
    said = _one(incident, int(number))
    assert text.strip() in said, said


def _not_of_one(incident: Incident, rest: str) -> None:
    number, _, text = rest.partition(" ")
    said = _one(incident, int(number))
    assert text.strip() not in said, said


CHECKS: dict[str, Callable[[Incident, str], None]] = {
    "board": _board,
    "alarm": _alarm,
    "no-alarm": _no_alarm,
    "alarms": _alarms,
    "to-do": _to_do,
    "screen": _on_screen,
    "no-screen": _not_on_screen,
    "one": _of_one,
    "no-one": _not_of_one,
}
