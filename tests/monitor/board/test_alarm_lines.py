"""One clear line a cause; nothing abnormal is ever simply missing."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from monitor.board import alarm_lines
from monitor.board.alarm_lines import alarm_block
from monitor.board.marks import Role
from monitor.incident.alarms.catalogue import CATALOGUE, line_word
from monitor.incident.picture import AirFrom, Priority


def texts(block: Any) -> list[str]:
    return ["".join(text for text, _ in line).rstrip() for line in block.lines]


def test_no_alarm_no_line(scenes: Any) -> None:
    assert alarm_block(scenes.quiet(), scenes.look()).lines == ()


def test_a_line_says_what_who_where_air_mate_how_long_and_what_to_do(scenes: Any) -> None:
    first, second, *_ = texts(alarm_block(scenes.trouble(), scenes.look()))
    assert first == (
        "■ MOTION ALARM   4 Alpha 2-2  stairs, floor 2 (14:19)  147 bar  mate 233    34 s"
    )
    assert second == (
        "  call the crew; emergency crew; tell command               NEW  Space = take it"
    )


def test_which_alarm_space_takes(scenes: Any) -> None:
    block = alarm_block(scenes.trouble(), scenes.look())
    assert block.top == 3
    assert block.shown == (3, 4, 5)


def test_the_first_waiting_one_is_taken_even_below_an_acknowledged_danger(scenes: Any) -> None:
    picture = scenes.trouble()
    alarms = tuple(replace(a, acknowledged=a.priority is Priority.DANGER) for a in picture.alarms)
    block = alarm_block(replace(picture, alarms=alarms), scenes.look())
    assert block.top == 5
    assert "NEW  Space = take it, a = all cautions" in "\n".join(texts(block))


def test_notices_wait_for_nobody(scenes: Any) -> None:
    who = scenes.wearer(1)
    notice = scenes.alarm(1, who, "pack battery low", priority=Priority.NOTICE)
    block = alarm_block(scenes.picture((who,), (notice,)), scenes.look())
    assert block.top is None
    assert "NEW" not in "\n".join(texts(block))


def test_an_estimate_has_its_mark_and_age(scenes: Any) -> None:
    block = alarm_block(scenes.trouble(), scenes.look())
    line = block.lines[4]
    assert ("~201 bar, read 72 s ago", Role.ESTIMATE) in line


def test_a_latched_alarm_says_how_it_ends(scenes: Any) -> None:
    who = scenes.wearer(1)
    over = scenes.alarm(1, who, "DISTRESS", acknowledged=True, latched=True)
    block = alarm_block(scenes.picture((who,), (over,)), scenes.look())
    assert texts(block)[1].endswith("over: r = reset with a reason")


def test_an_insistent_danger_is_a_block_from_edge_to_edge(scenes: Any) -> None:
    who = scenes.wearer(1)
    old = scenes.alarm(1, who, "DISTRESS", insistent=True)
    line = alarm_block(scenes.picture((who,), (old,)), scenes.look()).lines[0]
    assert {role for _, role in line} == {Role.DANGER}


def test_mates(scenes: Any) -> None:
    who = scenes.wearer(1)
    one = scenes.alarm(1, who, "DISTRESS", mates=((2, "Alpha 1-2", 188.9),))
    several = replace(one, mates=((2, "b", 188.0), (3, "c", None), (4, "d", 97.0)))
    assert alarm_lines.mate_words(one, "bar") == "mate 188"
    assert alarm_lines.mate_words(several, "bar") == "mates 97, 188, ?"
    assert alarm_lines.mate_words(replace(one, mates=()), "bar") == ""


def test_without_air_nothing_is_said_of_air(scenes: Any) -> None:
    base = scenes.alarm(1, scenes.wearer(1), "RECEIVER DOWN", air=None, subject="udp port")
    line = texts(alarm_block(scenes.picture((), (base,)), scenes.look()))[0]
    assert "bar" not in line


def test_a_new_alarm_blinks_its_sign(scenes: Any) -> None:
    off = alarm_block(scenes.trouble(), scenes.look(blink_on=False))
    assert texts(off)[0].startswith("  MOTION ALARM")
    assert texts(off)[2].startswith("■ LOW AIR")


def test_more_alarms_than_lines_are_counted_by_urgency(scenes: Any) -> None:
    who = [scenes.wearer(n) for n in range(1, 16)]
    alarms = tuple(
        scenes.alarm(n, w, "LOW AIR", priority=Priority.DANGER if n < 12 else Priority.CAUTION)
        for n, w in enumerate(who, 1)
    )
    drawn = texts(alarm_block(scenes.picture(tuple(who), alarms), scenes.look()))
    assert len(drawn) == alarm_lines.lines_max(24) == 7
    assert drawn[-1] == "+ 10 more alarms: 6 dangers, 4 cautions; 10 NEW"


def test_a_short_line_has_what_to_do_if_it_fits(scenes: Any) -> None:
    who = [scenes.wearer(n) for n in range(1, 6)]
    alarms = tuple(scenes.alarm(n, w, "LOW AIR", to_do="crew out") for n, w in enumerate(who, 1))
    drawn = texts(alarm_block(scenes.picture(tuple(who), alarms), scenes.look()))
    assert len(drawn) == 7
    assert "crew out" in drawn[-1]


def test_the_waiting_alarm_is_shown_however_many_stand_above_it(scenes: Any) -> None:
    who = [scenes.wearer(n) for n in range(1, 21)]
    alarms = tuple(scenes.alarm(n, w, "LOW AIR", acknowledged=n < 20) for n, w in enumerate(who, 1))
    block = alarm_block(scenes.picture(tuple(who), alarms), scenes.look())
    assert block.top == 20
    assert 20 in block.shown


@pytest.mark.parametrize("width", [80, 120])
def test_every_catalogue_word_and_act_fits_whole(scenes: Any, width: int) -> None:
    who = scenes.wearer(10, location="stairs, floor 2", location_at_ns=scenes.T)
    for kind, entry in CATALOGUE.items():
        word = line_word(kind, Priority.DANGER)
        one = scenes.alarm(1, who, word, to_do=entry.to_do, acknowledged=True)
        drawn = texts(alarm_block(scenes.picture((who,), (one,)), scenes.look(width)))
        assert word in drawn[0]
        assert "10 Alpha 5-2" in drawn[0]
        assert entry.to_do in drawn[1]


@settings(max_examples=100, deadline=None)
@given(data=st.data(), width=st.integers(80, 160), height=st.integers(10, 60))
def test_lines_fit_and_each_alarm_is_shown_or_counted(
    scenes: Any, data: st.DataObject, width: int, height: int
) -> None:
    alarms = []
    for n in range(1, data.draw(st.integers(1, 25)) + 1):
        who = scenes.wearer(n, data.draw(st.sampled_from([None, 5.0, 299.0])))
        who = replace(
            who,
            air=scenes.air(who.air.pressure_bar, data.draw(st.sampled_from(list(AirFrom)))),
            location=data.draw(st.sampled_from(["", "cellar", "x" * 90])),
            location_at_ns=0,
        )
        alarms.append(
            scenes.alarm(
                n,
                who,
                data.draw(st.sampled_from(["LOW AIR", "NO SIGNAL", "TWO PACKS WITH ONE IDENTITY"])),
                priority=Priority(data.draw(st.integers(1, 3))),
                acknowledged=data.draw(st.booleans()),
            )
        )
    alarms.sort(key=lambda a: (a.priority, a.acknowledged))
    block = alarm_block(scenes.picture((), tuple(alarms)), scenes.look(width, height))
    assert len(block.lines) <= alarm_lines.lines_max(height)
    assert all(cell_len("".join(t for t, _ in line)) <= width for line in block.lines)
    missing = len(alarms) - len(block.shown)
    assert (f"+ {missing} more alarm" in texts(block)[-1]) is (missing > 0)
    assert block.top is None or block.top in block.shown
