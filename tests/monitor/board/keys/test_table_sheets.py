"""What has no key of its own: every sheet makes an act that the recorder understands."""

from dataclasses import replace
from datetime import UTC
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from monitor.board.acts.effects import Say, WriteAct, act_of
from monitor.board.keys.table import GROUPS, TABLE, View
from monitor.board.pages.form_page import form_prompt
from monitor.board.pages.more_page import more_page
from monitor.board.plain.commands import HELP
from monitor.board.sheets.after import close
from monitor.board.sheets.common import Context, LogEntry
from monitor.board.sheets.door import check_in
from monitor.board.sheets.forms import Filling, Made
from monitor.incident.events import Act
from monitor.incident.picture import (
    AreaView,
    CylinderView,
    DefectView,
    Phase,
    Signal,
    UnjoinedView,
)

CYLINDERS = {"6.8/300": (6.8, 300.0), "9/300": (9.0, 300.0)}
S = 1_000_000_000


@pytest.fixture
def context(scenes: Any) -> Context:
    quiet = scenes.quiet()
    listed = replace(quiet.wearers[6], phase=Phase.LISTED, under_air=False, pack=None)
    picture = replace(
        quiet,
        wearers=(*quiet.wearers[:6], listed, quiet.wearers[7]),
        unjoined=(
            UnjoinedView(4799, 280, S, Signal.HEARD),
            UnjoinedView(4800, None, 9 * S, Signal.HEARD),
        ),
        areas=(AreaView("kiln hall", "to search", (), 0, "R. Harrow"),),
        defects=(DefectView("S-17", "leaks", S, "R. Harrow"),),
        to_fill=(CylinderView("C-4", 80, 1),),
    )
    log = (LogEntry("act-number-9", 1_400 * S, "R. Harrow", "3 Alpha 2-1: entered"),)
    form = (("name", "C. Marl"), ("air", "147 bar, 3 s ago"), ("needs", ""))
    return Context(picture, (), UTC, log, lambda _wearer: form, CYLINDERS)


def act(context: Context, code: str, *answers: str) -> Act:
    """Open the sheet of this number, answer line by line, and give the act that comes of it."""
    entry = TABLE.by_code[code]
    assert entry.opens is not None
    assert not isinstance(entry.opens, View)
    sheet = entry.opens(context)
    assert not isinstance(sheet, Say), sheet
    filling = Filling(sheet)
    made = None
    for answer in answers:
        assert made is None, "there are more answers than questions"
        made = filling.fill(answer)
        assert filling.complaint == "", filling.complaint
    assert isinstance(made, Made), f"{filling.asked.name} is not answered"
    effect = made.what
    assert isinstance(effect, WriteAct)
    assert effect.subject
    return act_of(effect, "act-number-1", "R. Harrow", context.picture.t)


def complaint(context: Context, code: str, *answers: str) -> str:
    entry = TABLE.by_code[code]
    assert entry.opens is not None
    assert not isinstance(entry.opens, View)
    sheet = entry.opens(context)
    if isinstance(sheet, Say):
        return sheet.words
    filling = Filling(sheet)
    for answer in answers:
        assert filling.fill(answer) is None
    return filling.complaint


def fields(made: Act) -> dict[str, Any]:
    """What says something, beside who did it."""
    told = made.model_dump(exclude={"id", "by", "seen_ns"})
    return {n: v for n, v in told.items() if v not in ("", None, (), False)}


NOW = 1_500 * S
AT_1430 = NOW - 127 * S
"""The scene stands at 14:32:07."""

