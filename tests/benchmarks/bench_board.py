"""The board's drawing without a terminal: what a second of looking at one wearer costs."""

from collections.abc import Iterator

from monitor.board.lines.air_chart import air_chart
from monitor.board.words.marks import Look
from monitor.incident.air.detail import AirDetail, FanPoint
from tests.benchmarks.measuring import Figure, compare

S = 1_000_000_000
HOUR_S = 3_600
START_BAR = 295.0
CHART_GOAL_US = 2_700
"""Measured of a chart drawn by hand in braille, where the libraries took 12 to 16 ms."""
WIDTH, LINES = 120, 20


def figures() -> Iterator[Figure]:
    """Measure the largest chart there is."""
    yield _chart()


def _hour() -> AirDetail:
    """An hour at 1 Hz with two silent spells, a plan, a forecast and two limits."""
    points = [
        (s * S, START_BAR - s * 0.06 + (s % 7) / 10)
        for s in range(HOUR_S)
        if not (600 < s < 700 or 2_000 < s < 2_400)
    ]
    now, bar = points[-1]
    fan = tuple(
        FanPoint(now + s * S, bar - s * 0.08, bar - s * 0.06, bar - s * 0.05)
        for s in range(0, 900, 36)
    )
    plan = tuple((s * S, START_BAR - s * 0.08) for s in range(0, HOUR_S, 150))
    gaps = ((600 * S, 700 * S), (2_000 * S, 2_400 * S))
    limits = (("turn-back", 143.0), ("low air", 105.0))
    return AirDetail(1, now, 0, tuple(points), gaps, (), fan, plan, limits, (), "bar")


def _chart() -> Figure:
    """Peer: finding the dot of each reading, and drawing nothing."""
    detail, look = _hour(), Look(WIDTH, 40)

    def peers() -> None:
        found = {(int(t * 5e-11), int(bar * 0.24)) for t, bar in detail.points}
        assert found

    return compare(
        "one wearer: chart of an hour at 1 Hz, 120 x 20",
        "the dots of its points, not drawn",
        lambda: air_chart(detail, look, LINES, 0),
        peers,
        1,
        goal=CHART_GOAL_US,
    )
