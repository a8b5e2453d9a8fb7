"""Sets before and after use: defects, what is to be done, cylinders to fill."""

from typing import Any

import pytest

from monitor.incident import events
from monitor.incident.picture import Phase
from monitor.incident.record.events import (
    ChangeCylinder,
    ClearDefect,
    FillCylinder,
    ReportDefect,
    TickAfterUse,
)
from monitor.incident.record.sets import set_name
from monitor.incident.wearer import Wearer
from protocol.packets import Kind
from tests.monitor.incident.conftest import PROCEDURE

S = 1_000_000_000


@pytest.fixture
def used(story: Any) -> Any:
    """Wearer 1 has come off air with 80 bar left."""
    story.enter(1)
    story.hear(10 * S, pressure_dbar=800)
    story.act(11 * S, events.ComeOut, wearers=(1,))
    story.act(12 * S, events.OffAir, wearers=(1,))
    return story


# ---------------------------------------------------------------- defects


@pytest.mark.parametrize(
    ("name", "joined"), [("S-1", {"set_id": "S-1", "pack": 102}), ("pack 102", {"pack": 102})]
)
def test_a_set_at_fault_is_not_checked_in_until_it_is_cleared(
    story: Any, name: str, joined: Any
) -> None:
    story.act(0, events.ListWearer, wearer=1, name="A. Quoin")
    story.act(0, ReportDefect, set_id=name, text="leaks")
    assert story.act(S, events.JoinPack, wearer=1, **joined) == (
        f"Set {name} is at fault (leaks): clear the defect first."
    )
    story.act(2 * S, ClearDefect, set_id=name, text="new seal")
    assert story.act(3 * S, events.JoinPack, wearer=1, **joined) is None
    assert story.picture().defects == ()


def test_whoever_has_it_on_already_is_not_kept_from_going_in(story: Any) -> None:
    story.list_and_join(1, 101)
    story.act(0, ReportDefect, set_id="pack 101", text="gauge at fault")
    assert story.line().defect == "gauge at fault"
    assert story.act(S, events.Connect, wearers=(1,)) is None
    assert story.act(2 * S, events.Enter, wearers=(1,)) is None


def test_a_defect_that_nobody_noted_cannot_be_cleared(story: Any) -> None:
    assert story.act(0, ClearDefect, set_id="S-9", text="x") == "No defect of set S-9 is noted."


# ---------------------------------------------------------------- after use


def test_what_is_to_be_done_after_use_in_order(used: Any) -> None:
    (view,) = used.picture().after_use
    assert view.wearer == 1
    assert view.open == ("valve closed", "bled", "electronics off", "cylinder off", "made ready")


def test_what_the_packets_tell_need_not_be_ticked(used: Any) -> None:
    used.hear(20 * S, pressure_dbar=51)
    assert "bled" in used.picture().after_use[0].open
    used.hear(21 * S, pressure_dbar=50)
    assert used.picture().after_use[0].open == ("electronics off", "cylinder off", "made ready")
    used.hear(22 * S, kind=Kind.SIGN_OFF, pressure_dbar=0)
    assert used.picture().after_use[0].open == ("cylinder off", "made ready")


def test_what_they_do_not_is_ticked_and_ready_ends_it(used: Any) -> None:
    used.act(20 * S, TickAfterUse, wearer=1, step="valve closed")
    assert used.picture().after_use[0].open[0] == "bled"
    used.act(21 * S, TickAfterUse, wearer=1, step="made ready")
    assert used.picture().after_use == ()


def test_nothing_is_ticked_of_a_set_on_air_or_never_used(story: Any) -> None:
    story.list_and_join(1, 101)
    assert story.act(0, TickAfterUse, wearer=1, step="bled") == "Alpha 1 is not off air."
    story.enter(1)
    assert story.act(S, TickAfterUse, wearer=1, step="bled") == "Alpha 1 is not off air."


# ---------------------------------------------------------------- cylinders


def test_a_fresh_cylinder_puts_the_old_one_on_the_list(used: Any) -> None:
    assert used.act(20 * S, ChangeCylinder, wearer=1, cylinder_id="C-9") is None
    (old,) = used.picture().to_fill
    assert (old.cylinder_id, old.bar, old.from_wearer) == ("Alpha 1, wear 1", 80.0, 1)
    line = used.line()
    assert (line.phase, line.cylinder_id) == (Phase.CHECKED_IN, "C-9")
    assert used.act(21 * S, events.Connect, wearers=(1,)) is None


def test_the_size_stays_unless_another_is_said(used: Any) -> None:
    used.act(20 * S, ChangeCylinder, wearer=1)
    assert used.line().air.rated_bar == 300
    used.act(21 * S, ChangeCylinder, wearer=1, water_volume_l=9, rated_bar=200)
    assert used.line().air.rated_bar == 200


