"""One wearer's air in full."""

from itertools import pairwise
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.air import gas
from protocol.packets import Apparatus, Equipment, Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
EQUIPMENT = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)


@pytest.fixture
def breathing(new_story: "type[Story]") -> "Story":
    """Ten minutes in, from 300 bar at 12 bar a minute, objective reached after four."""
    rules = new_story().incident.opened
    assert rules is not None
    update = {"turn_back_rule": "double", "turn_back_reserve_bar": 55.0}
    story = new_story(rules.procedure.model_copy(update=update))
    story.list_and_join()
    story.hear(0, kind=Kind.SIGN_ON, equipment=EQUIPMENT, pressure_dbar=3000)
    story.connect()
    story.act(0, events.Enter, wearers=(1,))
    for t in range(0, 601, 5):
        story.hear((t + 1) * S, pressure_dbar=3000 - t * 2)
        if t == 240:
            story.act((t + 1) * S, events.ReachObjective, wearers=(1,))
    return story


def test_nothing_off_air_and_for_nobody(story: "Story") -> None:
    story.list_and_join()
    assert story.incident.air_detail(1) is None
    assert story.incident.air_detail(7) is None


def test_readings_events_and_limits(breathing: "Story") -> None:
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    assert detail.points[-1] == (601 * S, 180)
    assert [mark.letter for mark in detail.marks] == ["C", "E", "O"]
    # 300 to 252 bar on the way in: 55 + 2 x 48 = 151; 35 % of 300 = 105.
    assert [name for name, _ in detail.limits] == ["turn-back", "low-air warning"]
    assert [bar for _, bar in detail.limits] == pytest.approx([151, 105])
    assert detail.unit == "bar"
    assert detail.gaps == ()


def test_a_spell_without_readings_is_a_gap(breathing: "Story") -> None:
    breathing.hear(700 * S, pressure_dbar=1700)
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    assert detail.gaps == ((601 * S, 700 * S),)


def test_the_fan_opens_and_falls(breathing: "Story") -> None:
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    for point in detail.fan:
        assert 0 <= point.low_bar <= point.mid_bar <= point.high_bar <= 180
    for before, after in pairwise(detail.fan):
        assert after.t > before.t
        assert after.low_bar <= before.low_bar
        assert after.mid_bar <= before.mid_bar
    assert detail.fan[-1].mid_bar == pytest.approx(0, abs=1)


def test_the_plan_starts_full_and_ends_empty(breathing: "Story") -> None:
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    assert detail.plan[0][0] == detail.start_ns
    assert detail.plan[0][1] == pytest.approx(300, abs=0.01)
    # At the planned 50 L/min.
    minutes = gas.usable_l(300, 6.8, 30) / 50
    assert detail.plan[-1] == (int(detail.start_ns + minutes * 60 * S), 0)


def test_every_figure_has_its_rule_in_words(breathing: "Story") -> None:
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    rules = {rule.label: (rule.figure, rule.words) for rule in detail.rules}
    assert rules["pressure"] == ("180 bar", "telemetry, 0 s ago")
    contents = int(gas.usable_l(180, 6.8, 30))
    assert rules["contents"] == (f"{contents} L", "6.8 L cylinder, real gas at 30 C")
    assert rules["turn-back"] == (
        "151 bar",
        "double air for the way back, bar rule; Alpha 1 has the least margin",
    )
    assert rules["low-air warning"] == ("105 bar", "35 % of 300 bar, the procedure's")
    assert "to turn-back" in rules
    assert "to empty" in rules
    # 300 x 6.8 / 50 = 40.8 min.
    assert rules["planned full duration"][0] == "40 min table"
    # (300 - 105) x 6.8 / 50 = 26.5 min.
    assert rules["planned to low-air warning"][0] == "26 min table"


def test_an_estimate_is_told_as_one(breathing: "Story") -> None:
    breathing.incident.advance(700 * S)
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    pressure = next(rule for rule in detail.rules if rule.label == "pressure")
    assert pressure.figure.startswith("about ")
    assert pressure.words == "estimate, falling; 180 bar was read 99 s ago"


def test_cylinder_and_planned_times_go_with_it(breathing: "Story") -> None:
    """300 bar x 6.8 L / 50 L/min = 40.8 min, on the card 40."""
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    assert detail.cylinder is not None
    assert (detail.cylinder.water_volume_l, detail.cylinder.rated_bar) == (6.8, 300)
    assert detail.planned is not None
    assert (detail.planned.start_bar, detail.planned.full.table_min) == (300, 40)


def test_the_low_air_warning_is_told_also_while_turn_back_comes_first(breathing: "Story") -> None:
    """At 180 bar, 12 bar a minute: to 105 bar 75 / 12 = 6.25 min, by real gas and for sure less."""
    (wearer,) = breathing.picture().wearers
    detail = breathing.incident.air_detail(1)
    assert detail is not None
    assert detail.low is not None
    assert wearer.air.next is not None
    assert (wearer.air.next.target, detail.low.target) == ("turn", "low")
    assert wearer.air.next.seconds < detail.low.seconds <= 375
    # The list has it too, and what comes after it: 180 bar at 12 bar a minute last 900 s.
    low, empty = wearer.air.ahead
    assert low == detail.low
    assert empty.target == "empty"
    assert low.seconds < empty.seconds <= 900
    assert wearer.entered_ns == breathing.incident.now
    breathing.act(602 * S, events.StartBack, wearers=(1,))
    (wearer,) = breathing.picture().wearers
    after = breathing.incident.air_detail(1)
    assert after is not None
    assert after.low == wearer.air.next
