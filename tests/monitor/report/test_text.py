"""Blocks as lines."""

from monitor.report.blocks import Chart, Facts, Heading, Section, Table, Text
from monitor.report.html import Page
from monitor.report.text import shared_out, text


def test_every_block_is_said_and_a_chart_is_left_out() -> None:
    blocks = (
        Heading("first"),
        Text("[bold]as it is :smile:"),
        Facts("", (("links", "1"),)),
        Table("people", ("who", "where"), (("1 Alpha", "loft"),)),
        Table("orders", ("what",), (), "none stands"),
        Chart("<svg/>"),
    )
    page = Page("Kiln Lane", "EXERCISE", True, "now", "Take care.", (Section("a", "All", blocks),))
    said = text(page, 40)
    assert said.splitlines() == [
        "EXERCISE",
        "Kiln Lane",
        "now",
        "Take care.",
        "",
        "ALL",
        "first",
        "[bold]as it is :smile:",
        "links  1",
        "people",
        "+--------+------+",
        "|who     | where|",
        "+--------+------+",
        "|1 Alpha | loft |",
        "+--------+------+",
        "orders: none stands",
        "",
        "EXERCISE",
    ]


def test_no_word_is_broken_while_there_is_room_for_it() -> None:
    """11 + 8 + 12 cells, 8 beside them: 39 are enough; else the first is told in two lines."""
    head = ("what came", "at", "why")
    rows = (("caught here", "21:19:52", "uncontrolled loss of pressure"),)
    page = Page("", "", True, "", "", (Section("a", "All", (Table("t", head, rows),)),))
    words = ["caught here", "21:19:52", "uncontrolled"]
    said = text(page, 39)
    assert all(word in said for word in words)
    assert max(len(line) for line in said.splitlines()) <= 39
    assert all(word in text(page, 35) for word in ["caught", "here", *words[1:]])
    assert not all(word in text(page, 33) for word in ["caught", "here", *words[1:]])


def test_what_is_left_goes_where_the_longest_cell_lacks_most() -> None:
    columns = [["one"], ["aa bb"], ["cc dd ee ff"]]
    assert shared_out(columns, 30) is None, "3 + 5 + 11 fit"
    assert shared_out(columns, 6) == [2, 2, 2], "3 + 2 + 2 do not fit: the widest gives way"
    assert shared_out(columns, 0) == [1, 1, 1], "a column is never nothing"
    assert shared_out([["one two"], *columns[1:]], 7) == [3, 2, 2], "7 + 2 + 2 do not fit"
    assert shared_out(columns, 7) == [3, 2, 2]
    assert shared_out(columns, 9) == [3, 2, 4], "11 : 2 lacks more than 5 : 2, and 11 : 3 too"


def test_a_figure_is_not_parted_from_its_unit() -> None:
    """8 + 7 cells, "188 bar" for the second; 5 + 3 would part it."""
    assert shared_out([["a wearer"], ["188 bar (estimate)"]], 15) == [6, 9], "(estimate) is wider"
    assert shared_out([["a wearer"], ["188 bar", "1 min 15 s"]], 15) == [8, 7]
