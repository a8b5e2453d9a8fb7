"""Tables as spreadsheets write them: what is tolerated, and where a fault is said to be."""

import pytest

from monitor import roster_csv
from monitor.errors import BadFile
from monitor.roster_csv import Row, Sheet, letters

KNOWN = ("name", "call_sign", "leader", "water_volume_l")


def read(text: str) -> Sheet:
    return roster_csv.read("x.csv", text, KNOWN, ("water_volume_l",))


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_what_spreadsheets_write(delimiter: str, end: str, mark: str) -> None:
    lines = [["name", "call_sign"], ["J. Kerf", "Alpha 1-1"], ["", ""], ["K. Batt"]]
    text = mark + end.join(delimiter.join(cells) for cells in lines) + end
    sheet = read(text)
    assert sheet.columns == ("name", "call_sign")
    assert sheet.rows == (
        Row(2, {"name": "J. Kerf", "call_sign": "Alpha 1-1"}),
        Row(4, {"name": "K. Batt"}),
    )


@pytest.mark.parametrize("header", ["Call sign", "call_sign", " CALL-SIGN ", "Call  Sign"])
def test_capitals_and_blanks_in_a_column_name_do_not_matter(header: str) -> None:
    assert read(f"name;{header}\nA;x").columns == ("name", "call_sign")


def test_a_quoted_cell_holds_what_parts_cells_and_lines() -> None:
    text = 'name,call_sign\n"Batt, K.","a ""b"""\n"two\nlines",c\nlast,d\n'
    assert read(text).rows == (
        Row(2, {"name": "Batt, K.", "call_sign": 'a "b"'}),
        Row(3, {"name": "two lines", "call_sign": "c"}),
        Row(5, {"name": "last", "call_sign": "d"}),
    )


def test_a_decimal_comma_where_commas_do_not_part_cells() -> None:
    assert read("name;water_volume_l\nA;6,8").rows[0].cells["water_volume_l"] == "6.8"
    assert read('name,water_volume_l\nA,"6,8"').rows[0].cells["water_volume_l"] == "6,8"


def test_names_of_every_script_and_without_marks_of_direction() -> None:
    """Unicode 15: U+200F and U+202B tell direction, U+200C joins nothing, U+00A0 is a blank."""
    text = "name\n\u202bדנה לבן\u202c\n窯焼 次郎\nA.\u00a0Quoin\u200f\nسر\u200cدر\n"
    names = [row.cells["name"] for row in read(text).rows]
    assert names == ["דנה לבן", "窯焼 次郎", "A. Quoin", "سردر"]
    assert all(name.isprintable() for name in names)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", r"empty: x\.csv: the first line names columns: name, call_sign"),
        ("\n\n", "empty"),
        ("name,hat\nA,b", r"unknown column hat: x\.csv:1: column B: columns are: name"),
        ("a,b\n", r"unknown column a: x\.csv:1: column A"),
        ("name,,leader\n", r"a column without a name: x\.csv:1: column B"),
        ("name,Name\n", r"column name is there twice: x\.csv:1: column B"),
        ("name,leader\nA,yes,x\n", r"more cells than .*: x: x\.csv:2: column C: put cells"),
        ('name\n"A\n', r"not CSV: .*: x\.csv: save it"),
        ("name\n" + "A" * 2_001, "not CSV: a cell of more than 2000"),
        ("name\n" + "A\n" * 10_001, r"too many people: x\.csv:10002: at most 10000"),
    ],
)
def test_a_fault_is_told_with_its_place(text: str, said: str) -> None:
    with pytest.raises(BadFile, match=said):
        read(text)


def test_columns_at_the_end_without_a_name_or_cells_are_nothing() -> None:
    sheet = read("name,leader,,\nA,yes,,\n")
    assert sheet.columns == ("name", "leader")
    assert sheet.at(2, "leader") == "x.csv:2: leader (column B)"
    assert sheet.at(2) == "x.csv:2"


def test_letters_of_columns_as_a_spreadsheet_has_them() -> None:
    assert [letters(n) for n in (0, 25, 26, 27, 51, 52, 701, 702)] == [
        "A", "Z", "AA", "AB", "AZ", "BA", "ZZ", "AAA",
    ]  # fmt: skip
