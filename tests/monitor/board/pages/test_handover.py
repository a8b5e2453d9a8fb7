"""The page for the next officer, from pictures made by hand: 2025-03-14 14:32:07 UTC."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import UTC
from typing import Any

import html5lib
import pytest
from rich.cells import cell_len

from monitor.board.pages.handover import CAUTION, handover
from monitor.incident.picture import NextMark, Phase, Signal
from monitor.report.blocks import Block, Facts, Table, Text
from monitor.report.html import page
from monitor.report.text import text

S = 1_000_000_000


def made(picture: Any, air_of: Any = lambda _wearer: None) -> dict[str, list[Block]]:
    """The blocks of each section."""
    sections = handover(picture, air_of, "3d58 7461", UTC).sections
    return {section.name: list(section.blocks) for section in sections}


def rows(blocks: Iterable[Block], caption: str) -> list[dict[str, str]]:
    (table,) = (b for b in blocks if isinstance(b, Table) and b.caption.startswith(caption))
    return [dict(zip(table.head, row, strict=True)) for row in table.rows]


def people(picture: Any, air_of: Any = lambda _wearer: None) -> list[dict[str, str]]:
    """Both rows of everybody who is in, as one."""
    said = made(picture, air_of)["under-air"]
    return [a | b for a, b in zip(rows(said, "Who"), rows(said, "Their"), strict=True)]


def test_who_is_in_with_the_last_reading_and_its_time(scenes: Any) -> None:
    first = people(scenes.quiet())[0]
    assert first["wearer"] == "1 Alpha 1-1 (Wearer 1)"
    assert first["crew"] == "Alpha 1 (leader)"
    assert first["on air since"] == "14:14:07"  # 1,080 s before
    assert (first["air"], first["read at"]) == ("188 bar", "14:32:06")
    assert first["turn at"] == "143 bar"  # 142.1, never rounded to less
    assert first["warning at"] == "105 bar"
    assert first["last place"] == "unknown: ask"


def test_an_estimate_is_none_of_a_reading(scenes: Any) -> None:
    silent = people(scenes.trouble())[5]
    assert silent["air"] == "201 bar (estimate, falling; read 201 bar)"
    assert silent["read at"] == "14:30:55"  # 72 s before
    assert (silent["state"], silent["link"]) == ("NO SIGNAL", "no signal")


def test_a_place_says_since_when(scenes: Any) -> None:
    """Last told at 780 s before 14:32:07."""
    assert people(scenes.trouble())[3]["last place"] == "stairs, floor 2 (14:19:07)"


def test_out_of_reach_of_any_word_it_says_unknown(scenes: Any) -> None:
    nothing = scenes.picture((scenes.wearer(1, None),))
    (row,) = people(nothing)
    assert (row["air"], row["read at"]) == ("unknown: ask", "no reading")
    assert row["expected at the earliest"] == "unknown: ask"


def expected(scenes: Any, bar: float, **changes: Any) -> str:
    picture = scenes.picture((scenes.wearer(4, bar),))
    detail = scenes.detail(4, **changes)
    return people(picture, lambda _wearer: detail)[0]["expected at the earliest"]


@pytest.mark.parametrize(
    ("seconds", "said"), [(180, "14:35:07"), (1, "14:32:08"), (0, "NOW"), (-20, "NOW")]
)
def test_the_warning_is_expected_when_the_board_says(scenes: Any, seconds: int, said: str) -> None:
    """So long after 14:32:07."""
    assert expected(scenes, 147, low=NextMark("low", seconds, "F")) == said


def test_where_nothing_tells_it_says_unknown(scenes: Any) -> None:
    assert expected(scenes, 147, low=None) == "unknown: ask"


def test_a_warning_that_sounds_is_now(scenes: Any) -> None:
    assert expected(scenes, 105) == "NOW"


def test_what_is_due_within_ten_minutes(scenes: Any) -> None:
    put_aside = (scenes.put_aside(9, "NO SIGNAL", "6 Alpha 3-2"),)
    later = (scenes.put_aside(10, "SENSOR", "2 Alpha 1-2", 601),)
    picture = replace(scenes.trouble(), roll_call_in_ns=-5 * S, put_aside=put_aside + later)
    due = [(row["at the earliest"], row["what"]) for row in rows(made(picture)["due"], "In order")]
    assert due[0] == ("NOW", "roll call")
    # (147 - 142.1) / 0.115 = 42 s
    assert due[1] == ("14:32:49", "4 Alpha 2-2 (Wearer 4): must start back")
    assert ("14:42:07", "NO SIGNAL, 6 Alpha 3-2: comes back") in due
    assert any(what.endswith("must start back, by estimate") for _, what in due)
    assert any(what.endswith("nothing left to breathe") for _, what in due)
    assert not any("SENSOR" in what for _, what in due)
    assert not any(what.startswith("3 ") for _, what in due)  # 233 bar: 790 s


def test_alarms_that_stand_and_are_put_aside(scenes: Any) -> None:
    put_aside = (scenes.put_aside(9, "NO SIGNAL", "6 Alpha 3-2"),)
    said = made(replace(scenes.trouble(), put_aside=put_aside))["alarms"]
    alarms = rows(said, "Alarms")
    assert [(row["alarm"], row["taken"]) for row in alarms] == [
        ("MOTION ALARM", "NO"), ("LOW AIR", "yes"), ("NO SIGNAL", "NO"),
    ]  # fmt: skip
    assert alarms[0]["since"] == "14:31:33"
    (aside,) = rows(said, "Put aside")
    assert (aside["comes back at"], aside["why"]) == ("14:42:07", "crew told")


def test_an_order_tells_every_answer(scenes: Any) -> None:
    said = made(scenes.evacuation())
    (table,) = said["orders"]
    assert isinstance(table, Table)
    assert table.caption == (
        "evacuate, given at 14:31:33 by R. Harrow: answered 4 of 6, out 1, left out as committed 2"
    )
    lines = {row["wearer"][0]: row for row in rows(said["orders"], "evacuate")}
    assert lines["6"]["pack received"] == "no"
    assert (lines["4"]["pack received"], lines["4"]["by button"]) == ("after 2 s", "no")
    assert (lines["7"]["by voice"], lines["7"]["out"]) == ("after 20 s", "no")
    assert lines["8"]["out"] == "after 31 s"
    assert lines["1"]["out"] == "COMMITTED"
    (crew,) = rows(said["help"], "Emergency crews")
    assert (crew["crew"], crew["state"], crew["wearers"]) == ("Alpha 1", "committed", "1, 2")


def test_no_order_and_nobody_to_help_are_said(scenes: Any) -> None:
    said = made(scenes.quiet())
    assert said["orders"] == [Text("No order stands.")]
    assert "Emergency crews: NONE" in text(handover(scenes.quiet(), lambda _: None, "", UTC), 120)


@pytest.mark.parametrize("signal", [Signal.NONE, Signal.BY_VOICE, Signal.NEVER, Signal.LOST])
def test_whom_no_order_reaches_is_listed(scenes: Any, signal: Signal) -> None:
    quiet = scenes.quiet()
    silent = replace(quiet.wearers[0], signal=signal)
    said = made(replace(quiet, wearers=(silent, *quiet.wearers[1:])))["help"]
    assert [row["wearer"] for row in rows(said, "Reached by voice only")] == [
        "1 Alpha 1-1 (Wearer 1)"
    ]


def test_who_is_out_but_not_off_air_stands_out(scenes: Any) -> None:
    quiet = scenes.quiet()
    out = replace(quiet.wearers[0], phase=Phase.OUT, under_air=False)
    said = made(replace(quiet, wearers=(out, *quiet.wearers[1:])))["others"]
    (row,) = rows(said, "Checked in or out")
    assert row["to note"] == "NOT OFF AIR YET"
    assert row["last reading"] == "188 bar (14:32:06)"


def test_who_is_off_air_without_telemetry_left_with_what_was_read_out(scenes: Any) -> None:
    quiet = scenes.quiet()
    one = quiet.wearers[0]
    air = replace(one.air, reading_bar=None, pressure_bar=None)
    off = replace(one, phase=Phase.OFF_AIR, under_air=False, air=air, left_bar=97.6)
    said = made(replace(quiet, wearers=(off, *quiet.wearers[1:])))["others"]
    (row,) = rows(said, "Checked in or out")
    assert row["last reading"] == "97 bar at off air"


def test_the_base_and_what_is_to_be_written_in(scenes: Any) -> None:
    said = made(scenes.trouble())
    (base,), (by_hand,) = said["base"], said["by-hand"]
    assert isinstance(base, Facts)
    assert isinstance(by_hand, Facts)
    assert ("packs", "OPEN: NOT AUTHENTICATED") in base.rows
    assert ("packs of nobody", "4799") in base.rows
    assert ("digest of the journal", "3d58 7461") in base.rows
    lines = {row[0] for row in by_hand.rows}
    assert {"cylinders left", "handed over by", "taken over by"} <= lines


@pytest.mark.parametrize("width", [100, 132])
def test_as_text_it_keeps_its_width_and_says_what_it_is(scenes: Any, width: int) -> None:
    odd = scenes.wearer(1, 188, call_sign="阿尔法 1-1", name="Żółć " * 20)
    for picture in (scenes.evacuation(), scenes.picture((odd,)), scenes.many(60)):
        lines = text(handover(picture, scenes.detail, "3d58", UTC), width).splitlines()
        assert max(map(cell_len, lines)) <= width
        assert lines[0] == lines[-1] == "EXERCISE"
        assert "not a certified safety device" in CAUTION
        assert lines[3].startswith("An aid, not a certified safety device.")


def test_as_a_page_it_is_valid_and_no_name_is_markup(scenes: Any) -> None:
    sly = scenes.wearer(1, 188, name="<script>alert(1)</script>")
    content = handover(scenes.picture((sly,)), lambda _: None, "3d58", UTC)
    assert "188 bar" in text(content, 100)
    said = "".join(page(content))
    assert "188 bar" in said  # the one does not use up the other
    html5lib.HTMLParser(strict=True).parse(said)
    assert "<script" not in said


def test_an_alarm_of_several_names_everybody_by_number(scenes: Any) -> None:
    quiet = scenes.quiet()
    group = scenes.alarm(
        9, quiet.wearers[0], "SEVERAL SILENT", wearers=(1, 2, 3, 4, 5, 6, 7, 8), subject="8 of 8"
    )
    one = scenes.alarm(10, quiet.wearers[0], "NO SIGNAL")
    found = rows(made(replace(quiet, alarms=(group, one)))["alarms"], "Alarms")
    assert [row["who"] for row in found] == [
        "8 of 8 (wearers 1, 2, 3, 4, 5, 6, 7, 8)",
        "1 Alpha 1-1",
    ]
