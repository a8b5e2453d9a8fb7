"""``outby roster``: shown, converted, saved from a board, in one line where it is wrong."""

import stat
from pathlib import Path

import pytest

import shared
from monitor import roster
from monitor.cli import main
from monitor.cli.roster import counted, shown
from monitor.errors import Exit
from monitor.roster import Person, Roster

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


def test_a_roster_is_shown_as_a_table(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["roster", "kiln-lane"]) == Exit.OK
    lines = capsys.readouterr().out.splitlines()
    assert lines[:2] == ["Kiln Lane", "8 people, 4 crews, 8 packs"]
    assert lines[3].split() == [
        "no", "name", "call_sign", "crew", "leader", "pack", "water_volume_l", "rated_bar",
    ]  # fmt: skip
    assert " ".join(lines[4].split()) == "1 A. Quoin Alpha 1-1 Alpha 1 yes 101 6.8 300"


def test_wide_letters_keep_their_columns() -> None:
    people = Roster(people=(Person(name="窯焼 次郎", crew="A"), Person(name="B. Hod", crew="A")))
    lines = list(shown(people))
    # Four wide letters and a blank are nine cells; a line has four letters fewer than cells.
    assert lines[-2].index("A") == lines[-1].index("A") - 4
    assert counted(people) == "2 people, 1 crew, 0 packs"


def test_to_a_table_and_back(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    table, back = tmp_path / "a.csv", tmp_path / "b.toml"
    assert main(["roster", "kiln-lane", "-o", str(table)]) == Exit.OK
    assert "no place for the title: Kiln Lane" in capsys.readouterr().out
    assert main(["roster", str(table), "-o", str(back)]) == Exit.OK
    assert roster.load(str(back)).people == roster.load("kiln-lane").people
    assert stat.S_IMODE(back.stat().st_mode) == 0o600


def test_who_is_on_a_board_is_saved(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The journal was opened with the roster of the same name; nobody was changed in it."""
    saved = tmp_path / "saved.toml"
    assert main(["roster", GOLDEN, "-o", str(saved)]) == Exit.OK
    assert capsys.readouterr().out == f"{saved}: 8 people, 4 crews, 8 packs\n"
    assert roster.load(str(saved)) == roster.load("kiln-lane")


def test_a_journal_is_found_in_the_incidents_folder(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    (tmp_path / "tonight.journal").write_bytes(Path(GOLDEN).read_bytes())
    for said in ("tonight", "tonight.journal"):
        assert main(["roster", said, "--incidents-folder", str(tmp_path)]) == Exit.OK
        assert capsys.readouterr().out.startswith("Kiln Lane\n8 people")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["no-such"], Exit.FILE, "no such roster: no-such: give a path, or one of: kiln-lane"),
        (["kiln-lane", "-o", "x.xls"], Exit.USAGE, "a roster is TOML or CSV: x.xls"),
    ],
)
def test_one_line_says_what_is_wrong(
    capsys: pytest.CaptureFixture[str], words: list[str], code: Exit, said: str
) -> None:
    assert main(["roster", *words]) == code
    assert capsys.readouterr().err.startswith(f"outby: {said}")


def test_nothing_is_written_over(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    there = tmp_path / "there.toml"
    there.write_text("mine")
    assert main(["roster", "kiln-lane", "-o", str(there)]) == Exit.ALREADY_THERE
    assert "there is a file already" in capsys.readouterr().err
    assert there.read_text() == "mine"
