"""A report of some: the golden incident's wearer 4 of crew Alpha 2, beside the whole."""

from collections.abc import Callable
from copy import copy
from dataclasses import replace
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from monitor.cli import main
from monitor.errors import Exit
from monitor.report.alarm_lives import Spell
from monitor.report.part import Part
from monitor.report.reading import Told
from monitor.report.report_page import report
from monitor.report.words import clock
from tests.monitor.report.conftest import GOLDEN

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead

S = 1_000_000_000
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


EVERYTHING = "Everything in order"
STRETCH = 300 * S, 360 * S
"""The sixth minute of the golden incident."""


def test_a_stretch_of_time_has_what_reaches_into_it_whole(
    golden: Told, golden_page: "PageRead", parse: Parse
) -> None:
    """Set beside the whole report by the times in its own tables."""
    start, end = STRETCH
    page = parse("".join(report(golden, UTC, Part(from_ns=start, to_ns=end, when="then"))))
    assert "report of then" in page.words()
    assert "a stay on air, an alarm or an order that does is told whole" in page.words().lower()
    wall = golden.gathered.wall
    first, last = (clock(wall.at(t), UTC) for t in STRETCH)
    lines = page.table(EVERYTHING)
    assert lines == [row for row in golden_page.table(EVERYTHING) if first <= row["time"] <= last]
    assert 0 < len(lines) < len(golden_page.table(EVERYTHING))
    stays = golden_page.table("Each stay on air")
    assert page.table("Each stay on air") == [
        row for row in stays
        if row["connected"] <= last and (row["off air"] >= first or row["off air"][0] == "s")
    ]  # fmt: skip
    assert len(golden.gathered.timeline.lines) > len(lines), "the whole is as it was"


@pytest.mark.parametrize(
    ("start", "end", "told"),
    [(None, 9, False), (None, 10, True), (10, 20, True), (20, None, True), (21, None, False)],
)
def test_what_touches_the_stretch_is_in_it(
    start: int | None, end: int | None, told: bool, golden: Told
) -> None:
    """A stay on air from 10 s to 20 s, both ends included."""
    wear = replace(golden.gathered.wears.all[0], spell=Spell(10, 20))
    wears = copy(golden.gathered.wears)
    wears.all = [wear]
    one = replace(golden, gathered=replace(golden.gathered, wears=wears))
    assert (Part(from_ns=start, to_ns=end).of(one).gathered.wears.all == [wear]) is told


def test_a_stretch_is_named_by_the_clock_or_by_seconds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    line = ["report", str(GOLDEN), "--from", "300", "--until"]
    assert main([*line, "noon"]) == Exit.USAGE
    assert "no such time" in capsys.readouterr().err
    assert main([*line, "299"]) == Exit.USAGE
    assert "nothing is in that time" in capsys.readouterr().err
    assert main([*line, "360", "--alarms"]) == Exit.USAGE
    assert list(tmp_path.iterdir()) == []
    assert main([*line, "360"]) == Exit.OK
