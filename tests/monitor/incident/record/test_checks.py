"""Start-of-use checks: from packets where they can be, by hand where not; never in the way."""

from typing import Any

import pytest

from monitor.incident import events
from monitor.incident.record.events import TickCheck
from protocol.packets import CheckResult, Kind, Motion
from tests.monitor.incident.conftest import EQUIPMENT, PROCEDURE

S = 1_000_000_000
RULES = PROCEDURE.model_copy(update={"least_fill_fraction": 0.9, "battery_low_percent": 20})


@pytest.fixture
def door(new_story: Any) -> Any:
    """Wearer 1 with pack 101 and wearer 2 without one are checked in."""
    story = new_story(RULES)
    story.list_and_join(1, 101)
    story.act(0, events.ListWearer, wearer=2, name="B. Corbel")
    story.act(0, events.JoinPack, wearer=2, water_volume_l=6.8, rated_bar=300)
    return story


def sign_on(door: Any, **fields: Any) -> None:
    door.hear(S, 101, kind=Kind.SIGN_ON, equipment=EQUIPMENT, **fields)


def states(door: Any, wearer: int = 1) -> dict[str, str]:
    (view,) = [c for c in door.picture().checks if c.wearer == wearer]
    return {line.check: line.state for line in view.lines}


def words(door: Any, check: str, wearer: int = 1) -> str:
    (view,) = [c for c in door.picture().checks if c.wearer == wearer]
    return next(str(line.words) for line in view.lines if line.check == check)


def test_a_set_that_is_well_lacks_only_the_gauge(door: Any) -> None:
    sign_on(door)
    assert states(door) == {
        "self-test": "passed", "warnings": "passed", "gauge agrees": "open", "full": "passed",
        "battery": "passed", "link": "passed", "low-air value": "passed",
    }  # fmt: skip
    # 35 % of 300 bar.
    assert words(door, "low-air value") == "105 bar"
    assert words(door, "battery") == "90 %"


def test_nothing_heard_is_open_not_failed(door: Any) -> None:
    found = states(door)
    assert {found[c] for c in ("self-test", "warnings", "full", "battery", "link")} == {"open"}
    assert words(door, "link") == "not proven both ways"


@pytest.mark.parametrize(("bar", "state"), [(270, "passed"), (269.9, "failed"), (200, "failed")])
def test_nine_tenths_of_the_rating_are_full(door: Any, bar: float, state: str) -> None:
    """FwDV 7, 7.2 (from memory): at least 90 % of the nominal filling pressure at the start."""
    sign_on(door, pressure_dbar=round(bar * 10))
    assert states(door)["full"] == state


def test_the_fill_is_told_rounded_to_the_safe_side(door: Any) -> None:
    sign_on(door, pressure_dbar=2699)
    assert words(door, "full") == "269 of 300 bar, at least 270"


def test_a_warning_that_was_not_tried_is_open_one_that_failed_is_failed(door: Any) -> None:
    sign_on(door, motion_warning_test=CheckResult.NOT_RUN)
    assert (states(door)["warnings"], words(door, "warnings")) == ("open", "motion not tried")
    door.hear(2 * S, 101, air_warning_test=CheckResult.FAILED,
              motion_warning_test=CheckResult.NOT_RUN)  # fmt: skip
    assert states(door)["warnings"] == "failed"
    assert words(door, "warnings") == "low air not passed, motion not tried"


@pytest.mark.parametrize(("percent", "state"), [(21, "passed"), (20, "failed")])
def test_the_battery_is_over_the_procedures_low(door: Any, percent: int, state: str) -> None:
    sign_on(door, battery_percent=percent)
    assert states(door)["battery"] == state


@pytest.mark.parametrize(("said", "state"), [(280, "passed"), (300, "passed"), (279, "failed")])
def test_the_gauge_against_telemetry_at_connecting(door: Any, said: int, state: str) -> None:
    """The pack tells 290 bar; the tolerance is 10."""
    sign_on(door)
    door.act(2 * S, events.Connect, wearers=(1,), pressure_bar=said)
    assert states(door)["gauge agrees"] == state
    assert words(door, "gauge agrees") == f"gauge {said}, pack 290 bar"


