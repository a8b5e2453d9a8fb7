import re
from datetime import UTC
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.report.blocks import Chart
from monitor.report.reading import Told
from monitor.report.sections.overview import BARS_MAX, overview
from monitor.report.teller import Teller

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.monitor.report.conftest import PageRead, Raw, Tale

S = 1_000_000_000


def clock(t: int) -> str:
    """22:13:20 and so many seconds."""
    seconds = 22 * 3600 + 13 * 60 + 20 + t // S
    return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"


def test_each_stay_of_the_golden_journal(golden_page: "PageRead", raw: "Raw") -> None:
    rows = {row["wearer"]: row for row in golden_page.table("Each stay on air")}
    assert len(rows) == 8
    for what, column in (
        ("connect", "connected"), ("enter", "entered"), ("come_out", "out"), ("off_air", "off air"),
    ):  # fmt: skip
        at = {n: t for t, one in raw.said(2, what) for n in one["wearers"]}
        assert {row[column] for name, row in rows.items() if "(4)" in name} == {clock(at[4])}
    start = {n: t for t, one in raw.said(2, "connect") for n in one["wearers"]}
    end = {n: t for t, one in raw.said(2, "off_air") for n in one["wearers"]}
    minutes, seconds = divmod((end[4] - start[4]) // S, 60)
    assert rows["Alpha 2-2 (4)"]["wearing time"] == f"{minutes} min {seconds} s"


def test_alarms_stand_with_everybody_they_are_about(golden_page: "PageRead", raw: "Raw") -> None:
    said: dict[int, set[str]] = {}
    for _, one in raw.said(4):
        for wearer in one["wearers"]:
            said.setdefault(wearer, set()).add(str(one["number"]))
    for row in golden_page.table("Each stay on air"):
        number = int(row["wearer"].rpartition("(")[2].rstrip(")"))
        assert said.get(number, set()) <= set(row["alarms"].split())


def test_everybody_is_on_the_same_axis_of_time(tale: "Tale", tell: "Callable[..., Told]") -> None:
    """More than fit on one drawing; the last connects an hour after the first. By crews."""
    count = BARS_MAX + 1
    for wearer in range(1, count + 1):
        crew = f"Alpha {1 + wearer % 11}"
        tale.act(0, events.ListWearer, wearer=wearer, name=f"W. Clay {wearer}", crew=crew)
        tale.act(0, events.JoinPack, wearer=wearer)
    for wearer in range(1, count + 1):
        tale.act(wearer * 90, events.Connect, wearers=(wearer,), pressure_bar=290)
        tale.act(wearer * 90 + 1, events.OffAir, wearers=(wearer,))
    teller = Teller(tell(tale, 4_000), UTC)
    drawings = [b.svg for b in overview(teller).blocks if isinstance(b, Chart)]
    first, second = (re.findall(r">(\d\d:\d\d)<", svg) for svg in drawings)
    assert first == second
    rows = re.findall(r">(?:Alpha \d+, )?W\. Clay \d+ \((\d+)\)<", "".join(drawings))
    by_crew = sorted(range(1, count + 1), key=lambda n: ((n - 1) % 11, n))
    assert sorted(map(int, rows)) == sorted(by_crew)
    assert [int(row) for row in rows[:4]] == by_crew[:4]


def test_who_was_never_on_air(evening_page: "PageRead") -> None:
    assert [row["wearer"] for row in evening_page.table("On the board, never on air")] == [
        "Alpha 3 (3)",
        "Alpha 4 (4)",
        "Q. <Stamp> & $on$ (5)",
    ]


def test_who_is_still_on_air_has_a_pressure_at_the_end_too(
    tale: "Tale", tell: "Callable[..., Told]", read_page: "Callable[[Told], PageRead]"
) -> None:
    """The last frame, at 30 s, says 250; the record ends two seconds later."""
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    for second in range(5, 32, 5):
        tale.hear(second, bar=280.0 - second)
    (row,) = read_page(tell(tale, 32)).table("Each stay on air")
    assert row["pressure at the end"] == "250 bar, still on air"
