"""Every field of the record of a wear, by arithmetic on the evening's own figures."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.air import gas
from monitor.report.reading import Told
from protocol.codec import decode_trusted
from protocol.packets import Report

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Raw, Tale

Tell = Callable[..., Told]
Read = Callable[[Told], "PageRead"]
NEEDED = (
    "name", "call sign", "crew", "set", "cylinder, water volume", "cylinder, rated pressure",
    "cylinder, identity", "connected to air", "entered", "task", "places", "brief",
    "communications",
    "turn-back at", "predicted: low-air warning", "constants of these",
    "one third of the expected time", "two thirds of the expected time", "objective reached",
    "start of withdrawal", "came out", "off air", "wearing time",
)  # fmt: skip
"""After national guidance on entry control, FwDV 7 section 7.4 and BS 8608:2014 clause 7."""


@pytest.fixture(scope="module")
def facts(evening_page: "PageRead") -> dict[str, str]:
    return evening_page.facts("What is recorded", 0)


def test_no_field_is_missing(facts: dict[str, str]) -> None:
    assert set(NEEDED) <= set(facts)


def test_who_and_with_what(facts: dict[str, str]) -> None:
    assert (facts["name"], facts["call sign"], facts["crew"]) == ("W. Clay 1", "Alpha 1", "Alpha")
    assert (facts["set"], facts["kind of apparatus"]) == ("pack 101", "open circuit")
    assert facts["cylinder, water volume"] == "6.8 litres"
    assert facts["cylinder, rated pressure"] == "300 bar"
    # 35 % of 300.
    assert facts["low-air warning"] == "105 bar"
    assert facts["cylinder, identity"] == "not recorded"


def test_when_and_at_what_pressure(facts: dict[str, str]) -> None:
    """Told at t + 0.1: 299 less 0.1 bar a second; connecting at 10 s has that of 5 s: 298.5."""
    assert facts["connected to air"] == "22:13:30, 298 bar"
    assert facts["entered"] == "22:13:40, 297 bar"
    assert facts["objective reached"] == "22:16:30, 279 bar (when logged, 22:16:40)"
    assert facts["came out"] == "22:26:40, 219 bar"
    assert facts["off air"] == "22:28:20, 209 bar"
    assert facts["wearing time"] == "14 min 50 s"
    assert facts["start of withdrawal"] == "not recorded"
    assert facts["task"] == "search"
    assert facts["places"] == "kiln hall"


def test_predicted_times_by_the_table(facts: dict[str, str]) -> None:
    """298.5 x 6.8 / 50 = 40.6 min, 40 on the card; less 10, 30; to 105 bar 26.3, 26."""
    for name, minutes, at in (
        ("nothing left", 40, "22:53:30"),
        ("safety margin reached", 30, "22:43:30"),
        ("low-air warning", 26, "22:39:30"),
    ):
        assert facts[f"predicted: {name}"].startswith(f"{at} by the table ({minutes} min), ")
    assert facts["constants of these"] == (
        "50 litres a minute, margin 10 min; gas at 30 degrees Celsius"
    )


def test_air_used_is_that_between_first_and_last_gauge(facts: dict[str, str]) -> None:
    """From 298.5 to 209.5 bar, the readings at connecting and before the end; rounded up."""
    used = gas.usable_l(298.5, 6.8, 30) - gas.usable_l(209.5, 6.8, 30)
    told = int(facts["air used"].split()[0])
    assert used <= told < used + 1
    assert facts["lowest reading"] == "209 bar at 22:28:15"


def test_thirds_with_the_gauge_then(facts: dict[str, str]) -> None:
    """The earliest plan governs: a third of it, and the last reading before that instant."""
    real_s = _seconds(facts["predicted: low-air warning"].rpartition("(")[2].rstrip(")"))
    third = real_s // 3
    at = 10 + third
    assert facts["one third of the expected time"].startswith(_clock(at))
    bar = int(299 - (at - 0.1) // 5 * 5 / 10)
    assert f", {bar} bar, read at" in facts["one third of the expected time"]


def _seconds(span: str) -> int:
    minutes, _, seconds = span.removesuffix(" s").partition(" min ")
    return int(minutes) * 60 + int(seconds)


def _clock(s: int) -> str:
    seconds = 22 * 3600 + 13 * 60 + 20 + s
    return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def test_what_cannot_be_reckoned_is_said(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.act(0, events.ListWearer, wearer=1, name="W. Clay")
    tale.act(0, events.JoinPack, wearer=1)
    tale.act(1, events.Connect, wearers=(1,))
    facts = read_page(tell(tale, 60)).facts("What is recorded")
    assert facts["cylinder, water volume"] == facts["cylinder, rated pressure"] == "not known"
    assert facts["predicted times"].startswith("none:")
    assert facts["connected to air"] == "22:13:21, not known"


def test_a_cylinder_that_was_changed_has_no_sum(tale: "Tale", tell: Tell, read_page: Read) -> None:
    tale.person(1)
    tale.hear(1, bar=200)
    tale.act(2, events.Connect, wearers=(1,))
    tale.hear(5, bar=199)
    tale.act(6, events.JoinPack, wearer=1, pack=101, water_volume_l=6.8, rated_bar=300)
    tale.hear(10, bar=290)
    facts = read_page(tell(tale, 20)).facts("What is recorded")
    assert facts["air used"] == "not reckoned: the cylinder was changed"


def test_withdrawal_by_button_or_by_act(tale: "Tale", tell: Tell, read_page: Read) -> None:
    for wearer in (1, 2):
        tale.person(wearer)
        tale.hear(1, wearer)
    tale.act(2, events.Connect, wearers=(1, 2))
    tale.act(3, events.Enter, wearers=(1, 2))
    tale.hear(20, 1, coming_out=True)
    tale.act(25, events.StartBack, wearers=(2,))
    page = read_page(tell(tale, 30))
    assert page.facts("What is recorded", 0)["start of withdrawal"] == (
        "22:13:40, by the wearer's button"
    )
    assert page.facts("What is recorded", 1)["start of withdrawal"].startswith("22:13:45, ")


def test_the_golden_wearers_gauge_at_the_end(golden_page: "PageRead", raw: "Raw") -> None:
    """Of wearer 1: the last pressure of pack 101 up to off air, cut off."""
    off = next(t for t, one in raw.said(2, "off_air") if 1 in one["wearers"])
    bar = 0.0
    for t, kind, data in raw.rows:
        packet = decode_trusted(data) if kind == 1 and t <= off else None
        if isinstance(packet, Report) and packet.identity == 101 and packet.pressure_dbar:
            bar = packet.pressure_dbar / 10
    told = golden_page.facts("What is recorded", 0)["off air"]
    assert told.endswith(f", {int(bar)} bar")
