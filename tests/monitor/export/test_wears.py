"""A wear from connecting to off air, with later entries, changes and a second wear."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from monitor.export.tables import WEARERS
from monitor.export.wears import Wears
from monitor.incident.air.start import StartFrom
from monitor.incident.events import (
    Act,
    ComeOut,
    Connect,
    Enter,
    JoinPack,
    NewObjective,
    Note,
    OffAir,
    ReachObjective,
    StartBack,
)
from monitor.incident.picture import AirFrom, AirView, Phase, Picture, Signal, WearerView
from monitor.incident.record.events import Assign, Undo

NAMES = [column.name for column in WEARERS.columns]
OFFSET = 1_000_000
BY = {"id": "act-00001", "by": "R. Harrow", "wearers": (1,)}


def view(wearer: int, bar: float | None, location: str = "") -> WearerView:
    air = AirView(
        AirFrom.TELEMETRY,
        bar,
        None,
        None,
        bar,
        0,
        60.0,
        300.0,
        turn_bar=160.0,
        start_bar=290.0,
        start_from=StartFrom.READ,
    )
    return WearerView(
        wearer=wearer, name=f"Wearer {wearer}", call_sign="", crew="Alpha 1", leader=wearer == 1,
        pack=100 + wearer, phase=Phase.ENTERED, under_air=True, state="ok", priority=None,
        acknowledged=True, state_for_ns=0, air=air, signal=Signal.HEARD, silence_ns=0,
        silence_limit_ns=0, motion="moving", battery_percent=None, signal_dbm=None,
        location=location, location_at_ns=None, wear_ns=None, pre_alarms=0,
    )  # fmt: skip


def picture(t: int, *views: WearerView) -> Picture:
    return Picture(
        t=t, wall_ns=OFFSET + t, name="", place="", entry_point="", stage="", officer="", use="",
        keyed=False, procedure="", under_air=0, came_out=0, signals_heard=0, signals_expected=0,
        wearers=views, alarms=(), unjoined=(), links=(), refused=(), disk="ok", holder="",
        closed=False,
    )  # fmt: skip


def never() -> Picture:
    raise AssertionError("the board is not asked for such an act")


def named(rows: list[tuple[object, ...]]) -> list[dict[str, object]]:
    return [dict(zip(NAMES, row, strict=True)) for row in rows]


@pytest.fixture
def wears() -> Wears:
    return Wears("EXERCISE", {101: 6.8})


@pytest.fixture
def do(wears: Wears) -> Callable[..., None]:
    """An act of wearer 1 at a time, the gauge showing so much."""

    def act(what: Act, t: int, bar: float, location: str = "", **told: str) -> None:
        line = replace(view(1, bar, location), **told)  # type: ignore[arg-type]
        wears.before(what, lambda: picture(t, view(1, bar), view(2, 300.0)))
        after = replace(line, air=replace(line.air, turn_bar=None))
        over = after if isinstance(what, OffAir) else line
        wears.act(t, OFFSET, what, lambda: picture(t, over, view(2, 300.0)))

    return act


def test_a_whole_wear(wears: Wears, do: Callable[..., None]) -> None:
    do(Connect(**BY), 100, 295.0)
    do(Enter(**BY, task="search left", at_ns=110), 150, 290.0, task="search left")
    do(Assign(**BY, brief="left wall"), 160, 289.0, brief="left wall", communications="radio")
    do(ReachObjective(**BY), 200, 240.0)
    do(StartBack(**BY), 300, 160.0)
    do(ComeOut(**BY), 400, 100.0)
    assert wears.ended() == []
    do(OffAir(**BY), 450, 90.0, "door")
    (row,) = named(wears.ended())
    assert row == {
        "use": "EXERCISE", "wearer": 1, "name": "Wearer 1", "call_sign": None, "crew": "Alpha 1",
        "leader": True, "pack": 101, "apparatus": "open circuit", "rated_pressure_bar": 300.0,
        "water_volume_l": 6.8, "low_air_value_bar": 60.0, "turn_back_bar": 160.0,
            "start_bar": 290.0, "start_from": "read at connecting",
        "set": None, "cylinder": None, "task": "search left", "brief": "left wall",
        "communications": "radio", "location": "door", "door": None,
        "connected_clock": OFFSET + 100, "connected_pressure_bar": 295.0,
        "entered_clock": OFFSET + 110, "entered_pressure_bar": 290.0,
        "objective_clock": OFFSET + 200, "objective_pressure_bar": 240.0,
        "back_clock": OFFSET + 300, "back_pressure_bar": 160.0,
        "out_clock": OFFSET + 400, "out_pressure_bar": 100.0,
        "off_air_clock": OFFSET + 450, "off_air_pressure_bar": 90.0,
        "wearing_time_ns": 350, "mean_rate_l_min": None,
    }  # fmt: skip
    assert wears.ended() == []


def test_sent_on_what_was_reached_stays_until_it_is_again(
    wears: Wears, do: Callable[..., None]
) -> None:
    """As in the report: a record takes nothing back."""
    do(Connect(**BY), 100, 295.0)
    do(ReachObjective(**BY), 200, 240.0)
    do(StartBack(**BY), 210, 238.0)
    do(NewObjective(**BY), 250, 230.0)
    (row, _) = named(wears.going_on(picture(300, view(1, 220.0), view(2, None))))
    assert (row["objective_clock"], row["back_clock"]) == (OFFSET + 200, OFFSET + 210)
    assert row["wearing_time_ns"] == 200
    do(ReachObjective(**BY), 320, 200.0)
    (row, _) = named(wears.going_on(picture(330, view(1, 199.0), view(2, None))))
    assert (row["objective_clock"], row["objective_pressure_bar"]) == (OFFSET + 320, 200.0)


def test_two_wears_of_one_wearer_are_two_rows(wears: Wears, do: Callable[..., None]) -> None:
    for start in (100, 1_000):
        do(Connect(**BY), start, 295.0)
        do(OffAir(**BY), start + 50, 200.0)
    rows = named(wears.ended())
    assert [row["connected_clock"] for row in rows] == [OFFSET + 100, OFFSET + 1_000]
    assert named(wears.going_on(picture(2_000, view(1, 200.0)))) == []


def test_who_was_never_on_air_has_a_row_without_times(wears: Wears) -> None:
    (row,) = named(wears.going_on(picture(5, view(2, None))))
    assert (row["wearer"], row["connected_clock"], row["wearing_time_ns"]) == (2, None, None)
    assert row["water_volume_l"] is None


def test_the_check_ins_word_for_the_cylinder_comes_first(
    wears: Wears, do: Callable[..., None]
) -> None:
    joined = JoinPack(id="join-0001", by="x", wearer=1, pack=101, water_volume_l=9.0)
    wears.act(0, OFFSET, joined, never)
    do(Connect(**BY), 100, 295.0)
    assert named(wears.going_on(picture(200, view(1, 290.0))))[0]["water_volume_l"] == 9.0


def test_the_board_is_not_asked_for_other_acts(wears: Wears) -> None:
    wears.act(0, OFFSET, Note(id="note-0001", by="x", text="x", wearer=1), never)
    assert wears.ended() == []


def test_an_act_on_somebody_not_on_air_makes_no_wear(wears: Wears, do: Callable[..., None]) -> None:
    do(ComeOut(**BY), 100, 295.0)
    (row,) = named(wears.going_on(picture(200, view(1, 290.0))))
    assert row["out_clock"] is None


def test_a_step_that_was_taken_back_is_empty_again(wears: Wears, do: Callable[..., None]) -> None:
    do(Connect(**BY), 100, 295.0)
    do(Enter(**BY), 150, 290.0)
    slip = {**BY, "id": "act-slip-1"}
    do(ComeOut(**slip), 200, 240.0)
    do(Undo(**BY, of="act-slip-1"), 210, 239.0)
    (row,) = named(wears.going_on(picture(300, view(1, 230.0))))
    assert (row["entered_clock"], row["out_clock"]) == (OFFSET + 150, None)