CASES: list[tuple[str, tuple[int, ...], tuple[str, ...], dict[str, Any]]] = [
    ("11", (), ("1", "7"), {"what": "join_pack", "wearer": 7, "pack": 4799}),
    ("11", (), ("4800", "Alpha 4-1"), {"what": "join_pack", "wearer": 7, "pack": 4800}),
    ("11", (), ("3", "7", "1"),
     {"what": "join_pack", "wearer": 7, "water_volume_l": 6.8, "rated_bar": 300.0}),
    ("11", (7,), ("none", "12/200"),
     {"what": "join_pack", "wearer": 7, "water_volume_l": 12.0, "rated_bar": 200.0}),
    ("11", (7,), ("roster",), {"what": "arrive", "wearers": (7,)}),
    ("11", (), ("roster", "7"), {"what": "arrive", "wearers": (7,)}),
    ("11", (6, 7), ("",), {"what": "arrive", "wearers": (7,)}),
    ("12", (), ("K. Tuyere", "Beta 1-1", "1", "1"),
     {"what": "list_wearer", "wearer": 9, "name": "K. Tuyere", "call_sign": "Beta 1-1",
      "crew": "Alpha 1", "leader": True}),
    ("13", (3,), ("4", ""), {"what": "set_crew", "wearer": 3, "crew": "Alpha 4"}),
    ("13", (), ("3", "none", "1"), {"what": "set_crew", "wearer": 3, "leader": True}),
    ("14", (3,), ("2", "2", "whistle dead"),
     {"what": "tick_check", "wearer": 3, "check": "warnings", "remark": "whistle dead"}),
    ("14", (3,), ("4", "1", ""),
     {"what": "tick_check", "wearer": 3, "check": "full", "passed": True}),
    ("15", (3, 4), ("1", "left hand wall", "1"),
     {"what": "assign", "wearers": (3, 4), "task": "search", "brief": "left hand wall",
      "communications": "radio"}),
    ("16", (3,), ("1", "1430", "201"),
     {"what": "connect", "wearers": (3,), "at_ns": AT_1430, "pressure_bar": 201.0}),
    ("16", (), ("crew 3", "2", "", "drying floor", "search", "", "line"),
     {"what": "enter", "wearers": (3, 4), "location": "drying floor", "task": "search",
      "communications": "line"}),
    ("16", (3,), ("7", "280"), {"what": "amend_start", "wearers": (3,), "pressure_bar": 280.0}),
    ("16", (3,), ("7", "30", "1"),
     {"what": "amend_start", "wearers": (3,), "pressure_bar": 30.0}),
    ("16", (), ("3", "8"), {"what": "trust_gauge", "wearer": 3, "counts": "pack"}),
    ("16", (3,), ("voice counts",), {"what": "trust_gauge", "wearer": 3, "counts": "voice"}),
    ("16", (3,), ("5", "2"), {"what": "come_out", "wearers": (3,), "at_ns": NOW - 120 * S}),
    ("21", (3,), ("drying floor",),
     {"what": "locate", "wearers": (3,), "location": "drying floor"}),
    ("22", (), ("1", "1", "3 4"),
     {"what": "search_area", "area": "kiln hall", "state": "searched", "wearers": (3, 4)}),
    ("22", (), ("clay shed", "3", ""),
     {"what": "search_area", "area": "clay shed", "state": "to search"}),
    ("23", (3,), ("casualty at the second door",),
     {"what": "note", "text": "casualty at the second door", "wearer": 3}),
    ("24", (3,), ("", "Alpha 3", "20"),
     {"what": "plan_relief", "crew": "Alpha 2", "by_crew": "Alpha 3", "due_ns": NOW + 1_200 * S}),
    ("24", (), ("Alpha 1", "", "none"), {"what": "plan_relief", "crew": "Alpha 1"}),
    ("25", (3,), ("north gate", "5"),
     {"what": "come_out", "wearers": (3,), "door": "north gate", "at_ns": NOW - 300 * S}),
    ("26", (3,), ("board B",), {"what": "move_board", "wearers": (3,), "board": "board B"}),
    ("26", (3,), ("1",), {"what": "move_board", "wearers": (3,)}),
    ("31", (3,), ("", "1"),
     {"what": "tell_emergency", "wearers": (3,), "to": "command",
      "text": "name: C. Marl; air: 147 bar, 3 s ago; needs: ?"}),
    ("31", (3,), ("hose line", "control"),
     {"what": "tell_emergency", "wearers": (3,), "to": "control",
      "text": "name: C. Marl; air: 147 bar, 3 s ago; needs: hose line"}),
    ("32", (), ("1", "roof came down"), {"what": "real_emergency", "reason": "roof came down"}),
    ("41", (3,), ("4",), {"what": "tick_after_use", "wearer": 3, "step": "cylinder off"}),
    ("42", (3,), ("C-9", "2"),
     {"what": "change_cylinder", "wearer": 3, "cylinder_id": "C-9", "water_volume_l": 9.0,
      "rated_bar": 300.0}),
    ("42", (3,), ("", ""), {"what": "change_cylinder", "wearer": 3}),
    ("43", (), ("1",), {"what": "fill_cylinder", "cylinder_id": "C-4"}),
    ("44", (), ("S-18", "1"), {"what": "report_defect", "set_id": "S-18", "text": "leaks"}),
    ("45", (), ("1", "new seal"),
     {"what": "clear_defect", "set_id": "S-17", "text": "new seal"}),
    ("51", (), ("M. Slip", "quiet so far"),
     {"what": "hand_over", "to": "M. Slip", "remark": "quiet so far"}),
    ("52", (), ("2",), {"what": "set_stage", "stage": "2"}),
    ("53", (), ("1", "it was Alpha 2-2"),
     {"what": "correct", "of": "act-number-9", "text": "it was Alpha 2-2"}),
    ("54", (), ("1", "command takes over"),
     {"what": "close", "override": "command takes over"}),
]  # fmt: skip


