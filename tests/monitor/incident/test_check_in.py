"""Who is on the board as it is now, not as it was listed."""

from typing import Any

from monitor.incident import events
from monitor.incident.incident import Incident
from monitor.incident.record.events import ChangeCylinder

S = 1_000_000_000


def test_everybody_with_crew_pack_and_cylinder_as_they_are_now(story: Any) -> None:
    story.list_and_join(1, 101, "Alpha 1")
    story.act(2 * S, events.ListWearer, wearer=3, name="C. Marl", crew="Alpha 2")
    story.act(3 * S, events.SetCrew, wearer=1, crew="Alpha 2", leader=True)
    story.act(
        4 * S, events.JoinPack, wearer=1, pack=107, water_volume_l=9, rated_bar=300,
        gauge_unit="psi", set_id="S7", cylinder_id="C1",
    )  # fmt: skip
    first, second = story.incident.check_ins()
    assert (first.wearer, first.crew, first.leader, first.pack) == (1, "Alpha 2", True, 107)
    assert (first.water_volume_l, first.rated_bar, first.gauge_unit) == (9, 300, "psi")
    assert (first.set_id, first.cylinder_id) == ("S7", "C1")
    story.act(5 * S, ChangeCylinder, wearer=1, cylinder_id="C2", water_volume_l=6.8)
    changed = story.incident.check_ins()[0]
    assert (changed.set_id, changed.cylinder_id, changed.water_volume_l) == ("S7", "C2", 6.8)
    assert (second.wearer, second.name, second.crew) == (3, "C. Marl", "Alpha 2")
    assert (second.pack, second.water_volume_l, second.apparatus) == (None, None, "")


def test_before_the_opening_nobody_is_there() -> None:
    assert Incident().check_ins() == ()
