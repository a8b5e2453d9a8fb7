"""What is an alarm of air: the low-air warning, and readings by voice beside telemetry."""

from typing import TYPE_CHECKING

import pytest

from monitor.incident import events
from monitor.incident.picture import AirFrom, Priority
from protocol.packets import Apparatus, Equipment, Kind

if TYPE_CHECKING:
    from tests.monitor.incident.conftest import Story

S = 1_000_000_000
MIN = 60 * S


@pytest.fixture
def entered(story: "Story") -> "Story":
    """Wearers 1 and 2, one crew, with packs 101 and 102, in the hazard since 10 s."""
    story.incident.advance(10 * S)
    story.enter(1, 2)
    return story


# ---------------------------------------------------------------- low air


def low_at(story: "Story", t: int, dbar: int, *, low_air: bool = False) -> list[str]:
    story.hear(t, pressure_dbar=dbar, low_air=low_air)
    return story.alarms()


def test_low_air_at_the_value_and_not_above(entered: "Story") -> None:
    # 35 % of 300 bar = 105 bar.
    assert low_at(entered, 20 * S, 1051) == []
    assert low_at(entered, 25 * S, 1050) == ["low_air"]
    assert entered.alarm("low_air").detail == "105 bar, low at 105 bar"
    assert entered.line().state == "LOW AIR"


def test_low_air_does_not_chatter_and_a_new_cylinder_ends_it(entered: "Story") -> None:
    low_at(entered, 20 * S, 1050)
    assert low_at(entered, 25 * S, 1052) == ["low_air"]
    assert low_at(entered, 26 * S, 1048) == ["low_air"]
    assert len(entered.incident.take_announcements()) == 1
    entered.take("low_air")
    assert low_at(entered, 30 * S, 1249) == ["low_air"]
    # It is over; that the gauge rose is told instead.
    assert low_at(entered, 35 * S, 1250) == ["gauge"]
    assert "low_air" in low_at(entered, 40 * S, 1049)


def test_it_stays_when_the_pack_is_taken_from_the_wearer(entered: "Story") -> None:
    entered.hear(15 * S, pressure_dbar=900)
    entered.act(16 * S, events.JoinPack, wearer=1, pack=None)
    # No reading is left, so nothing says that the air is better.
    assert entered.line().state == "LOW AIR"
    assert not entered.alarm("low_air").acknowledged
    cylinder = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
    entered.hear(17 * S, 150, equipment=cylinder, pressure_dbar=2900)
    entered.act(17 * S, events.JoinPack, wearer=1, pack=150)
    assert entered.line().state != "LOW AIR"


def test_the_packs_own_flag_is_enough(entered: "Story") -> None:
    assert low_at(entered, 20 * S, 1500, low_air=True) == ["low_air"]
    assert entered.alarm("low_air").detail == "150 bar, low at 105 bar, the pack's own warning"


def test_off_air_ends_it(entered: "Story") -> None:
    low_at(entered, 20 * S, 900)
    entered.take("low_air")
    entered.act(30 * S, events.ComeOut, wearers=(1,))
    assert entered.alarms() == ["low_air"]
    entered.act(40 * S, events.OffAir, wearers=(1,))
    assert entered.alarms() == []


# Two sets in one crew with warnings at 22 % and 33 %: each alarms at its own value (42 CFR 84.83,
# present and former text).
@pytest.mark.parametrize(("low_dbar", "above", "at"), [(660, 661, 660), (990, 991, 990)])
def test_the_cylinders_own_value_comes_first(
    story: "Story", low_dbar: int, above: int, at: int
) -> None:
    story.list_and_join(1, 101)
    own = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, low_dbar)
    story.hear(1 * S, kind=Kind.SIGN_ON, equipment=own)
    story.connect(1)
    assert story.line().air.low_air_bar == low_dbar / 10
    assert low_at(story, 5 * S, above) == []
    assert low_at(story, 10 * S, at) == ["low_air"]


def test_the_check_in_overrides_what_the_pack_says_of_its_cylinder(story: "Story") -> None:
    story.act(0, events.ListWearer, wearer=1, name="Wearer 1")
    story.act(0, events.JoinPack, wearer=1, pack=101, water_volume_l=9, rated_bar=200)
    own = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
    story.hear(1 * S, kind=Kind.SIGN_ON, equipment=own, pressure_dbar=2000)
    story.connect(1)
    air = story.line().air
    assert (air.rated_bar, air.low_air_bar, air.fraction) == (200, 70, 1)
    # 9 L at 200 bar gauge and 30 C, between 1664 (20 C) and 1567 (40 C) litres usable.
    assert air.contents_l is not None
    assert 1567 < air.contents_l < 1708


def test_an_unknown_cylinder_alarms_by_the_highest_usual_rating_and_by_its_flag(
    story: "Story",
) -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S)
    story.connect(1)
    assert low_at(story, 5 * S, 1260) == []  # over 105, 35 % of 300 bar, and 20 bar
    assert low_at(story, 10 * S, 1260, low_air=True) == ["low_air"]
    assert low_at(story, 15 * S, 1260, low_air=False) == ["low_air"]
    # A flag that has dropped may come again within 60 s.
    assert story.alarm("low_air", t=75 * S - 1).state == "unacknowledged"
    assert story.alarm("low_air", t=75 * S).state == "returned, unacknowledged"