@pytest.mark.parametrize(("code", "chosen", "answers", "wanted"), CASES)
def test_the_act_that_comes_of_a_sheet(
    context: Context, code: str, chosen: Any, answers: Any, wanted: Any
) -> None:
    assert fields(act(replace(context, chosen=chosen), code, *answers)) == wanted


def test_every_sheet_is_among_them() -> None:
    assert {code for code, *_ in CASES} == {entry.code for entry in TABLE.entries if entry.acts}


@pytest.mark.parametrize(
    ("code", "chosen", "answers", "why"),
    [
        ("11", (), ("x",), "the number of a pack, or roster, or none"),
        ("11", (3,), ("x",), "the number of a pack, or none"),
        ("11", (6, 7), ("6",), "6 is here already"),
        ("11", (), ("1", "99"), "unknown tally: a number, call sign or name on the board"),
        ("11", (), ("4711", "7"), "pack 4711 is joined to 1 Alpha 1-1"),
        ("11", (), ("none", "7", "6.8"), "a name as 6.8/300: litres and rated bar"),
        ("11", (), ("none", "7", "99/300"), "a name as 6.8/300: litres and rated bar"),
        ("11", (), ("none", "7", ""), "an answer is needed"),
        ("12", (), ("X", "Alpha 1-1"), "somebody on the board has this call sign"),
        ("15", (3,), ("", "", ""), "nothing was told"),
        ("16", (3,), ("1", "", "350"), "above the 300 bar that the cylinder of 3 is rated for"),
        ("16", (3,), ("1", "", "2901"), "more than any gauge shows"),
        ("16", (3,), ("5", "1600"), "before the incident was opened, or not yet"),
        ("24", (), ("Alpha 9",), "a crew that is in"),
        ("24", (), ("Alpha 2", "Alpha 2", "5"), "another crew than the one that is relieved"),
        ("26", (3,), ("",), "an answer is needed"),
        ("31", (), (), "emergency message: first the number of a wearer"),
        ("32", (), ("yes",), "one of the numbers"),
        ("43", (), ("C-5",), "a cylinder that is to be filled"),
        ("51", (), ("R. Harrow",), "has the board already"),
        ("53", (), ("2",), "the number of a line above"),
        ("54", (), ("1", ""), "an answer is needed"),
    ],
)
def test_what_is_wrong_is_said_where_it_is_typed(
    context: Context, code: str, chosen: Any, answers: Any, why: str
) -> None:
    assert complaint(replace(context, chosen=chosen), code, *answers) == why


