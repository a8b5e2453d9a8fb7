"""One row a frame, one row a wearer of a spoken reading."""

import pytest

from monitor.export.readings import Readings
from monitor.export.tables import READINGS
from monitor.incident.events import Heard, JoinPack, SpokenReading
from monitor.incident.rows import Standing
from protocol.packets import (
    Apparatus,
    CheckResult,
    Equipment,
    Kind,
    Motion,
    Receipt,
    ReceiptKind,
    Report,
)

NAMES = [column.name for column in READINGS.columns]


def join(wearer: int, pack: int | None) -> JoinPack:
    return JoinPack(id="join-0001", by="R. Harrow", wearer=wearer, pack=pack)


def report(**changed: object) -> Report:
    values: dict[str, object] = {
        "kind": Kind.STATUS, "identity": 101, "boot": 7, "sequence": 300, "epoch": 0,
        "keyed": False, "pressure_dbar": 2875, "gas_temperature_c": None, "battery_percent": 88,
        "motion": Motion.PRE_ALARM, "distress": True, "low_air": False, "coming_out": False,
        "self_test": CheckResult.PASSED, "air_warning_test": CheckResult.NOT_RUN,
        "motion_warning_test": CheckResult.FAILED, "interval_s": 5, "uptime_ms": 1_234_567,
        "order_received": 3, "order_acknowledged": 2, "beacon_heard": 0,
    }  # fmt: skip
    return Report(**values | changed)  # type: ignore[arg-type]


def heard(packet: Report | Receipt, standing: Standing = Standing.LIVE) -> Heard:
    return Heard(5, packet, standing, 1, 2, -87)


def named(row: tuple[object, ...]) -> dict[str, object]:
    return dict(zip(NAMES, row, strict=True))


@pytest.fixture
def readings() -> Readings:
    made = Readings("EXERCISE")
    made.join(join(4, 101))
    return made


def test_a_status(readings: Readings) -> None:
    row = named(readings.frame(9, 1_005, heard(report())))
    assert row == {
        "use": "EXERCISE", "row": 9, "time_ns": 5, "clock": 1_005, "source": "telemetry",
        "kind": "status", "standing": "live", "wearer": 4, "pack": 101, "link": 1,
        "signal_dbm": -87, "late_ns": 2, "boot": 7, "sequence": 300, "uptime_ms": 1_234_567,
        "pressure_bar": 287.5, "gas_temperature_celsius": None, "battery_percent": 88,
        "motion": "pre-alarm", "distress": True, "low_air": False, "coming_out": False,
        "self_test": "passed", "low_air_warning_test": "not run",
        "motion_warning_test": "failed", "interval_s": 5, "order_received": 3,
        "order_acknowledged": 2, "answer": None, "apparatus": None, "rated_pressure_bar": None,
        "water_volume_l": None, "low_air_value_bar": None,
    }  # fmt: skip


def test_a_sign_on_tells_the_set(readings: Readings) -> None:
    told = Equipment(Apparatus.OPEN_CIRCUIT, 3_000, 680, None)
    row = named(readings.frame(1, 0, heard(report(kind=Kind.SIGN_ON, equipment=told))))
    assert (row["kind"], row["apparatus"]) == ("sign-on", "open circuit")
    assert (row["rated_pressure_bar"], row["water_volume_l"]) == (300.0, 6.8)
    assert row["low_air_value_bar"] is None
    assert readings.water_volume_l == {101: 6.8}


def test_what_a_set_does_not_know_of_its_cylinder(readings: Readings) -> None:
    told = Equipment(Apparatus.UNKNOWN, None, None, None)
    named(readings.frame(1, 0, heard(report(kind=Kind.SIGN_ON, equipment=told))))
    assert readings.water_volume_l == {}


@pytest.mark.parametrize(
    ("answer", "acknowledged"),
    [(ReceiptKind.RECEIVED, None), (ReceiptKind.ACKNOWLEDGED, 3), (ReceiptKind.COMING_OUT, None)],
)
def test_a_receipt(readings: Readings, answer: ReceiptKind, acknowledged: int | None) -> None:
    receipt = Receipt(101, 7, 301, 0, False, answer, 3, 1_235_000, 0)
    row = named(readings.frame(1, 0, heard(receipt)))
    assert (row["kind"], row["uptime_ms"]) == ("receipt", 1_235_000)
    assert (row["order_received"], row["order_acknowledged"]) == (3, acknowledged)
    assert row["answer"] == answer.name.lower().replace("_", " ")
    assert row["pressure_bar"] is None


@pytest.mark.parametrize("standing", Standing)
def test_each_standing_has_words(readings: Readings, standing: Standing) -> None:
    assert named(readings.frame(1, 0, heard(report(), standing)))["standing"]


def test_who_has_a_pack_follows_the_acts(readings: Readings) -> None:
    def wearer() -> object:
        return named(readings.frame(1, 0, heard(report())))["wearer"]

    assert wearer() == 4
    readings.join(join(5, 101))
    assert wearer() == 5
    readings.join(join(5, 102))
    assert wearer() is None
    readings.join(join(4, None))
    assert wearer() is None


def test_a_reading_by_voice_is_one_row_a_wearer(readings: Readings) -> None:
    act = SpokenReading(id="spoken-01", by="R. Harrow", wearers=(4, 5), pressure_bar=180)
    first, second = (named(row) for row in readings.spoken(7, 5, 1_005, act))
    assert (first["source"], first["kind"], first["pressure_bar"]) == (
        "voice", "spoken reading", 180,
    )  # fmt: skip
    assert [(row["wearer"], row["pack"]) for row in (first, second)] == [(4, 101), (5, None)]
    known = {"use", "row", "time_ns", "clock", "source", "kind", "wearer", "pack", "link",
             "late_ns", "pressure_bar"}  # fmt: skip
    assert {name for name, value in first.items() if value is not None} == known


def test_the_lowest_of_several_is_said_to_be_that(readings: Readings) -> None:
    act = SpokenReading(id="spoken-01", by="x", wearers=(4,), pressure_bar=180, lowest=True)
    assert named(readings.spoken(7, 5, 0, act)[0])["kind"] == "lowest of several"
