"""Acts, facts and announcements in words; everything stands in the details."""

import json

import pytest

from monitor.export import records
from monitor.export.tables import ACTS, FACTS
from monitor.incident.events import (
    Acknowledge,
    Act,
    Close,
    DiskState,
    Enter,
    Fact,
    LinkState,
    ListWearer,
    Locate,
    Note,
    Reset,
    SpokenReading,
    Stall,
)
from monitor.incident.rows import Row, RowKind


def act(what: Act) -> dict[str, object]:
    row = records.act_row("REAL", 7, 5, 1_005, what)
    return dict(zip([column.name for column in ACTS.columns], row, strict=True))


def fact(what: Fact) -> dict[str, object]:
    row = records.fact_row("REAL", 7, 5, 1_005, what)
    return dict(zip([column.name for column in FACTS.columns], row, strict=True))


BY = {"id": "act-00001", "by": "R. Harrow"}


@pytest.mark.parametrize(
    ("what", "shown"),
    [
        (ListWearer(**BY, wearer=3, name="C. Marl"),
         {"act": "list wearer", "wearers": "3", "said": "C. Marl"}),
        (Enter(**BY, wearers=(3, 4), task="search left", location="kiln hall", at_ns=2),
         {"act": "enter", "wearers": "3 4", "said": "search left", "location": "kiln hall",
          "really_ns": 2}),
        (Locate(**BY, wearers=(3,), location="stair B"), {"location": "stair B", "said": None}),
        (SpokenReading(**BY, wearers=(4,), pressure_bar=180, seen_ns=9),
         {"pressure_bar": 180.0, "seen_ns": 9}),
        (Acknowledge(**BY, alarms=(11, 12)), {"alarms": "11 12", "wearers": None}),
        (Reset(**BY, alarm=11, reason="by mistake"), {"alarms": "11", "said": "by mistake"}),
        (Note(**BY, text="door open", wearer=3), {"wearers": "3", "said": "door open"}),
        (Close(**BY), {"act": "close", "said": None}),
    ],
)  # fmt: skip
def test_an_act(what: Act, shown: dict[str, object]) -> None:
    row = act(what)
    assert row | shown == row
    assert (row["use"], row["row"], row["time_ns"], row["clock"], row["by"]) == (
        "REAL", 7, 5, 1_005, "R. Harrow",
    )  # fmt: skip
    assert json.loads(str(row["details"])) == what.model_dump(mode="json")


@pytest.mark.parametrize(
    ("what", "link", "said"),
    [
        (LinkState(link=1, name="udp 41900", up=True, detail=""), 1, "udp 41900, up"),
        (LinkState(link=1, name="udp 41900", up=False, detail="in use"), 1,
         "udp 41900, down, in use"),
        (DiskState(state="behind", detail="3 s"), None, "behind, 3 s"),
        (Stall(from_ns=1, to_ns=2), None, None),
    ],
)  # fmt: skip
def test_a_fact(what: Fact, link: int | None, said: str | None) -> None:
    row = fact(what)
    assert (row["link"], row["said"]) == (link, said)
    assert row["fact"] == what.what.replace("_", " ")
    assert json.loads(str(row["details"])) == what.model_dump(mode="json")


def test_an_announcement() -> None:
    said = {"number": 4, "kind": "low_air", "word": "LOW AIR", "priority": 1, "t": 4,
            "wearers": [4], "again": True}  # fmt: skip
    data = json.dumps(said).encode()
    row = records.announced_row("REAL", 7, 1_005, Row(5, RowKind.ANNOUNCED, data))
    assert row[4:7] == ("announced", None, "alarm 4 again: low air, danger")
    assert json.loads(str(row[7])) == said


@pytest.mark.parametrize("data", [b"x", b"[]", b"{}", b'{"priority":9,"number":1,"again":true}'])
def test_what_is_no_announcement(data: bytes) -> None:
    with pytest.raises(ValueError, match=r".+"):
        records.announced_row("REAL", 7, 1_005, Row(5, RowKind.ANNOUNCED, data))
