import json
from pathlib import Path
from typing import Any

import pytest

from monitor.cli import main
from monitor.errors import Exit

README = Path(__file__).parents[3] / "README.md"


def asked(capsys: pytest.CaptureFixture[str], line: str) -> dict[str, Any]:
    """The fields that the program gives for a command line."""
    assert main(["air", "--json", *line.split()]) == Exit.OK
    read: dict[str, Any] = json.loads(capsys.readouterr().out)
    return read


def refused(capsys: pytest.CaptureFixture[str], line: str, code: Exit) -> str:
    assert main(["air", *line.split()]) == code
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.count("\n") == 1
    return said.err


def test_the_example_of_the_readme(capsys: pytest.CaptureFixture[str]) -> None:
    line = "outby air --cylinder 6.8/300 --connected 23:40\n"
    assert main(line.split()[1:]) == Exit.OK
    assert line + capsys.readouterr().out in README.read_text("utf-8")


def test_a_full_cylinder_by_the_plain_procedure_unless_said(
    capsys: pytest.CaptureFixture[str],
) -> None:
    read = asked(capsys, "--cylinder 6/300")
    assert (read["procedure"], read["rate_l_min"], read["gas_temperature_c"]) == ("plain", 50, 30)
    assert read["wearers"][0]["start_bar"] == 300


def test_what_is_said_goes_before_the_procedure(capsys: pytest.CaptureFixture[str]) -> None:
    read = asked(
        capsys,
        "--cylinder 6/300 --pressure 270 --rate 40 --temperature 15 --low-air 55"
        " --procedure fwdv7 --objective 240",
    )
    one = read["wearers"][0]
    assert (read["rate_l_min"], read["gas_temperature_c"], one["low_air_bar"]) == (40, 15, 55)
    # 270 to 240 bar in: 60 bar back and 55 kept. 270 x 6 / 40 = 40.5 min.
    assert one["turn_back_bar"] == 115
    assert one["full"]["table_min"] == 40


def test_a_cylinder_by_its_size_in_the_unit_of_the_gauge(
    capsys: pytest.CaptureFixture[str],
) -> None:
    one = asked(capsys, "--cylinder 7/232")["wearers"][0]
    assert (one["cylinder"], one["water_volume_l"], one["rated_bar"]) == ("7 L 232 bar", 7, 232)
    read = asked(capsys, "--cylinder 7/4500 --gauge psi --pressure 4000")
    # 4000 and 4500 psi are 275.79 and 310.26 bar.
    assert read["wearers"][0]["start_bar"] == 275.7
    assert read["wearers"][0]["rated_bar"] == 310.2


def test_one_cylinder_counts_for_a_whole_crew(capsys: pytest.CaptureFixture[str]) -> None:
    read = asked(capsys, "--cylinder 6.8/300 --pressure 300 280 290")
    assert [one["start_bar"] for one in read["wearers"]] == [300, 280, 290]
    assert {one["cylinder"] for one in read["wearers"]} == {"6.8 L 300 bar"}
    assert read["crew"]["turned_by_wearer"] == 2


def test_a_cylinder_and_a_procedure_of_ones_own(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[cylinders]]\nname = "kiln"\nshort = "k"\nwater_volume_l = 5\nrated_bar = 232\n'
    )
    read = asked(capsys, f"--cylinder kiln --cylinders {own}")
    assert read["wearers"][0]["water_volume_l"] == 5
    said = refused(capsys, f"--cylinder kiln --procedure {own}", Exit.FILE)
    assert "own.toml" in said


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("--cylinder 7-300", "no such cylinder: 7-300"),
        (
            "--cylinder 0.1/300",
            "a water volume in 0.1/300 of 0.1 L cannot be: --cylinder: give 0.5 to 30 L",
        ),
        ("--cylinder 0.4/300", "0.4 L cannot be: --cylinder: give 0.5 to 30 L"),
        (
            "--cylinder 50/200",
            "50 L cannot be: --cylinder: give 0.5 to 30 L; on a line more: --air",
        ),
        ("--cylinder 6/20", "a rated pressure in 6/20 of 20 bar cannot be: --cylinder: give 50 to"),
        ("--cylinder 50/200 --airline 0", "0 wearers on a line: --airline: 1 to 20"),
        ("--cylinder 50/200 50/300 --airline 2", "different rated pressure on one line"),
        ("--cylinder 50/200 --airline 2 --objective 100", "no pressure at the objective"),
        ("--cylinder 500/200 --airline 2", "500 L cannot be: --cylinder: give 0.5 to 400 L"),
        ("--cylinder 6/4500", "for psi add --gauge psi"),
        (
            "--cylinder 6/300 --pressure 4500",
            "4500 bar cannot be: --pressure: give 0 to 330 bar; for",
        ),
        ("--cylinder 6/300 --pressure nan", "nan bar cannot be"),
        ("--cylinder 6/300 --pressure -1", "-1 bar cannot be"),
        ("--cylinder 6/300 --pressure 300 --objective 301", "--objective: give 0 to 300 bar"),
        ("--cylinder 6/300 --low-air 301", "--low-air: give 0 to 300 bar"),
        ("--cylinder 6/300 --rate 0", "--rate: give 5 to 300 L/min"),
        ("--cylinder 6/300 --temperature 61", "--temperature: give -20 to 60 C"),
        ("--cylinder 6/300 --connected 24:00", "not a time of day: 24:00"),
        ("--cylinder 6/300 6/300 --pressure 3 3 3", "2 given for 3 wearers: --cylinder"),
        ("--cylinder 6/300 --pressure " + "300 " * 21, "at most 20 at once"),
    ],
)
def test_what_cannot_be_is_said(capsys: pytest.CaptureFixture[str], line: str, said: str) -> None:
    assert said in refused(capsys, line, Exit.USAGE)


def test_a_procedure_that_is_not_there(capsys: pytest.CaptureFixture[str]) -> None:
    assert "no such procedure" in refused(capsys, "--cylinder 6/300 --procedure no", Exit.FILE)


def test_seconds_of_connecting_count(capsys: pytest.CaptureFixture[str]) -> None:
    """1800 L at 50 L/min are 36 min: 14:05:30 and 36 min is 14:41:30, shown as 14:41."""
    read = asked(capsys, "--cylinder 6/300 --connected 14:05:30")
    assert read["wearers"][0]["full"]["table_at"] == "14:41"


def test_a_line_for_two_from_two_cylinders(capsys: pytest.CaptureFixture[str]) -> None:
    """2 x 50 L at 200 bar are 20000 L by table; two at 50 L/min need 100: 200 min."""
    read = asked(capsys, "--cylinder 50/200 50/200 --airline 2")
    (one,) = read["wearers"]
    assert (read["on_line"], read["rate_l_min"], one["water_volume_l"]) == (2, 100, 100)
    assert (one["contents_table_l"], one["full"]["table_min"]) == (20_000, 200)
    assert (one["turn_back_bar"], one["turn_back_why"], read["crew"]["turn_back_bar"]) == (
        None,
    ) * 3


def test_on_a_line_the_least_pressure_counts(capsys: pytest.CaptureFixture[str]) -> None:
    read = asked(capsys, "--cylinder 50/200 50/200 --pressure 200 120 --airline 1")
    assert read["wearers"][0]["start_bar"] == 120


def test_a_line_says_what_its_gauge_cannot(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["air", "--cylinder", "50/200", "--airline", "3"]) == Exit.OK
    said = capsys.readouterr().out
    assert "150 L/min for 3 on one line, 50 each" in said
    assert "its gauge does not tell the way back" in said
    assert max(map(len, said.splitlines())) <= 80