def test_without_telemetry_the_hand_ticks(door: Any) -> None:
    assert states(door, 2) == {
        "warnings": "open", "gauge agrees": "open", "full": "open", "low-air value": "passed",
    }  # fmt: skip
    for check in ("warnings", "gauge agrees", "full"):
        assert door.act(S, TickCheck, wearer=2, check=check) is None
    (view,) = [c for c in door.picture().checks if c.wearer == 2]
    assert view.complete
    assert states(door, 2)["full"] == "by hand"


def test_what_a_hand_says_goes_before_the_packet(door: Any) -> None:
    sign_on(door)
    door.act(2 * S, TickCheck, wearer=1, check="warnings", passed=False, remark="no sound")
    assert (states(door)["warnings"], words(door, "warnings")) == ("failed", "no sound")
    assert not next(c for c in door.picture().checks if c.wearer == 1).complete


def test_a_failed_check_blocks_nothing_and_the_reason_may_follow(door: Any) -> None:
    door.act(S, TickCheck, wearer=1, check="warnings", passed=False)
    assert door.act(2 * S, events.Connect, wearers=(1,)) is None
    assert door.act(3 * S, events.Enter, wearers=(1,)) is None
    assert door.act(4 * S, TickCheck, wearer=1, check="warnings", remark="tried inside") is None


def test_another_set_is_checked_anew(door: Any) -> None:
    door.act(S, TickCheck, wearer=2, check="full")
    door.act(2 * S, events.JoinPack, wearer=2, water_volume_l=9, rated_bar=300)
    assert states(door, 2)["full"] == "open"


def test_only_at_the_door(door: Any) -> None:
    assert {c.wearer for c in door.picture().checks} == {1, 2}
    door.act(S, events.Connect, wearers=(1,))
    assert {c.wearer for c in door.picture().checks} == {1, 2}
    door.act(2 * S, events.Enter, wearers=(1,))
    assert {c.wearer for c in door.picture().checks} == {2}


def test_nobody_is_checked_who_has_no_set(door: Any) -> None:
    door.act(S, events.ListWearer, wearer=3, name="C. Marl")
    assert door.act(S, TickCheck, wearer=3, check="full") == "C. Marl is not checked in."


def test_warnings_tried_at_the_door_tick_the_check_and_raise_no_alarm(door: Any) -> None:
    sign_on(door, motion_warning_test=CheckResult.NOT_RUN)
    door.hear(2 * S, 101, motion=Motion.ALARM, low_air=True)
    assert "motion_alarm" not in door.alarms()
    assert "low_air" not in door.alarms()
    door.hear(3 * S, 101)
    assert states(door)["warnings"] == "passed"


# ---------------------------------------------------------------- found on reading


def test_a_tick_counts_for_one_wear(door: Any) -> None:
    """Whoever goes again without being joined anew was shown as checked."""
    sign_on(door)
    door.act(S, TickCheck, wearer=1, check="gauge agrees")
    door.connect(1)
    assert states(door)["gauge agrees"] == "by hand"
    door.act(2 * S, events.OffAir, wearers=(1,))
    door.connect(1)
    assert states(door)["gauge agrees"] == "open"


def test_a_pack_that_is_off_is_no_proven_link(door: Any) -> None:
    sign_on(door)
    door.hear(2 * S, 101, kind=Kind.SIGN_OFF)
    assert states(door)["link"] == "failed"
    assert words(door, "link") == "the pack is off"


def test_what_the_packets_say_stands_beside_what_was_ticked(door: Any) -> None:
    sign_on(door, pressure_dbar=2000)
    door.act(2 * S, TickCheck, wearer=1, check="full", remark="short job")
    assert states(door)["full"] == "by hand"
    assert words(door, "full") == "short job; 200 of 300 bar, at least 270"