def test_the_cursor_of_the_emergency_message_stands_where_nothing_is_known(
    context: Context,
) -> None:
    sheet = TABLE.by_word["message"].opens
    assert callable(sheet)
    made = sheet(replace(context, chosen=(3,)))
    assert not isinstance(made, Say)
    assert [(one.label, one.start) for one in made.fields] == [
        ("name", "C. Marl"), ("air", "147 bar, 3 s ago"), ("needs", ""), ("told to", ""),
    ]  # fmt: skip
    assert Filling(made).asked.label == "needs"


def test_a_message_that_is_too_long_in_all_says_by_how_much(context: Context) -> None:
    """``name: C. Marl; air: 147 bar, 3 s ago; needs: ``: 13 + 2 + 21 + 2 + 7 characters of 400."""
    why = complaint(replace(context, chosen=(3,)), "31", "x" * 400, "1")
    assert why == "45 characters too many in all"


def test_nothing_to_do_is_said(context: Context) -> None:
    bare = replace(
        context,
        picture=replace(context.picture, use="real", to_fill=(), defects=(), wearers=()),
        log=(),
    )
    for code in ("24", "32", "43", "45", "53"):
        assert complaint(bare, code)


def test_the_next_pack_is_asked_for_at_once_unless_somebody_is_chosen(context: Context) -> None:
    entry = TABLE.by_code["11"]
    assert entry.opens is not None
    assert not isinstance(entry.opens, View)
    for chosen, again in (((), True), ((7,), False)):
        sheet = entry.opens(replace(context, chosen=chosen))
        assert not isinstance(sheet, Say)
        assert sheet.again is again


def test_closing_asks_why_only_if_something_is_open(context: Context) -> None:
    out = tuple(replace(w, under_air=False, phase=Phase.OFF_AIR) for w in context.picture.wearers)
    over = replace(context, picture=replace(context.picture, wearers=out))
    assert fields(act(over, "54", "1", "")) == {"what": "close"}


# ---------------------------------------------------------------- the table


def test_numbers_and_words_are_given_once_and_have_a_group() -> None:
    assert len(TABLE.by_code) == len(TABLE.entries)
    assert len(TABLE.by_word) == sum(bool(entry.word) for entry in TABLE.entries)
    own = {"21": "place", "23": "note", "62": "alarms"}
    assert {entry.code for entry in TABLE.entries if not entry.word} == set(own)
    assert all(any(line.startswith(f"{word} ") for line in HELP) for word in own.values())
    assert {entry.code[0] for entry in TABLE.entries} == set(GROUPS)
    assert all(len(entry.code) == 2 and entry.code.isdigit() for entry in TABLE.entries)


def test_the_whole_table_fits_80_by_24_below_three_lines_of_alarms(scenes: Any) -> None:
    # 24 lines, less two of the header, three of alarms, two at the bottom; and in the worst case
    # less one of what is put aside and two of orders that stand.
    for room, headings in ((17, True), (14, False)):
        page = more_page(scenes.look(), room, "", TABLE)
        assert not page.more
        _whole(page, headings=headings)


def _whole(page: Any, *, headings: bool) -> None:
    told = "\n".join("".join(text for text, _ in line) for line in page.lines)
    assert all(f"{entry.code}  {entry.words}" in told for entry in TABLE.entries)
    assert all((f"{n}  {words}" in told) is headings for n, words in GROUPS.items())
    for line in page.lines:
        assert cell_len("".join(text for text, _ in line)) <= 80


