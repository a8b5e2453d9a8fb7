"""One clear line a cause; nothing abnormal is ever simply missing."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from monitor import procedures
from monitor.board.lines import alarm_lines
from monitor.board.lines.alarm_lines import alarm_block
from monitor.board.lines.columns import RowContext
from monitor.board.words.marks import Role
from monitor.incident.alarms import over as ended
from monitor.incident.alarms.catalogue import CATALOGUE, Kind, line_word
from monitor.incident.picture import AirFrom, Phase, Priority
from monitor.incident.procedure import TO_DO_MAX
from monitor.incident.service_words import said


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


def aside_text(scenes: Any, *aside: Any, width: int = 80) -> str:
    line = alarm_lines.put_aside_line(
        replace(scenes.quiet(), put_aside=aside), scenes.look(width, 24)
    )
    return "" if line is None else "".join(text for text, _ in line)


def test_what_is_put_aside_and_until_when(scenes: Any) -> None:
    assert aside_text(scenes) == ""
    one = scenes.put_aside(5, "NO SIGNAL", "6 Alpha 3-2", left_s=300)
    two = scenes.put_aside(9, "DISK", "base", left_s=600)
    # It is 14:32:07.
    assert aside_text(scenes, one, two) == (
        "put aside: NO SIGNAL 6 Alpha 3-2 until 14:37, DISK base until 14:42"
    )
    more = (one, one, one, one)
    assert aside_text(scenes, *more) == ("put aside: NO SIGNAL 6 Alpha 3-2 until 14:37, + 3 more")
    for width in (40, 60, 80, 120, 200):
        text = aside_text(scenes, *more, width=width)
        assert cell_len(text) <= width
        assert "NO SIGNAL" in text


def test_space_takes_the_chosen_wearers_first(scenes: Any) -> None:
    trouble = scenes.trouble()
    assert alarm_block(trouble, scenes.look(), chosen=(6,)).top == 5
    assert alarm_block(trouble, scenes.look(), chosen=(1,)).top == 3
    # It has a line however many are above it.
    many = tuple(replace(trouble.alarms[0], number=n) for n in range(20, 50))
    crowd = replace(trouble, alarms=(*many, trouble.alarms[2]))
    block = alarm_block(crowd, scenes.look(), chosen=(6,))
    assert block.top == 5
    assert 5 in block.shown


def test_which_alarm_space_takes(scenes: Any) -> None:
    block = alarm_block(scenes.trouble(), scenes.look())
    assert block.top == 3
    assert block.shown == (3, 4, 5)


def test_the_first_waiting_one_is_taken_even_below_an_acknowledged_danger(scenes: Any) -> None:
    picture = scenes.trouble()
    alarms = tuple(replace(a, acknowledged=a.priority is Priority.DANGER) for a in picture.alarms)
    block = alarm_block(replace(picture, alarms=alarms), scenes.look())
    assert block.top == 5
    assert "NEW  Space = take it" in "\n".join(texts(block))


def test_the_key_for_all_cautions_is_named_where_more_than_one_waits(scenes: Any) -> None:
    who = [scenes.wearer(n) for n in (1, 2)]
    two = tuple(
        scenes.alarm(n, w, "NO SIGNAL", priority=Priority.CAUTION) for n, w in enumerate(who, 1)
    )
    picture = scenes.picture(tuple(who), two)
    _, first, _, second = texts(alarm_block(picture, scenes.look()))
    assert first.endswith("  NEW  Space take, a all")
    assert second.endswith("  NEW")
    one = replace(picture, alarms=(two[0], replace(two[1], acknowledged=True)))
    assert texts(alarm_block(one, scenes.look()))[1].endswith("  NEW  Space = take it")


def test_a_screen_that_may_not_act_is_offered_no_key(scenes: Any) -> None:
    picture = scenes.trouble()
    over = replace(picture.alarms[1], latched=True)
    picture = replace(picture, alarms=(picture.alarms[0], over, picture.alarms[2]))
    drawn = texts(alarm_block(picture, scenes.look(), holds=False))
    assert [line.rsplit("  ", 1)[1] for line in drawn[1::2]] == ["NEW", "over, not reset", "NEW"]


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


@pytest.mark.parametrize("kind", ["distress", "motion_alarm"])
def test_a_call_that_was_taken_says_how_to_get_to_the_emergency_message(
    scenes: Any, kind: str
) -> None:
    who = scenes.wearer(4)
    taken = scenes.alarm(1, who, "DISTRESS", kind=kind, acknowledged=True)
    picture = scenes.picture((who,), (taken,))
    assert texts(alarm_block(picture, scenes.look()))[1].endswith("  4 Enter 31 = message")
    for block in (
        alarm_block(picture, scenes.look(), holds=False),
        alarm_block(picture, scenes.look(), keys_write=True),
        alarm_block(replace(picture, alarms=(replace(taken, acknowledged=False),)), scenes.look()),
    ):
        assert "message" not in texts(block)[1]


def test_a_latched_alarm_says_how_it_ends(scenes: Any) -> None:
    who = scenes.wearer(1)
    over = scenes.alarm(1, who, "DISTRESS", acknowledged=True, latched=True)
    block = alarm_block(scenes.picture((who,), (over,)), scenes.look())
    assert texts(block)[1].endswith("  over: r = reset")


def test_one_that_is_over_and_not_taken_says_both(scenes: Any) -> None:
    who = [scenes.wearer(n) for n in (1, 2)]
    over = tuple(scenes.alarm(n, w, "DISTRESS", latched=True) for n, w in enumerate(who, 1))
    drawn = texts(alarm_block(scenes.picture(tuple(who), over), scenes.look()))
    assert drawn[1].endswith("  NEW  Space = take it")
    assert drawn[3].endswith("  NEW  over: r = reset")


def test_an_insistent_danger_is_a_block_from_edge_to_edge(scenes: Any) -> None:
    who = scenes.wearer(1)
    old = scenes.alarm(1, who, "DISTRESS", insistent=True)
    line = alarm_block(scenes.picture((who,), (old,)), scenes.look()).lines[0]
    assert {role for _, role in line} == {Role.DANGER}


def test_mates(scenes: Any) -> None:
    who = scenes.wearer(1)
    one = scenes.alarm(1, who, "DISTRESS", mates=((2, "Alpha 1-2", 188.9),))
    several = replace(one, mates=((2, "b", 188.0), (3, "c", None), (4, "d", 97.0)))
    context = RowContext(scenes.picture((who, scenes.wearer(2))), scenes.look())
    assert alarm_lines.mate_words(one, context) == "mate 188"
    assert alarm_lines.mate_words(several, context) == "mates 97, 188, ?"
    assert alarm_lines.mate_words(replace(one, mates=()), context) == ""


def test_each_pressure_is_in_the_unit_of_its_gauge(scenes: Any) -> None:
    """300 bar = 4351.1 psi; a mate whose gauge reads otherwise has the unit beside the figure."""
    who, mate = scenes.wearer(1, 300, unit="psi"), scenes.wearer(2, 188)
    one = scenes.alarm(1, who, "DISTRESS", mates=((2, "Alpha 1-2", 188.9), (9, "x", 97.0)))
    line = texts(alarm_block(scenes.picture((who, mate), (one,)), scenes.look(120)))[0]
    assert "  4351 psi  mates 97 bar, 188 bar  " in line


def test_without_air_nothing_is_said_of_air(scenes: Any) -> None:
    base = scenes.alarm(1, scenes.wearer(1), "RECEIVER DOWN", air=None, subject="udp port")
    line = texts(alarm_block(scenes.picture((), (base,)), scenes.look()))[0]
    assert "bar" not in line


def test_a_new_alarm_blinks_its_sign(scenes: Any) -> None:
    off = alarm_block(scenes.trouble(), scenes.look(blink_on=False))
    assert texts(off)[0].startswith("  MOTION ALARM")
    assert texts(off)[2].startswith("■ LOW AIR")


def test_a_notice_does_not_blink_since_nobody_need_take_it(scenes: Any) -> None:
    who = scenes.wearer(1)
    notice = scenes.alarm(1, who, "pack battery low", priority=Priority.NOTICE)
    off = alarm_block(scenes.picture((who,), (notice,)), scenes.look(blink_on=False))
    assert texts(off)[0].startswith("• pack battery low")


def test_the_rule_stands_quietly_beside_what_to_do(scenes: Any) -> None:
    rule = "silent 72 s, limit 46 s"
    lines = alarm_block(scenes.trouble(), scenes.look()).lines
    assert [(text.rstrip(), role) for text, role in lines[5]][:2] == [
        ("  call; note the gauge reading", Role.TEXT),
        (rule, Role.QUIET),
    ]
    assert "NEW" in lines[5][2][0]


def test_a_rule_that_has_no_room_is_left_out_whole(scenes: Any) -> None:
    """44 cells to do, 20 of the key: 80 have no room for 40 more; 120 have."""
    who = scenes.wearer(1)
    rule = "no reading for 12 min, limit 10 min; est"
    one = scenes.alarm(1, who, "OVERDUE", detail=rule, location="x" * 40)
    picture = scenes.picture((who,), (one,))
    assert "limit" not in "".join(texts(alarm_block(picture, scenes.look())))
    assert rule in texts(alarm_block(picture, scenes.look(120)))[1]
    # Without a place the line above has room: 14 + 13 + 9 and twice 2 leave 40 of 80.
    there = replace(picture, alarms=(replace(one, location=""),))
    assert rule not in texts(alarm_block(there, scenes.look()))[1]


def pieces_gone(picture: Any, line: int, pieces: tuple[str, ...], height: int, look: Any) -> Any:
    """In which order pieces of one alarm line are shortened or left out as room shrinks."""
    gone: list[str] = []
    for width in range(200, 20, -1):
        drawn = texts(alarm_block(picture, look(width, height)))[line]
        gone += [piece for piece in pieces if piece not in drawn and piece not in gone]
    return gone


def test_what_can_be_missed_most_easily_gives_way_first(scenes: Any) -> None:
    """In the end who it is still stands there."""
    lost = replace(scenes.trouble().wearers[5], location="floor 2", location_at_ns=scenes.T)
    base = scenes.alarm(
        1, lost, "NO SIGNAL", crew="Kiln crew", mates=((2, "b", 188.0),), acknowledged=True
    )
    both = scenes.picture((lost,), (base, replace(base, number=2)))
    order = ("Kiln crew", "read 72 s", "(14:32)", "mate 188", "floor 2", "201 bar", "6 Alpha 3-2")
    assert pieces_gone(both, 0, order, 24, scenes.look)[:6] == list(order[:6])
    # Three lines for two alarms: the second has one, with what to do in it.
    short = ("Kiln crew", "call the crew", *order[1:])
    assert pieces_gone(both, 2, short, 10, scenes.look)[:7] == list(short[:7])


def test_a_short_age_and_the_place_alone_stay_where_the_long_ones_do_not_fit(scenes: Any) -> None:
    """Cells: 12 and 4 for the word and how long, 2 between.

    Then each with 2 blanks: who 13, the place 17 or 9, the air 25 or 17. In all 73; with the
    short age 65; with the place alone 57.
    """
    lost = replace(scenes.trouble().wearers[5], location="floor 2", location_at_ns=scenes.T)
    one = scenes.alarm(1, lost, "NO SIGNAL", acknowledged=True, raised_for_ns=27 * scenes.S)
    picture = scenes.picture((lost,), (one,))
    for width, words in (
        (73, "6 Alpha 3-2  floor 2 (14:32)  ~201 bar, read 72 s ago"),
        (65, "6 Alpha 3-2  floor 2 (14:32)  ~201 bar (72 s)"),
        (57, "6 Alpha 3-2  floor 2  ~201 bar (72 s)"),
    ):
        line = texts(alarm_block(picture, scenes.look(width)))[0]
        assert line.split("  ", 1)[1].rsplit("  ", 1)[0].strip() == words


def test_an_alarm_with_nothing_to_say_is_drawn_at_any_width(scenes: Any) -> None:
    bare = scenes.alarm(1, scenes.wearer(1), "DISK", subject="", crew="", air=None)
    for width in range(1, 30):
        assert len(alarm_block(scenes.picture((), (bare,)), scenes.look(width)).lines) == 2


def test_more_alarms_than_lines_are_counted_by_urgency(scenes: Any) -> None:
    who = [scenes.wearer(n) for n in range(1, 16)]
    alarms = tuple(
        scenes.alarm(n, w, "LOW AIR", priority=Priority.DANGER if n < 12 else Priority.CAUTION)
        for n, w in enumerate(who, 1)
    )
    drawn = texts(alarm_block(scenes.picture(tuple(who), alarms), scenes.look()))
    assert len(drawn) == alarm_lines.lines_max(24) == 7
    assert drawn[-1] == "■ + 10 more: 6 dangers NEW, 4 cautions NEW"
    # The last line is for number 8, the danger that waits and would be hidden.
    taken = tuple(replace(a, acknowledged=a.number not in {1, 8, 13}) for a in alarms)
    drawn = texts(alarm_block(scenes.picture(tuple(who), taken), scenes.look()))
    assert drawn[-1] == "■ + 10 more: 6 dangers, 1 caution NEW, 3 cautions"


def test_a_line_alone_says_that_its_alarm_is_new(scenes: Any) -> None:
    who = [scenes.wearer(n) for n in range(1, 6)]
    alarms = tuple(scenes.alarm(n, w, "LOW AIR", acknowledged=n == 5) for n, w in enumerate(who, 1))
    drawn = texts(alarm_block(scenes.picture(tuple(who), alarms), scenes.look()))
    # Seven lines for five alarms: two of them in full, three in one line each.
    assert ["NEW  5 min 0 s" in line for line in drawn[4:]] == [True, True, False]


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


def test_the_newest_danger_is_read_at_once_however_many_wait_above_it(scenes: Any) -> None:
    """In a flood each line that is taken would else show but one more, and the newest last."""
    who = [scenes.wearer(n) for n in range(1, 21)]
    alarms = tuple(
        scenes.alarm(n, w, "DISTRESS", raised_for_ns=(60 - n) * scenes.S)
        for n, w in enumerate(who, 1)
    )
    block = alarm_block(scenes.picture(tuple(who), alarms), scenes.look())
    assert (block.top, block.shown) == (1, (1, 2, 3, 4, 20))
    # The base gives way to a person, however new its trouble is.
    full = scenes.alarm(21, who[0], "DISK", of_base=True, raised_for_ns=0)
    block = alarm_block(scenes.picture(tuple(who), (*alarms, full)), scenes.look())
    assert block.shown == (1, 2, 3, 4, 20)
    taken = tuple(replace(alarm, acknowledged=True) for alarm in alarms[1:])
    block = alarm_block(scenes.picture(tuple(who), (alarms[0], *taken, full)), scenes.look())
    assert block.shown == (1, 2, 3, 4, 21)
    # The one that Space takes keeps its line where there is room for one alone.
    block = alarm_block(scenes.picture(tuple(who), alarms), scenes.look(), room=3)
    assert block.shown == (1,)


SHIPPED = [procedures.load(name) for name in procedures.names()]


@pytest.mark.parametrize("kind", Kind)
@settings(max_examples=12, deadline=None)
@given(
    number=st.sampled_from([1, 99, 10_000]),
    name=st.text("aÄ木W", min_size=3, max_size=60),
    place=st.text("bß水M", min_size=4, max_size=400),
    crew=st.text("cC", max_size=20),
    told=st.sampled_from(SHIPPED),
    unit=st.sampled_from(["bar", "psi"]),
    state=st.sampled_from([(False, False), (False, True), (True, True)]),
    hours=st.floats(0, 24),
)
def test_every_line_says_what_who_where_and_what_to_do_at_80_columns(
    scenes: Any, kind: Kind, **drawn: Any
) -> None:
    """Whatever the lengths of names and places: 60, 20 and 400 are the most that an act takes."""
    entry, told = CATALOGUE[kind], drawn["told"]
    word = said(line_word(kind, Priority.DANGER), told.words)
    latched = drawn["state"][1] and entry.latches
    over = latched and ended.is_over(kind, condition=False)
    to_do = told.do.get(kind) or said(entry.to_do, told.words)
    if over:
        to_do = ended.words(kind, Phase.ENTERED)
    who = replace(
        scenes.wearer(drawn["number"], 299, unit=drawn["unit"]),
        call_sign=drawn["name"],
        crew=drawn["crew"],
        location=drawn["place"],
        location_at_ns=0,
        air=scenes.air(299, AirFrom.ESTIMATE, 3_599),
    )
    one = scenes.alarm(
        1,
        who,
        word,
        to_do=to_do,
        mates=((2, "b", 188.0), (3, "c", None), (4, "d", 97.0)),
        acknowledged=drawn["state"][0],
        latched=latched,
        raised_for_ns=round(drawn["hours"] * 3_600 * scenes.S),
    )
    first, second = texts(alarm_block(scenes.picture((who,), (one,)), scenes.look(80)))
    assert cell_len(first) <= 80
    head = f"■ {'over: ' if over else ''}{word} "
    assert first.startswith(head)
    rest = first[len(head) :]
    assert rest.lstrip().startswith(f"{drawn['number']} {drawn['name'][:3]}")
    assert f"  {drawn['place'][:4]}" in rest
    assert to_do in second


def test_the_longest_thing_to_do_that_a_procedure_may_have_stays_whole(scenes: Any) -> None:
    """74 characters: no key beside them has room but NEW."""
    to_do = "x" * TO_DO_MAX
    for latched, taken, told in ((True, True, ""), (False, False, " NEW"), (True, False, " NEW")):
        one = scenes.alarm(
            1, scenes.wearer(1), "DISTRESS", to_do=to_do, latched=latched, acknowledged=taken
        )
        drawn = texts(alarm_block(scenes.picture((), (one,)), scenes.look(80)))
        assert drawn[1].rstrip() == f"  {to_do}{told}".rstrip()


def test_a_long_name_and_a_long_place_are_cut_and_marked_so(scenes: Any) -> None:
    """80 cells less 11, 9, 2 leave 58; less who 24, air 7 and 2 blanks each 21 for the place."""
    who = scenes.wearer(1, call_sign="n" * 60, location="p" * 400, location_at_ns=0)
    one = scenes.alarm(1, who, "DISTRESS")
    line = texts(alarm_block(scenes.picture((who,), (one,)), scenes.look(80)))[0]
    assert f"  1 {'n' * 21}…  {'p' * 20}…  200 bar  " in line
    # A name that leaves the place its room stays whole.
    short = replace(one, subject="1 Alpha 1-1")
    line = texts(alarm_block(scenes.picture((who,), (short,)), scenes.look(80)))[0]
    assert "  1 Alpha 1-1  ppppp" in line
    assert "…  200 bar  " in line


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
                data.draw(st.sampled_from(["LOW AIR", "NO SIGNAL", "TWO PACKS AS ONE"])),
                priority=Priority(data.draw(st.integers(1, 3))),
                acknowledged=data.draw(st.booleans()),
            )
        )
    alarms.sort(key=lambda a: (a.priority, a.acknowledged))
    block = alarm_block(scenes.picture((), tuple(alarms)), scenes.look(width, height))
    assert len(block.lines) <= alarm_lines.lines_max(height)
    assert all(cell_len("".join(t for t, _ in line)) <= width for line in block.lines)
    missing = len(alarms) - len(block.shown)
    assert (f"+ {missing} more: " in texts(block)[-1]) is (missing > 0)
    assert block.top is None or block.top in block.shown
