from typing import TYPE_CHECKING

from monitor import procedures

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead


def test_every_value_of_the_procedure_with_its_source(golden_page: "PageRead") -> None:
    """The golden journal was recorded by the plain procedure."""
    rows = golden_page.table("The procedure")
    plain = procedures.load("plain")
    by_name = {row["rule"]: row for row in rows if row["value"] != "not given"}
    rate = by_name["planning rate"]
    assert (rate["value"], rate["unit"]) == ("50", "litres a minute")
    assert rate["source"] == plain.sources["planning_rate_l_min"]
    assert (by_name["low air"]["value"], by_name["low air"]["unit"]) == ("0.35", "share")
    assert by_name["lone entrant allowed"]["value"] == "no"
    assert by_name["word for, crew"]["value"] == "crew"
    told = {row["rule"] for row in rows}
    fields = set(type(plain).model_fields) - {"sources", "name", "title"}
    assert len(told) >= len(fields) - 6  # fields that differ in their unit alone share a name


def test_no_value_is_told_as_a_program_writes_it(golden_page: "PageRead") -> None:
    values = {row["value"] for row in golden_page.table("The procedure")}
    assert not values & {"None", "True", "False", "{}", "()"}


def test_constants_have_their_source(golden_page: "PageRead") -> None:
    rows = {row["constant"]: row for row in golden_page.table("Constants of the program")}
    assert rows["signal gap"]["value"] == "3 report intervals and 1 second without a frame"
    assert all(row["source"] for row in rows.values())