def test_ticking_it_off_lists_it_once(used: Any) -> None:
    used.act(20 * S, TickAfterUse, wearer=1, step="cylinder off")
    used.hear(21 * S, pressure_dbar=0)
    used.act(22 * S, ChangeCylinder, wearer=1)
    (old,) = used.picture().to_fill
    assert old.bar == 80.0
    assert used.act(23 * S, FillCylinder, cylinder_id=old.cylinder_id) is None
    assert used.picture().to_fill == ()
    assert used.act(24 * S, FillCylinder, cylinder_id="C-7") == (
        "Cylinder C-7 is not among those to be filled."
    )


def test_a_cylinder_changed_on_air_is_to_be_filled_and_so_is_the_next(story: Any) -> None:
    story.enter(1)
    story.hear(S, pressure_dbar=800)
    assert story.act(2 * S, ChangeCylinder, wearer=1) is None
    story.hear(5 * S, pressure_dbar=3000)
    story.act(6 * S, events.ComeOut, wearers=(1,))
    story.act(6 * S, events.OffAir, wearers=(1,))
    assert story.act(7 * S, ChangeCylinder, wearer=1) is None
    assert [(c.cylinder_id, c.bar) for c in story.picture().to_fill] == [
        ("Alpha 1, wear 1", 80.0),
        ("Alpha 1, wear 1, cylinder 2", 300.0),
    ]


def test_who_has_no_set_changes_no_cylinder(story: Any) -> None:
    story.act(S, events.ListWearer, wearer=2, name="B. Corbel")
    assert story.act(S, ChangeCylinder, wearer=2) == "B. Corbel has no set."


def test_a_set_is_called_as_it_is_printed_else_by_its_pack_or_wearer(story: Any) -> None:
    plain = Wearer(1, "A. Quoin", "Alpha 1-1", "", False, 0)
    assert set_name(plain) == "set of Alpha 1-1"
    plain.pack = 101
    assert set_name(plain) == "pack 101"
    plain.set_id = "S-1"
    assert set_name(plain) == "S-1"


# ---------------------------------------------------------------- found on reading


def test_a_set_without_telemetry_at_fault_is_not_checked_in_either(story: Any) -> None:
    story.act(0, events.ListWearer, wearer=1, name="A. Quoin", call_sign="Beta 1")
    story.act(0, ReportDefect, set_id="set of Beta 1", text="leaks")
    assert story.act(S, events.JoinPack, wearer=1, pack=None) == (
        "Set set of Beta 1 is at fault (leaks): clear the defect first."
    )


def test_a_set_is_known_by_its_pack_where_its_mark_is_not_said_again(story: Any) -> None:
    """Checked in at the board only the pack is said: the defect was noted by the printed mark."""
    story.act(0, events.ListWearer, wearer=1, name="A. Quoin")
    story.act(0, events.JoinPack, wearer=1, pack=101, set_id="S-1")
    story.act(0, ReportDefect, set_id="S-1", text="leaks")
    assert story.act(S, events.JoinPack, wearer=1, pack=102) is None
    assert story.act(2 * S, events.JoinPack, wearer=1, pack=101) == (
        "Set S-1 is at fault (leaks): clear the defect first."
    )


def test_a_defect_noted_by_the_pack_shows_on_a_set_that_has_a_mark(story: Any) -> None:
    story.act(0, events.ListWearer, wearer=1, name="A. Quoin")
    story.act(0, events.JoinPack, wearer=1, pack=101, set_id="S-1")
    story.act(0, ReportDefect, set_id="pack 101", text="leaks")
    assert story.line().defect == "leaks"


def test_what_somebody_breathes_from_is_noted_whatever_is_at_fault_with_it(story: Any) -> None:
    """Refused, the board would go on without the telemetry of somebody who is in."""
    story.enter(1)
    story.act(S, ReportDefect, set_id="pack 105", text="leaks")
    assert story.act(2 * S, events.JoinPack, wearer=1, pack=105) is None
    assert story.line().defect == "leaks"


def test_a_fresh_cylinder_does_not_check_in_a_set_at_fault(used: Any) -> None:
    used.act(20 * S, ReportDefect, set_id="pack 101", text="leaks")
    assert used.act(21 * S, ChangeCylinder, wearer=1, cylinder_id="C-9") == (
        "Set pack 101 is at fault (leaks): clear the defect first."
    )


def test_cylinders_without_a_mark_are_told_apart(story: Any) -> None:
    """Where no rest is asked for every wear counted as the first: the second was lost."""
    story.enter(1)
    for start in (10 * S, 20 * S):
        story.act(start, events.ComeOut, wearers=(1,))
        story.act(start + S, events.OffAir, wearers=(1,))
        story.act(start + 2 * S, ChangeCylinder, wearer=1)
        story.act(start + 3 * S, events.Connect, wearers=(1,))
        story.act(start + 4 * S, events.Enter, wearers=(1,))
    assert len(story.picture().to_fill) == 2
    assert len({one.cylinder_id for one in story.picture().to_fill}) == 2


