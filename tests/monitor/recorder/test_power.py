"""Names of files and their words: Documentation/ABI/testing/sysfs-class-power, Linux kernel."""

from pathlib import Path

import pytest

from monitor.incident.base_power import BasePower
from monitor.recorder.power import LOOK_NS, PowerWatch, look


def supply(folder: Path, name: str, **says: str) -> None:
    made = folder / name
    made.mkdir(exist_ok=True)
    for file, text in says.items():
        (made / file).write_text(f"{text}\n", encoding="ascii")


@pytest.mark.parametrize(
    ("status", "online", "state"),
    [
        ("Discharging", "0", "battery"),
        ("Charging", "1", "mains"),
        ("Full", "1", "mains"),
        ("Not charging", "1", "mains"),
        ("Discharging", "1", "battery"),  # the supply is too weak for what the machine takes
        ("Unknown", "1", "mains"),
        ("Unknown", "0", "battery"),
    ],
)
def test_a_laptop_with_one_battery(tmp_path: Path, status: str, online: str, state: str) -> None:
    supply(tmp_path, "AC", type="Mains", online=online)
    supply(tmp_path, "BAT0", type="Battery", present="1", status=status, capacity="63")
    told = look(tmp_path)
    assert told is not None
    assert (told.state, told.percent) == (state, 63)


def test_a_battery_that_charges_with_no_mains_supply_told_of(tmp_path: Path) -> None:
    supply(tmp_path, "BAT0", type="Battery", status="Charging", capacity="40")
    assert look(tmp_path) == BasePower(state="mains", percent=40)


def test_two_batteries_are_half_each_and_an_empty_bay_is_none(tmp_path: Path) -> None:
    supply(tmp_path, "BAT0", type="Battery", present="1", status="Discharging", capacity="80")
    supply(tmp_path, "BAT1", type="Battery", present="1", status="Unknown", capacity="21")
    supply(tmp_path, "BAT2", type="Battery", present="0", status="Unknown", capacity="0")
    assert look(tmp_path) == BasePower(state="battery", percent=50)  # (80 + 21) / 2, down


def test_what_is_no_battery_of_the_machine_tells_nothing(tmp_path: Path) -> None:
    assert look(tmp_path / "missing") is None
    assert look(tmp_path) is None
    supply(tmp_path, "AC", type="Mains", online="0")
    supply(tmp_path, "mouse", type="Battery", scope="Device", status="Discharging", capacity="9")
    assert look(tmp_path) is None


@pytest.mark.parametrize("capacity", ["", "-1", "full", "9" * 5_000])
def test_a_charge_that_cannot_be_read_is_not_told(tmp_path: Path, capacity: str) -> None:
    supply(tmp_path, "BAT0", type="Battery", status="Discharging", capacity=capacity)
    assert look(tmp_path) == BasePower(state="battery", percent=None)


def test_only_what_has_changed_is_told_and_mains_only_after_a_battery(tmp_path: Path) -> None:
    told: list[BasePower] = []
    watch = PowerWatch(tmp_path)
    for status, capacity in (
        ("Full", "100"), ("Discharging", "99"), ("Discharging", "99"), ("Charging", "97"),
        ("Charging", "98"),
    ):  # fmt: skip
        supply(tmp_path, "BAT0", type="Battery", status=status, capacity=capacity)
        watch.look(told.append)
    assert [(one.state, one.percent) for one in told] == [("battery", 99), ("mains", 97)]


def test_it_looks_at_once_and_then_every_half_minute(tmp_path: Path) -> None:
    supply(tmp_path, "BAT0", type="Battery", status="Discharging", capacity="50")
    told: list[BasePower] = []
    watch = PowerWatch(tmp_path)
    assert watch.due(7, told.append)
    assert not watch.due(7 + LOOK_NS - 1, told.append)
    assert watch.due(7 + LOOK_NS, told.append)
    watch.end(10.0)
    assert told == [BasePower(state="battery", percent=50)]
