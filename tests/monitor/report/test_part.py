"""A report of some: the golden incident's wearer 4 of crew Alpha 2, beside the whole."""

from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from monitor.cli import main
from monitor.errors import Exit
from monitor.report.part import Part
from monitor.report.reading import Told
from monitor.report.report_page import report
from tests.monitor.report.conftest import GOLDEN

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead

Parse = Callable[[str], "PageRead"]


def heads(page: "PageRead") -> list[str]:
    return ["".join(e.itertext()) for e in page.all("h3") if (e.get("id") or "").startswith("wear")]


def test_one_wearer_has_all_that_the_whole_report_has_of_them(
    golden: Told, golden_page: "PageRead", parse: Parse
) -> None:
    page = parse("".join(report(golden, UTC, Part((4,)))))
    assert heads(page) == ["Alpha 2-2 (4)"]
    nth = heads(golden_page).index("Alpha 2-2 (4)")
    assert page.table("Entries") == golden_page.table("Entries", nth)
    assert page.facts("What is recorded") == golden_page.facts("What is recorded", nth)
    (row,) = page.table("Each stay on air")
    assert row in golden_page.table("Each stay on air")
    words = page.words()
    assert "report of wearer 4" in words
    assert "This is a part of the report" in words
    assert "The incident is not closed." in words
    assert "Alpha 1-1" not in words


def test_a_crew_is_all_of_its_wears(golden: Told, parse: Parse) -> None:
    page = parse("".join(report(golden, UTC, Part(crews=("Alpha 2", "Alpha 3")))))
    assert {row["crew"] for row in page.table("Each stay on air")} == {"Alpha 2", "Alpha 3"}
    assert len(golden.gathered.wears.all) == 8, "the whole is as it was"


def test_who_is_nobody_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    line = ["report", str(GOLDEN), "--wearer", "99", "--crew", "Omega"]
    assert main(line) == Exit.USAGE
    assert "nobody on this board is so: wearer 99, crew Omega" in capsys.readouterr().err
    assert main(["report", str(GOLDEN), "--wearer", "4", "--alarms"]) == Exit.USAGE
    assert "the alarms are told of everybody" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
    assert main(["report", str(GOLDEN), "--wearer", "4"]) == Exit.OK
