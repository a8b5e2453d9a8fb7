from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Raw

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


def test_who_was_never_on_air(evening_page: "PageRead") -> None:
    assert [row["wearer"] for row in evening_page.table("On the board, never on air")] == [
        "Alpha 3 (3)",
        "Alpha 4 (4)",
        "Q. <Stamp> & $on$ (5)",
    ]
