from pathlib import Path

import pytest

from monitor import cylinders
from monitor.cylinders import CylinderType
from monitor.errors import BadFile
from monitor.incident.air import gas

LITRES_20_C = 42.31036 / 41.58661
"""A litre at 15 C is so many at 20 C (reference densities in mol/m3)."""


def known(name: str, own: str = "") -> CylinderType:
    kind = cylinders.load(own).find(name)
    assert kind is not None
    return kind


def written(folder: Path, text: str) -> str:
    path = folder / "own.toml"
    path.write_text(text)
    return str(path)


# Published contents. Printed cards reckon p x V: 9 L at 200 bar, 6 L at 300 bar 1800 L, twin 4 L at
# 200 bar 1600 L, 6 L at 200 bar 1200 L, 6.8 L at 300 bar 2040 L, twice that 4080 L.
@pytest.mark.parametrize(
    ("name", "litres"),
    [
        ("9/200", 1800),
        ("6/300", 1800),
        ("2x4/200", 1600),
        ("6/200", 1200),
        ("6.8/300", 2040),
        ("2x6.8/300", 4080),
        ("4/200", 800),
        ("12/200", 2400),
    ],
)
def test_contents_as_on_the_card(name: str, litres: float) -> None:
    kind = known(name)
    assert kind.water_volume_l * kind.rated == pytest.approx(litres)


# US sizes as sold: approximately 1240 L at 4500 psi for 30 min; 66 and 88 cubic feet (1868 and
# 2490 L, at about 20 C). One water volume of each cannot be breathed.
@pytest.mark.parametrize(
    ("name", "litres"), [("30/4500", 1240), ("45/4500", 1868), ("60/4500", 2490)]
)
def test_contents_as_sold(name: str, litres: float) -> None:
    kind = known(name)
    usable = gas.usable_l(kind.rated, kind.water_volume_l, 20) * LITRES_20_C
    assert usable + kind.water_volume_l == pytest.approx(litres, rel=0.01)
    assert kind.rated == pytest.approx(310.26, abs=0.01)


def test_every_one_has_its_source_and_a_name_of_its_own() -> None:
    rack = cylinders.load()
    found = [rack.find(name) for name in rack.names()]
    assert all(kind is not None and kind.source for kind in found)
    assert len(found) == 13


def test_capitals_and_blanks_do_not_matter() -> None:
    assert known(" 6.8 L  300 BAR ") == known("6.8/300")
    assert cylinders.load().find("7/300") is None


def test_ones_own_are_added_and_go_first(tmp_path: Path) -> None:
    own = written(
        tmp_path,
        '[[cylinders]]\nname = "kiln set"\nshort = "k"\nwater_volume_l = 5\nrated_psi = 3000\n'
        '[[cylinders]]\nname = "6 L 300 bar"\nshort = "6/300"\nwater_volume_l = 6.1\n'
        "rated_bar = 300\n",
    )
    assert known("kiln set", own).rated == pytest.approx(206.84, abs=0.01)
    assert known("6/300", own).water_volume_l == 6.1
    assert known("9/300", own).water_volume_l == 9


GOOD = '[[cylinders]]\nname = "a"\nshort = "b"\nwater_volume_l = 5\nrated_bar = 300\n'


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[cylinders]]\nname = "a"\nshort = "b"\nwater_volume_l = 5\n', "one of rated_bar"),
        (
            '[[cylinders]]\nname = "a"\nshort = "b"\nwater_volume_l = 0\nrated_bar = 300\n',
            ":4: cylinders.1.water_volume_l",
        ),
        (
            GOOD + '[[cylinders]]\nname = "c"\nshort = "B"\nwater_volume_l = 5\nrated_bar = 300\n',
            "b is given to two cylinders",
        ),
        ("cylinders = ", "cylinder list is not TOML"),
        ("#" * (cylinders.FILE_BYTES_MAX + 1), "too long"),
    ],
)
def test_a_wrong_file_says_what_and_where(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(BadFile, match=said) as caught:
        cylinders.load(written(tmp_path, text))
    assert "own.toml" in str(caught.value)


def test_a_file_that_is_not_there() -> None:
    with pytest.raises(
        BadFile, match=r"no such cylinder list: nowhere\.toml: give the path of one"
    ):
        cylinders.load("nowhere.toml")
