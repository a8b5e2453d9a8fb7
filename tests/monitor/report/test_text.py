"""Blocks as lines."""

from monitor.report.blocks import Chart, Facts, Heading, Section, Table, Text
from monitor.report.html import Page
from monitor.report.text import text


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