def test_what_is_left_is_what_was_left_at_going_off_air(used: Any) -> None:
    """Bled, the gauge shows nothing; with a fresh cylinder on, it shows that one."""
    used.hear(20 * S, pressure_dbar=0)
    used.hear(25 * S, pressure_dbar=3000)
    used.act(26 * S, ChangeCylinder, wearer=1, cylinder_id="C-9")
    assert used.picture().to_fill[0].bar == 80.0


def test_what_was_left_is_known_of_a_set_without_telemetry(story: Any) -> None:
    story.list_and_join(1, None)
    story.connect(1, pressure_bar=290)
    story.act(S, events.Enter, wearers=(1,))
    story.act(2 * S, events.SpokenReading, wearers=(1,), pressure_bar=90)
    story.act(3 * S, events.ComeOut, wearers=(1,))
    story.act(4 * S, events.OffAir, wearers=(1,))
    story.act(5 * S, TickAfterUse, wearer=1, step="cylinder off")
    assert story.picture().to_fill[0].bar == 90.0


def test_swapping_the_set_after_a_wear_lists_its_cylinder(used: Any) -> None:
    """Another set was joined before the cylinder was seen to: it was on no list any more."""
    used.act(20 * S, events.JoinPack, wearer=1, pack=102, cylinder_id="C-2")
    assert [one.cylinder_id for one in used.picture().to_fill] == ["Alpha 1, wear 1"]


def test_joining_the_same_again_lists_nothing(story: Any) -> None:
    story.list_and_join(1, 101)
    story.act(S, events.JoinPack, wearer=1, pack=101)
    assert story.picture().to_fill == ()


def test_the_same_mark_is_no_fresh_cylinder(story: Any) -> None:
    """The used one was taken off the list as if it were full."""
    story.list_and_join(1, 101)
    story.act(0, events.JoinPack, wearer=1, pack=101, cylinder_id="C-1")
    story.enter(1)
    story.act(S, events.ComeOut, wearers=(1,))
    story.act(2 * S, events.OffAir, wearers=(1,))
    assert story.act(3 * S, ChangeCylinder, wearer=1, cylinder_id="C-1") == (
        "Cylinder C-1 is the one that is on the set."
    )


def test_a_cylinder_that_is_to_be_filled_is_not_a_fresh_one(used: Any) -> None:
    used.act(20 * S, ChangeCylinder, wearer=1, cylinder_id="C-1")
    used.connect(1)
    used.act(22 * S, events.Enter, wearers=(1,))
    used.act(23 * S, events.ComeOut, wearers=(1,))
    used.act(24 * S, events.OffAir, wearers=(1,))
    used.act(25 * S, TickAfterUse, wearer=1, step="cylinder off")
    used.list_and_join(2, 102)
    assert used.act(26 * S, ChangeCylinder, wearer=2, cylinder_id="C-1") == (
        "Cylinder C-1 is among those to be filled."
    )


def test_marks_that_are_not_said_again_stay_with_the_set(story: Any) -> None:
    story.list_and_join(1, 101)
    story.act(0, events.JoinPack, wearer=1, pack=101, set_id="S-1", cylinder_id="C-1")
    story.act(S, events.JoinPack, wearer=1, pack=101)
    assert (story.line().set_id, story.line().cylinder_id) == ("S-1", "C-1")
    story.act(2 * S, events.JoinPack, wearer=1, pack=102)
    assert (story.line().set_id, story.line().cylinder_id) == ("", "")


def test_the_cylinder_of_a_long_name_can_be_filled(story: Any) -> None:
    """The board's sheet would have made an act that no field has room for."""
    story.act(0, events.ListWearer, wearer=1, name="N" * 60)
    story.act(0, events.JoinPack, wearer=1, pack=101)
    story.connect(1)
    story.act(S, events.OffAir, wearers=(1,))
    story.act(2 * S, TickAfterUse, wearer=1, step="cylinder off")
    (one,) = story.picture().to_fill
    assert story.act(3 * S, FillCylinder, cylinder_id=one.cylinder_id) is None


def test_with_a_fresh_cylinder_on_what_counts_at_the_door_counts_at_once(new_story: Any) -> None:
    """Rest and fill were told only when the pack next said something new."""
    rules = {"least_fill_fraction": 0.9, "least_rest_s": 1_800, "rest_after_wears": 1}
    story = new_story(PROCEDURE.model_copy(update=rules))
    story.enter(1)
    story.act(S, events.ComeOut, wearers=(1,))
    story.act(S, events.OffAir, wearers=(1,))
    story.act(3 * S, ChangeCylinder, wearer=1)
    assert "rest" in story.alarms()
    # What was told of the old one is void: the fill is looked at once the new one is heard.
    story.hear(4 * S, pressure_dbar=500)
    assert sorted(story.alarms()) == ["fill_low", "rest"]
