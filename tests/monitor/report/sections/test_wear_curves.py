from datetime import UTC
from typing import TYPE_CHECKING

from monitor.incident.alarms.catalogue import Kind
from monitor.report.alarm_lives import Spell
from monitor.report.reading import Told
from monitor.report.sections.wear_curves import MARKS_MAX, alt, curves, letters, marks
from monitor.report.teller import Teller

if TYPE_CHECKING:
    from collections.abc import Callable

    from monitor.report.alarm_lives import AlarmLife
    from tests.monitor.report.conftest import Tale

S = 1_000_000_000


def test_readings_stop_at_the_gap(evening: "Tale", tell: "Callable[..., Told]") -> None:
    """Wearer 2 was not heard from 295 s to 500 s; at 330 s, 4 s after NO SIGNAL, by voice."""
    teller = Teller(tell(evening, 1_210), UTC)
    drawn = curves(teller, teller.found.wears.all[1])
    first, spoken, second = drawn.readings
    assert (first[-1][0] // S, second[0][0] // S) == (295, 500)
    assert [(t // S, bar) for t, bar in spoken] == [(330, 262)]
    assert drawn.gaps == ((first[-1][0], spoken[0][0]), (spoken[0][0], second[0][0]))
    assert all(first[-1][0] < t <= second[0][0] for run in drawn.estimates for t, _ in run)
    rated = [t for run in drawn.rate for t, _ in run if first[-1][0] < t < second[0][0]]
    assert rated == [spoken[0][0]]
    assert [(t // S, bar) for t, bar in drawn.voice] == [(330, 262)]
    assert (drawn.from_ns, drawn.to_ns) == (10 * S, 900 * S)
    assert drawn.plan[-1][0] == 900 * S
    assert [word.rpartition(" ")[2] for word, _ in drawn.limits][-1] == "105"


def test_it_is_said_in_words_too(evening: "Tale", tell: "Callable[..., Told]") -> None:
    teller = Teller(tell(evening, 1_210), UTC)
    wear = teller.found.wears.all[1]
    assert alt(teller, wear) == (
        "Pressure and rate of Alpha 2 (2). From 297 bar at 22:13:30 to 208 bar at 22:28:15."
        " 2 spells without readings. Alarms: 1, 2, 3, 4, 6."
    )
    assert letters(wear).startswith("On the axis: C connected, E entered, O objective reached, V ")


def test_of_too_many_alarms_the_most_urgent_are_drawn(
    make_alarm: "Callable[..., AlarmLife]",
) -> None:
    lives = [make_alarm(n) for n in range(MARKS_MAX)]
    lives.append(make_alarm(MARKS_MAX, kind=Kind.LOW_AIR))
    for n, life in enumerate(lives):
        life.conditions = [Spell(n * S)]
    found = marks(lives)
    assert len(found) == MARKS_MAX
    assert found[-1].number == lives[-1].number
    assert [m.t for m in marks(lives, 5 * S, 7 * S)] == [5 * S, 6 * S, 7 * S]