ANSWERS = st.one_of(
    st.sampled_from(("", "1", "2", "9", "none", "crew 3", "3, 4", "6.8/300", "0.1/450", "14:05")),
    st.from_regex(r"[0-9]{1,12}", fullmatch=True),
    st.text(max_size=30),
    st.sampled_from(("x" * 20, "x" * 60, "x" * 61, "x" * 400, "x" * 401, "窯" * 60)),
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(st.data())
def test_whatever_is_typed_no_sheet_makes_what_is_no_act(context: Context, data: Any) -> None:
    """The model of the act would raise, and the board would be gone."""
    entry = data.draw(st.sampled_from([e for e in TABLE.entries if e.acts]))
    chosen = data.draw(st.sampled_from(((), (3,), (3, 4))))
    assert entry.opens is not None
    assert not isinstance(entry.opens, View)
    sheet = entry.opens(replace(context, chosen=chosen))
    if isinstance(sheet, Say):
        return
    filling = Filling(sheet)
    for _ in range(12):
        made = filling.fill(data.draw(ANSWERS))
        if made is not None:
            act_of(made.what, "act-number-1", "R. Harrow", 0)
            return


def test_a_wrong_digit_takes_no_pack_from_somebody_who_is_in(context: Context) -> None:
    sheet = check_in(context)
    assert not isinstance(sheet, Say)
    filling = Filling(sheet)
    filling.fill("4799")
    assert filling.fill("3") is None
    assert filling.complaint == "3 is under air: to swap sets choose 3 on the board"
    # Whoever is chosen is meant.
    assert act(replace(context, chosen=(3,)), "11", "4799").model_dump()["wearer"] == 3


def test_a_set_without_mark_or_pack_is_called_as_the_board_calls_it(context: Context) -> None:
    """Else the defect would be noted of a set that nobody has."""
    bare = replace(context.picture.wearers[2], pack=None)
    picture = replace(
        context.picture, wearers=(*context.picture.wearers[:2], bare, *context.picture.wearers[3:])
    )
    made = act(replace(context, picture=picture, chosen=(3,)), "44", "", "leaks")
    assert made.model_dump()["set_id"] == "set of Alpha 2-1"


def test_what_is_wanted_fits_the_narrowest_screen(context: Context) -> None:
    for entry in TABLE.entries:
        sheet = (
            None if entry.opens is None or isinstance(entry.opens, View) else entry.opens(context)
        )
        if sheet is None or isinstance(sheet, Say):
            continue
        filling = Filling(sheet)
        for place in range(len(sheet.fields)):
            filling.place = place
            assert len(form_prompt(filling)[0]) <= 80


def test_closing_names_those_whom_another_board_watches(context: Context) -> None:
    """That nobody is under air would be said alone while people are inside."""
    out = [replace(w, under_air=False) for w in context.picture.wearers]
    out[2] = replace(out[2], phase=Phase.MOVED, moved_to="board B")
    sheet = close(replace(context, picture=replace(context.picture, wearers=tuple(out))))
    assert sheet.notes[:2] == (
        "nobody is under air", "WATCHED BY ANOTHER BOARD: 3 Alpha 2-1 (board B)",
    )  # fmt: skip


def test_a_pack_that_lost_its_counter_is_enrolled_again_at_check_in(context: Context) -> None:
    """Once the officer has spoken with the wearer; else nothing of the pack is shown again."""
    one = replace(context.picture.wearers[2], pack_doubted=True)
    others = context.picture.wearers
    picture = replace(context.picture, wearers=(*others[:2], one, *others[3:]))
    doubted = replace(context, picture=picture, chosen=(3,))
    wanted = {"what": "enrol_again", "pack": one.pack}
    assert fields(act(doubted, "11", "1")) == wanted
    assert fields(act(doubted, "11", str(one.pack))) == wanted
    assert fields(act(replace(context, chosen=(3,)), "11", str(one.pack)))["what"] == "join_pack"
