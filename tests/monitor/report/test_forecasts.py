"""Forecasts set beside a truth that is worked by hand."""

from typing import Any

import pytest

from monitor.incident import events
from monitor.incident.picture import AirFrom, NextMark
from monitor.report.alarm_lives import Spell
from monitor.report.forecasts import Judgement, Said, judge, said
from monitor.report.wears import Sample, WearRecord

S = 1_000_000_000
FALLING = {1: [(t * S, 300.0 - t / 2) for t in range(0, 601, 5)]}
"""Half a bar a second: 200 bar at 200 s, 100 bar at 400 s, empty at 600 s."""


def forecast(mark_s: float, bar: float = 200.0, at_s: float = 60, until_s: float = 600) -> Said:
    return Said(1, round(at_s * S), "turn", "F", round(mark_s * S), bar, round(until_s * S))


@pytest.mark.parametrize(
    ("mark_s", "error_s", "inside", "late"),
    [
        (150, -50, 1, 0),
        (200, 0, 1, 0),
        (201, 1, 0, 0),
        (320, 120, 0, 0),
        (320.1, 120.1, 0, 1),
    ],
)
def test_one_forecast(mark_s: float, error_s: float, inside: int, late: int) -> None:
    (found,) = judge([forecast(mark_s)], FALLING)
    error_ns = round(error_s * S)
    assert found == Judgement("turn", "F", 1, 1, error_ns, error_ns, error_ns, inside, late)


def test_between_two_states_the_pressure_falls_on_a_line() -> None:
    # 199 bar comes at 202 s, between the states of 200 s and 205 s.
    (found,) = judge([forecast(202, bar=199.0)], FALLING)
    assert found.median_ns == 0


def test_median_and_worst_of_several() -> None:
    (found,) = judge([forecast(t) for t in (100, 190, 350)], FALLING)
    assert (found.said, found.reached) == (3, 3)
    assert (found.median_ns, found.earliest_ns, found.latest_ns) == (-10 * S, -100 * S, 150 * S)
    assert (found.inside, found.late) == (2, 1)


def test_what_was_not_reached_in_the_wear_cannot_be_judged() -> None:
    (found,) = judge([forecast(150, until_s=190), forecast(150, bar=-1)], FALLING)
    assert (found.said, found.reached, found.median_ns, found.latest_ns) == (2, 0, None, None)


def test_a_truth_without_that_wearer_judges_nothing() -> None:
    (found,) = judge([forecast(150)], {})
    assert found.reached == 0


def test_a_mark_that_had_come_already_was_told_late() -> None:
    # Asked at 260 s of 200 bar, which were there at 200 s; said to come at 300 s. The state of
    # 260 s is under it, so at least 40 s late.
    (found,) = judge([forecast(300, at_s=260)], FALLING)
    assert found.median_ns == 40 * S


def test_marks_and_ways_are_apart_and_in_order() -> None:
    low = Said(1, 60 * S, "low", "R", 500 * S, 100.0, 600 * S)
    found = judge([low, forecast(150)], FALLING)
    assert [(one.target, one.by) for one in found] == [("turn", "F"), ("low", "R")]


def wear(samples: list[Sample]) -> WearRecord:
    made = WearRecord(
        1, 1, "W. Clay", "Alpha 1", "Alpha", False, 101, "open circuit", Spell(10 * S)
    )
    made.samples = samples
    return made


def test_the_board_is_asked_once_a_minute() -> None:
    mark = NextMark("turn", 90, "F")
    samples = [
        Sample(t * S, 280.0, AirFrom.TELEMETRY, 1_000.0, 40.0, mark, 200.0)
        for t in range(15, 200, 5)
    ]
    asked = list(said([wear(samples)], 300 * S))
    # The wear begins at 10 s: its minutes end at 70 s, 130 s, 190 s.
    assert [one.at_ns // S for one in asked] == [70, 130, 190]
    assert asked[0].mark_ns == 160 * S
    assert asked[0].until_ns == 300 * S


def test_what_is_overdue_or_not_told_is_no_forecast() -> None:
    samples = [
        Sample(80 * S, 200.0, AirFrom.TELEMETRY, None, None, NextMark("turn", -5, "F"), 200.0),
        Sample(140 * S, 200.0, AirFrom.TELEMETRY, None, None, None, None),
        Sample(200 * S, 200.0, AirFrom.TELEMETRY, None, None, NextMark("low", 5, "R"), None),
    ]
    assert list(said([wear(samples)], 300 * S)) == []


def test_from_a_journal(tale: Any) -> None:
    tale.person(1)
    tale.hear(1)
    tale.act(2, events.Connect, wearers=(1,))
    tale.act(3, events.Enter, wearers=(1,))
    for t in range(5, 300, 5):
        tale.hear(t, bar=280 - t / 10)
    found = tale.gathered(300)
    asked = list(said(found.wears.all, 300 * S))
    # The fourth minute of the wear ends at 242 s, the record at 300 s.
    assert len(asked) == 4
    assert {one.target for one in asked} == {"turn"}
