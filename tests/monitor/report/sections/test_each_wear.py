from collections.abc import Callable
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.report.reading import Told
from monitor.report.sections.each_wear import READINGS_MAX

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Tale

Tell = Callable[..., Told]
Read = Callable[[Told], "PageRead"]


def test_each_wear_has_a_heading_and_its_tables(evening_page: "PageRead") -> None:
    heads = [e for e in evening_page.all("h3") if (e.get("id") or "").startswith("wear-")]
    assert ["".join(e.itertext()) for e in heads] == ["Alpha 1 (1)", "Alpha 2 (2)"]


def test_entries_with_the_pressure_on_the_board(evening_page: "PageRead") -> None:
    """The gauge of wearer 2 falls by 0.1 bar a second from 298 at t = 0; told at t + 0.2."""
    entries = {row["what"]: row for row in evening_page.table("Entries", 1)}
    assert entries["entered"]["pressure on the board"] == "296 bar"  # 298 - 1.5
    assert entries["gauge read out"]["pressure on the board"] == "262 bar"
    assert entries["came out"]["pressure on the board"] == "218 bar"  # 298 - 79.5
    reached = entries["objective reached"]
    assert (reached["time"], reached["logged at"]) == ("22:16:30", "22:16:40")


def test_readings_are_few_and_over_the_whole_wear(evening_page: "PageRead") -> None:
    rows = evening_page.table("Readings and estimates", 1)
    assert READINGS_MAX / 2 < len(rows) <= READINGS_MAX
    estimates = [row for row in rows if row["from"] == "estimate"]
    assert estimates
    assert all(row["pressure"].startswith("about ") for row in estimates)
    assert {row["rate, litres a minute"] for row in estimates} == {""}


def test_silences_of_the_pack(evening_page: "PageRead") -> None:
    """Last heard at 295.2 s, again at 500.2 s: 205 s."""
    assert evening_page.table("Nothing heard of the pack", 0) == [
        {"from": "22:18:15", "to": "22:21:40", "how long": "3 min 25 s"}
    ]


def test_orders_on_the_wearer_with_every_answer(evening_page: "PageRead") -> None:
    (evacuate, roll) = evening_page.table("Orders", 0)
    assert (evacuate["order"], evacuate["given"]) == ("1 evacuate", "22:25:00")
    assert evacuate["received by the pack"] == "no"
    assert evacuate["answered by voice"] == "22:25:20, after 20.0 s"
    assert evacuate["out"] == "22:26:40, after 100.0 s"
    assert roll["answered by voice"] == "22:27:10, after 30.0 s"


def test_alarms_of_the_wearer(evening_page: "PageRead") -> None:
    """Raised with the frame at 520.2, taken at 540: 19.8 s."""
    # The first table is the mate's, who is reminded of turning back with the crew.
    row = next(row for row in evening_page.table("Alarms", 1) if row["alarm"] == "DISTRESS")
    assert row["raised"] == "22:22:00"
    assert row["acknowledged"] == "22:22:20 by R. Harrow after 19.8 s"
    assert (row["condition ended"], row["ended"]) == ("22:23:20", "22:23:30")
    all_of_them = evening_page.table("Every alarm, the first to be raised first")
    whole = next(one for one in all_of_them if one["number"] == row["number"])
    assert whole["reason"] == "reset by R. Harrow at 22:23:30: found well"


def test_a_wear_without_telemetry_has_a_chart_of_what_was_said(
    tale: "Tale", tell: Tell, read_page: Read
) -> None:
    tale.act(0, events.ListWearer, wearer=1, name="W. Clay")
    tale.act(0, events.JoinPack, wearer=1, water_volume_l=6.0, rated_bar=300)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(300, events.SpokenReading, wearers=(1,), pressure_bar=240)
    page = read_page(tell(tale, 400))
    assert page.facts("What is recorded")["set"] == "no telemetry"
    svg = [e for e in page.root.iter() if e.tag.endswith("}svg")][1]
    assert "by voice" in [t.text for t in svg.iter() if t.tag.endswith("}text")]
