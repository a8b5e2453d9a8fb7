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


def test_on_air_no_cylinder_is_changed(story: Any) -> None:
    story.enter(1)
    assert story.act(S, ChangeCylinder, wearer=1) == (
        "Alpha 1 is on air: a cylinder is changed off air."
    )
    story.act(S, events.ListWearer, wearer=2, name="B. Corbel")
    assert story.act(S, ChangeCylinder, wearer=2) == "B. Corbel has no set."


def test_a_set_is_called_as_it_is_printed_else_by_its_pack_or_wearer(story: Any) -> None:
    plain = Wearer(1, "A. Quoin", "Alpha 1-1", "", False, 0)
    assert set_name(plain) == "set of Alpha 1-1"
    plain.pack = 101
    assert set_name(plain) == "pack 101"
    plain.set_id = "S-1"
    assert set_name(plain) == "S-1"
