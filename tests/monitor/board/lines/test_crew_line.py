"""A crew in one line: since when, until when, what, where, who leads. It is 14:32:07."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.lines.columns import RowContext
from monitor.board.lines.crew_line import crew_line, doing_words, earliest, first_of
from monitor.board.words.marks import Role
from monitor.incident.picture import EmergencyView, NextMark, Phase

S = 1_000_000_000


def text(line: Any) -> str:
    return "".join(part for part, _ in line).rstrip()


def crew(scenes: Any, *, in_s: tuple[int, int] = (1_080, 1_020)) -> tuple[Any, Any]:
    """Two who went in at 14:14:07 and 14:15:07, with marks told by hand."""
    first, second = scenes.wearer(3, 233), scenes.wearer(4, 201)
    marks = ((780, 1_400), (500, 1_145))
    made = []
    for wearer, entered, (turn, low) in zip((first, second), in_s, marks, strict=True):
        ahead = (NextMark("low", low, "F"), NextMark("empty", 2_000, "F"))
        air = replace(wearer.air, next=NextMark("turn", turn, "F"), ahead=ahead)
        made.append(replace(wearer, air=air, entered_ns=entered * S, task="search",
                            location="drying loft", location_at_ns=1_000 * S))  # fmt: skip
    return made[0], made[1]


def line(scenes: Any, wearers: Any, folded: Any = (), width: int = 80, **changes: Any) -> Any:
    picture = replace(scenes.picture(tuple(wearers)), **changes)
    return crew_line("Alpha 2", wearers, RowContext(picture, scenes.look(width)), folded=folded)


def test_in_turn_and_warning_are_the_earliest_of_the_crew_by_the_clock(scenes: Any) -> None:
    """14:32:07 + 500 s = 14:40:27, + 1,145 s = 14:51:12; the first of them went in at 14:14:07."""
    assert text(line(scenes, crew(scenes))) == (
        "  Alpha 2  leader 3  in 14:14  turn 14:40  warning 14:51  search: drying loft"
    )


def test_every_line_is_as_wide_as_the_screen(scenes: Any) -> None:
    for width in (80, 100, 120, 200):
        drawn = line(scenes, crew(scenes), width=width)
        assert cell_len("".join(part for part, _ in drawn)) == width


def test_where_room_is_short_the_times_stay_longest(scenes: Any) -> None:
    long = [replace(w, crew="x", location="a place with a very long name") for w in crew(scenes)]
    whole = "  Alpha 2  leader 3  in 14:14  turn 14:40  warning 14:51"
    assert text(line(scenes, long, width=60)) == whole
    assert text(line(scenes, long, width=40)) == "  Alpha 2  turn 14:40  warning 14:51"
    assert text(line(scenes, long, width=22)) == "  Alpha 2  turn 14:40"


def test_what_is_overdue_counts_up_beside_its_time_and_stands_out(scenes: Any) -> None:
    first, second = crew(scenes)
    late = replace(second, air=replace(second.air, next=NextMark("turn", -61, "F")))
    drawn = line(scenes, (first, late))
    assert "turn 14:31 +2" in text(drawn)
    assert [role for part, role in drawn if part.startswith("turn")] == [Role.STRONG]


def test_an_estimate_is_marked(scenes: Any) -> None:
    first, second = crew(scenes)
    guess = replace(second, air=replace(second.air, next=NextMark("turn", 500, "F", estimate=True)))
    assert "turn ~14:40" in text(line(scenes, (first, guess)))


def test_whose_time_nobody_tells_is_named(scenes: Any) -> None:
    """The earliest of those that are known is not the earliest of the crew."""
    first, second = crew(scenes)
    dark = replace(second, air=replace(second.air, next=None, ahead=()))
    drawn = line(scenes, (first, dark))
    assert "turn 14:45  warning 14:55  time of 4 unknown" in text(drawn)
    aided = replace(dark, augmented=True)
    assert "unknown" not in text(line(scenes, (first, aided)))


def test_on_the_way_back_it_says_since_when(scenes: Any) -> None:
    back = [replace(w, back_ns=120 * S) for w in crew(scenes)]
    assert "back since 14:30" in text(line(scenes, back))


def test_on_air_at_the_door_is_not_in(scenes: Any) -> None:
    waiting = [replace(w, entered_ns=None, wear_ns=60 * S) for w in crew(scenes)]
    assert "on air 14:31" in text(line(scenes, waiting))


def test_folded_it_says_how_they_are_and_who_has_least(scenes: Any) -> None:
    both = crew(scenes)
    assert "2 ok  least 201 bar" in text(line(scenes, both, folded=both))
    unknown = replace(both[1], air=replace(both[1].air, pressure_bar=None))
    told = text(line(scenes, (both[0], unknown), folded=(both[0], unknown), width=100))
    assert "air unknown: No 4" in told


def test_one_who_is_out_is_counted_apart(scenes: Any) -> None:
    first, second = crew(scenes)
    out = replace(second, state="out", phase=Phase.OUT, under_air=False)
    assert "1 ok, 1 out" in text(line(scenes, (first, out), folded=(first, out)))


def test_the_emergency_crew_says_ready_its_least_air_and_since_when(scenes: Any) -> None:
    """Noted ready 700 s ago: 14:20:27. 299 and 296 bar: the least counts."""
    both = [
        replace(scenes.wearer(n, bar), phase=Phase.CHECKED_IN, under_air=False)
        for n, bar in ((3, 299), (4, 296))
    ]
    ready = (EmergencyView("Alpha 2", "ready", (3, 4), 700 * S),)
    assert text(line(scenes, both, emergency=ready)) == (
        "  Alpha 2  EMERGENCY CREW READY  least 296 bar  at the door since 14:20"
    )
    one_gone = [both[0], replace(both[1], phase=Phase.LISTED)]
    assert "READY 1 of 2" in text(line(scenes, one_gone, emergency=ready))
    gone = [replace(w, phase=Phase.OFF_AIR) for w in both]
    assert "NOT AT DOOR" in text(line(scenes, gone, emergency=ready))
    sent = (EmergencyView("Alpha 2", "committed", (3, 4), 700 * S),)
    assert "EMERGENCY CREW COMMITTED 14:20" in text(line(scenes, crew(scenes), emergency=sent))


def test_the_crew_with_the_least_time_is_marked_in_words(scenes: Any) -> None:
    """500 s of wearer 4 come before 501 s of wearer 5; the same second would be nobody's."""
    both, other = crew(scenes), scenes.wearer(5, 200)
    later = replace(other, air=replace(other.air, next=NextMark("turn", 501, "F")))
    picture = scenes.picture((*both, later))
    assert first_of(picture) == 4
    same = replace(later, air=replace(other.air, next=NextMark("turn", 500, "F")))
    assert first_of(scenes.picture((*both, same))) == 0
    assert first_of(scenes.picture(both)) == 0, "nobody to compare with"
    assert first_of(scenes.picture(())) == 0
    context = RowContext(picture, scenes.look(100), first=4)
    assert "LEAST TIME" in text(crew_line("Alpha 2", both, context, folded=()))
    assert "LEAST TIME" not in text(crew_line("Alpha 3", (later,), context, folded=()))


@pytest.mark.parametrize(
    ("task", "place", "words"),
    [
        ("search", "", "search"),
        ("", "loft", "loft"),
        ("", "", ""),
        ("search", "loft", "search: loft"),
    ],
)
def test_task_and_place(scenes: Any, task: str, place: str, words: str) -> None:
    one = replace(scenes.wearer(1), task=task, location=place, location_at_ns=1)
    assert doing_words([one]) == words


def test_the_place_told_last_counts(scenes: Any) -> None:
    old = replace(scenes.wearer(1), location="hall", location_at_ns=5 * S)
    new = replace(scenes.wearer(2), location="loft", location_at_ns=9 * S)
    assert doing_words([new, old]) == "loft"


def test_a_mark_that_nobody_tells_is_none(scenes: Any) -> None:
    assert earliest([scenes.wearer(1, None)], "turn") is None
