"""Two boards of one operation, told by hand: what stands where on the one axis of time."""

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from monitor.cli import main
from monitor.errors import Exit
from monitor.incident import events
from monitor.incident.orders.events import GiveOrder
from monitor.report.html import page
from monitor.report.operation import CLOCKS, operation
from monitor.report.reading import Told
from tests.monitor.report.conftest import GOLDEN, WALL_NS, S

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Tale

Parse = Callable[[str], "PageRead"]


def later(told: Told, by_s: int, name: str) -> Told:
    """The same board opened so much later by its clock, at another door."""
    found = told.gathered
    assert found.opened is not None
    opened = found.opened.model_copy(update={"entry_point": name})
    wall = type(found.wall)()
    wall.note(0, WALL_NS + by_s * S)
    return replace(told, name=f"{name}.journal", gathered=replace(found, opened=opened, wall=wall))


@pytest.fixture
def two(tale: "Tale", tell: Any) -> list[Told]:
    """The same five minutes at door A from 22:13:20, at door B one minute later."""
    tale.person(1)
    tale.act(10, events.Connect, wearers=(1,), pressure_bar=290)
    tale.act(20, events.Enter, wearers=(1,))
    tale.hear(25)
    tale.hear(30, distress=True)
    tale.act(90, GiveOrder, order="evacuate", everybody=True, scope="everybody")
    tale.act(120, events.ComeOut, wearers=(1,))
    tale.act(130, events.OffAir, wearers=(1,))
    told = tell(tale, 300)
    return [later(told, 60, "B"), later(told, 0, "A")]


@pytest.fixture
def told_page(two: list[Told], parse: Parse) -> "PageRead":
    return parse("".join(page(operation(two, UTC))))


def test_boards_stand_in_order_of_opening(told_page: "PageRead") -> None:
    rows = told_page.table("In order of opening")
    assert [row["board"] for row in rows] == ["Kiln Lane, A", "Kiln Lane, B"]
    assert [row["opened"] for row in rows] == ["2023-11-14 22:13:20", "2023-11-14 22:14:20"]
    assert [row["stays on air"] for row in rows] == ["1", "1"]
    assert CLOCKS in told_page.words()


def test_stays_orders_and_dangers_of_both_are_in_one_order(told_page: "PageRead") -> None:
    """10 s, 90 s and 30 s after each opening: 22:13:20 and 22:14:20."""
    stays = told_page.table("Each stay on air")
    assert [(row["connected"], row["board"]) for row in stays] == [
        ("22:13:30", "Kiln Lane, A"), ("22:14:30", "Kiln Lane, B"),
    ]  # fmt: skip
    orders = told_page.table("Every order, the first to be given first")
    assert [(row["given"], row["board"]) for row in orders] == [
        ("22:14:50", "Kiln Lane, A"), ("22:15:50", "Kiln Lane, B"),
    ]  # fmt: skip
    dangers = told_page.table("Every danger, the first to be raised first")
    calls = [(row["raised"], row["board"]) for row in dangers if "DISTRESS" in row["alarm"]]
    assert calls == [("22:13:50", "Kiln Lane, A"), ("22:14:50", "Kiln Lane, B")]


def test_the_time_lines_are_one(told_page: "PageRead", two: list[Told]) -> None:
    rows = told_page.table("By the clocks of the bases")
    times = [row["time"] for row in rows]
    assert times == sorted(times)
    assert len(rows) == 2 * len(two[0].gathered.timeline.lines)
    boards = [row["board"] for row in rows]
    assert boards != sorted(boards), "what B did stands among what A did"


def test_two_of_one_name_are_told_apart_by_their_journals(two: list[Told]) -> None:
    first, second = two
    same = replace(second, name="other.journal", gathered=first.gathered)
    text = "".join(page(operation([first, same], UTC)))
    assert "Kiln Lane, B (B.journal)" in text
    assert "Kiln Lane, B (other.journal)" in text


def test_a_board_on_which_nobody_was_is_told_too(
    new_tale: "type[Tale]", tell: Any, parse: Parse
) -> None:
    empty = tell(new_tale(), 5)
    told = parse("".join(page(operation([empty, later(empty, 60, "B")], UTC))))
    assert "nobody connected to air" in told.words()
    assert "none was given" in told.words()


def test_the_command_takes_several(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    other = tmp_path / "other.journal"
    other.write_bytes(GOLDEN.read_bytes())
    assert main(["report", str(GOLDEN), str(GOLDEN)]) == Exit.USAGE
    assert "it is named twice" in capsys.readouterr().err
    assert main(["report", str(GOLDEN), str(other), "--wearer", "4"]) == Exit.USAGE
    assert "several journals are told as a whole" in capsys.readouterr().err
    assert main(["report", str(GOLDEN), str(other)]) == Exit.OK
    assert (tmp_path / "kiln-lane-and-1-more.html").exists()
    assert main(["report", str(GOLDEN), str(other)]) == Exit.ALREADY_THERE
