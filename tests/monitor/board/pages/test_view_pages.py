"""Pages to look at: what is told, that nothing is lost over pages, and that nothing rounds up."""

from dataclasses import replace
from datetime import UTC
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.keys.table import View
from monitor.board.pages.view_pages import view_page
from monitor.board.sheets.common import LogEntry
from monitor.board.words.marks import Role
from monitor.incident.picture import (
    AfterUseView,
    AreaView,
    CheckLine,
    ChecksView,
    CylinderView,
    DefectView,
    LinkView,
    Phase,
    Picture,
    Priority,
    ReliefView,
    Signal,
    UnjoinedView,
)

S = 1_000_000_000
MINUTE = 60 * S


@pytest.fixture
def picture(scenes: Any) -> Picture:
    trouble = scenes.trouble()
    listed = replace(trouble.wearers[6], phase=Phase.LISTED, under_air=False)
    made: Picture = replace(
        trouble,
        wearers=(*trouble.wearers[:6], listed, trouble.wearers[7]),
        unjoined=(
            UnjoinedView(4800, None, 40 * S, Signal.HEARD),
            UnjoinedView(4801, 280.9, S, Signal.HEARD, lit=True),
        ),
        checks=(
            ChecksView(1, (CheckLine("full", "passed", "290 of 300 bar, at least 270"),), True),
            ChecksView(
                2,
                (
                    CheckLine("warnings", "open", "motion not tried"),
                    CheckLine("full", "failed", "260 of 300 bar, at least 270"),
                    CheckLine("battery", "passed", "80 %"),
                ),
                False,
            ),
        ),
        areas=(AreaView("kiln hall", "searched", (3, 4), 1_400 * S, "R. Harrow"),),
        reliefs=(
            ReliefView("Alpha 2", "Alpha 3", -61 * S),
            ReliefView("Alpha 1", "", 119 * S),
        ),
        defects=(DefectView("S-17", "leaks", S, "R. Harrow"),),
        to_fill=(CylinderView("C-4", 80.9, 1), CylinderView("C-5", None, 2)),
        after_use=(AfterUseView(8, ("bled", "made ready")),),
        links=(
            LinkView(1, "udp", up=True, detail=""),
            LinkView(2, "serial", up=False, detail="gone"),
        ),
    )
    return made


def texts(view: View, picture: Picture, look: Any, room: int = 60, **more: Any) -> list[str]:
    look = replace(look, zone=UTC)
    page = view_page(view, picture, look, room, more.pop("page", 0), **more)
    return ["".join(text for text, _ in line).rstrip() for line in page.lines]


def test_check_in_says_who_is_heard_who_waits_and_what_is_missing(
    picture: Picture, scenes: Any
) -> None:
    told = texts(View.CHECK_IN, picture, scenes.look(120))
    assert told[1:4] == [
        "pack 4801  280 bar  heard 1 s ago  nobody's  HERE",
        "pack 4800  air ? bar  heard 40 s ago  nobody's",
        "",
    ]
    assert "not here yet: 7 Alpha 4-1" in told
    assert "1 Alpha 1-1  checks complete" in told
    missing = "warnings open (motion not tried), full FAILED (260 of 300 bar, at least 270)"
    assert f"2 Alpha 1-2  missing: {missing}" in told


def test_what_was_ticked_stands_there_when_all_is_complete(picture: Picture, scenes: Any) -> None:
    line = CheckLine("full", "by hand", "short job; 200 of 300 bar, at least 270")
    ticked = replace(picture, checks=(ChecksView(1, (line,), complete=True),))
    told = "1 Alpha 1-1  checks complete, full by hand (short job; 200 of 300 bar, at least 270)"
    assert told in texts(View.CHECK_IN, ticked, scenes.look(120))


def test_whoever_presses_the_button_is_lit(picture: Picture, scenes: Any) -> None:
    page = view_page(View.CHECK_IN, picture, scenes.look(120), 60, 0)
    roles = {line[0][0].split()[1]: line[0][1] for line in page.lines[1:3]}
    assert roles == {"4801": Role.STRONG, "4800": Role.QUIET}


def test_alarms_with_what_to_do(picture: Picture, scenes: Any) -> None:
    told = texts(View.ALARMS, picture, scenes.look(120))
    assert told[1] == "MOTION ALARM  4 Alpha 2-2  NEW  34 s"
    assert "call the crew; emergency crew; tell command" in told[2]
    assert (
        texts(View.ALARMS, replace(picture, alarms=(), put_aside=()), scenes.look())[1]
        == "no alarm"
    )