def test_where_no_gauge_was_ever_read_the_packs_flag_alone_comes_and_goes(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, pressure_dbar=None)
    story.connect(1)
    for begins in (5, 100):
        story.hear(begins * S, pressure_dbar=None, low_air=True)
        assert story.alarm("low_air").state == "unacknowledged"
        story.take("low_air")
        story.hear((begins + 5) * S, pressure_dbar=None)
        # A flag that has dropped may come again within 60 s.
        assert "low_air" in story.alarms(t=(begins + 65) * S - 1)
        assert "low_air" not in story.alarms(t=(begins + 65) * S)


def test_a_reading_told_no_more_is_kept_with_its_age(entered: "Story") -> None:
    entered.hear(20 * S, pressure_dbar=None)
    air = entered.line(t=21 * S).air
    assert (air.reading_bar, air.reading_age_ns) == (290, 11 * S)


# ---------------------------------------------------------------- spoken readings


def test_the_lower_of_voice_and_telemetry_governs_until_they_agree_at_one_time(
    entered: "Story",
) -> None:
    entered.act(11 * S, events.SpokenReading, wearers=(1,), pressure_bar=200)
    assert (entered.line().air.source, entered.line().air.pressure_bar) == (AirFrom.VOICE, 200)
    entered.hear(15 * S, pressure_dbar=2890)
    assert entered.line().air.reading_bar == 200
    # Within 10 bar of what was said, but that was said nine seconds ago.
    entered.hear(20 * S, pressure_dbar=2100)
    assert entered.line().air.reading_bar == 200
    entered.act(21 * S, events.SpokenReading, wearers=(1,), pressure_bar=205)
    entered.hear(25 * S, pressure_dbar=2100)
    assert (entered.line().air.source, entered.line().air.pressure_bar) == (
        AirFrom.TELEMETRY,
        210,
    )


def test_a_higher_word_within_the_tolerance_counts_as_the_lower_figure(entered: "Story") -> None:
    entered.act(20 * S, events.SpokenReading, wearers=(1,), pressure_bar=300)
    air = entered.line().air
    assert (air.source, air.pressure_bar, air.reading_age_ns) == (AirFrom.VOICE, 290, 0)


def test_a_pack_that_tells_no_pressure_settles_nothing(story: "Story") -> None:
    story.list_and_join(1, 101)
    story.hear(1 * S, pressure_dbar=None)
    story.connect(1)
    story.act(5 * S, events.SpokenReading, wearers=(1,), pressure_bar=200)
    story.hear(6 * S, pressure_dbar=None)
    assert story.line().air.source is AirFrom.VOICE


def test_the_gas_temperature_told_counts_and_is_the_procedures_where_untold(
    entered: "Story",
) -> None:
    # 6.8 L, 300 bar: 1658 L at 40 C, 1826 L at 15 C (computed with CoolProp).
    entered.hear(15 * S, pressure_dbar=3000)
    entered.hear(20 * S, pressure_dbar=3000, gas_temperature_c=40)
    assert entered.line().air.contents_l == pytest.approx(1658, rel=0.003)
    entered.hear(25 * S, pressure_dbar=3000, gas_temperature_c=15)
    assert entered.line().air.contents_l == pytest.approx(1826, rel=0.003)
    entered.hear(30 * S, pressure_dbar=3000, gas_temperature_c=None)
    at_30_c = entered.line().air.contents_l
    assert at_30_c is not None
    assert 1658 < at_30_c < 1826


def test_a_word_far_above_telemetry_does_not_raise_the_air(entered: "Story") -> None:
    entered.hear(15 * S, pressure_dbar=1500)
    entered.act(16 * S, events.SpokenReading, wearers=(1,), pressure_bar=161)
    air = entered.line().air
    assert (air.source, air.pressure_bar) == (AirFrom.TELEMETRY, 150)


def test_low_air_by_voice(story: "Story") -> None:
    story.act(0, events.ListWearer, wearer=1, name="Wearer 1")
    story.act(0, events.JoinPack, wearer=1, pack=None, water_volume_l=6.8, rated_bar=300)
    story.connect(1, pressure_bar=290)
    assert story.line().air.source is AirFrom.ENTRY
    story.act(5 * MIN, events.SpokenReading, wearers=(1,), pressure_bar=105, location="stairs")
    assert story.alarms() == ["low_air"]
    assert story.line().location == "stairs"


def test_a_spoken_reading_falls_as_an_estimate_and_then_is_a_danger(story: "Story") -> None:
    story.act(0, events.ListWearer, wearer=1, name="Wearer 1")
    story.act(0, events.JoinPack, wearer=1, pack=None, water_volume_l=6.8, rated_bar=300)
    story.connect(1, pressure_bar=290)
    assert story.line(t=16 * S).air.source is AirFrom.ESTIMATE
    assert story.alarm("no_word", t=10 * MIN).priority is Priority.CAUTION
    assert story.alarm("no_word", t=20 * MIN).priority is Priority.DANGER