def test_an_alarm_says_whether_it_waits_and_whether_it_is_over(
    picture: Picture, scenes: Any
) -> None:
    first = replace(picture.alarms[0], to_do="Call the crew.", detail="still for 34 s")

    def head(**changes: Any) -> list[str]:
        shown = replace(picture, alarms=(replace(first, **changes),), put_aside=())
        return texts(View.ALARMS, shown, scenes.look(120))[1:3]

    assert head() == [
        "MOTION ALARM  4 Alpha 2-2  NEW  34 s",
        "    Call the crew.  still for 34 s",
    ]
    assert head(latched=True)[0] == "MOTION ALARM  4 Alpha 2-2  NEW  over, not reset  34 s"
    assert head(acknowledged=True)[0] == "MOTION ALARM  4 Alpha 2-2  taken  34 s"
    assert head(acknowledged=True, latched=True)[0].endswith("taken  over, not reset  34 s")
    notice = head(acknowledged=True, priority=Priority.NOTICE)[0]
    assert notice == "MOTION ALARM  4 Alpha 2-2  34 s", "nobody takes a notice"


def test_the_log(picture: Picture, scenes: Any) -> None:
    log = [LogEntry("act-number-9", 1_400 * S, "R. Harrow", "3 Alpha 2-1: entered")]
    # The scene stands at 14:32:07, 1,500 s after it was opened: 100 s before is 14:30:27.
    told = texts(View.LOG, picture, scenes.look(), log=log)
    assert told[1] == "14:30:27  3 Alpha 2-1: entered  (R. Harrow)"
    assert texts(View.LOG, picture, scenes.look())[1] == "nothing was done yet"


def test_links_and_packs(picture: Picture, scenes: Any) -> None:
    told = texts(View.LINKS, picture, scenes.look(120))
    assert told[1:3] == ["link 1  udp  up", "link 2  serial  DOWN  gone"]
    # Ten of 300 frames are lost: 3.33 %, rounded up.
    assert any(
        line.startswith("pack 4711  1 Alpha 1-1  signal") and "lost 4 %" in line for line in told
    )


def test_areas_reliefs_and_sets(picture: Picture, scenes: Any) -> None:
    told = texts(View.RECORD, picture, scenes.look())
    # 1,400 s after the opening at 14:07:07 it is 14:30.
    assert told[1:8] == [
        "area kiln hall  searched  3 Alpha 2-1, 4 Alpha 2-2  14:30",
        "relief of Alpha 2 by Alpha 3: overdue 1 min 1 s",
        "relief of Alpha 1: in 1 minute",
        "set S-17 at fault: leaks",
        "set of 8 Alpha 4-2, to do: bled, made ready",
        "cylinder C-4 to fill, last read 80 bar",
        "cylinder C-5 to fill",
    ]


@pytest.mark.parametrize("view", list(View))
@pytest.mark.parametrize("room", [0, 1, 2, 3, 5, 9])
def test_over_pages_nothing_is_lost(picture: Picture, scenes: Any, view: View, room: int) -> None:
    whole = texts(view, picture, scenes.look())
    seen: list[str] = []
    for page in range(100):
        drawn = view_page(view, picture, scenes.look(), room, page)
        assert len(drawn.lines) == room
        if room < 3:
            return
        lines = ["".join(text for text, _ in line).rstrip() for line in drawn.lines]
        assert max(cell_len(line) for line in lines) <= 80
        seen += [line for line in lines[1:] if line and not line.startswith("  d: ")]
        if not drawn.more:
            break
    assert seen == [line for line in whole[1:] if line]


@pytest.mark.parametrize("view", list(View))
def test_an_empty_board_has_a_word_on_every_page(scenes: Any, view: View) -> None:
    bare = scenes.picture((), links=())
    assert any(texts(view, bare, scenes.look())[1:])


@pytest.mark.parametrize("view", list(View))
def test_odd_names_break_nothing(picture: Picture, scenes: Any, view: View) -> None:
    odd = tuple(replace(w, call_sign="", name="窯" * 30 + "שלום\x1b[2J") for w in picture.wearers)
    for line in texts(view, replace(picture, wearers=odd), scenes.look(), 200):
        assert cell_len(line) <= 80
        assert line.isprintable() or not line


def test_wide_characters_are_parted_and_not_cut(picture: Picture, scenes: Any) -> None:
    wide = replace(picture, areas=(replace(picture.areas[0], area="窯業地下" * 12),))
    told = texts(View.RECORD, wide, scenes.look(40))
    assert sum(line.count("窯") for line in told) == 12
    assert not any("…" in line for line in told)
