"""The whole screen as lines: what stands where, and that nothing is cut at 80 by 24."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.keys.hands import Hands
from monitor.board.keys.sheet_hands import Aids
from monitor.board.keys.table import help_texts
from monitor.board.lines.header import Desk
from monitor.board.pages.screen import CAUTION_LINES, Shown, opening_screen, screen
from monitor.board.words.marks import Role

S = 1_000_000_000


def texts(picture: Any, look: Any, hands: Hands | None = None, **shown: Any) -> list[str]:
    state = replace(Shown(Desk(by="R. Harrow")), **shown)
    drawn = screen(picture, look, hands or Hands(), state)
    return ["".join(text for text, _ in line).rstrip() for line in drawn.lines]


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (100, 30), (40, 10), (20, 3), (80, 1)])
def test_exactly_as_many_lines_as_the_screen_none_too_wide(
    scenes: Any, size: tuple[int, int]
) -> None:
    for picture in (scenes.trouble(), scenes.quiet(), scenes.many(100), scenes.picture(())):
        for help_page in (0, 1, 2):
            drawn = texts(picture, scenes.look(*size), help_page=help_page)
            assert len(drawn) == size[1]
            assert max(cell_len(line) for line in drawn) <= size[0]


def test_nothing_is_cut_at_80_by_24(scenes: Any) -> None:
    states: list[dict[str, Any]] = [{}, {"help_page": 1}, {"caution": False}, {"by_time": True}]
    for picture in (scenes.trouble(), scenes.quiet(), scenes.many(60)):
        for state in states:
            assert not any("…" in line for line in texts(picture, scenes.look(), **state))


def test_the_caution_stands_until_the_first_key(scenes: Any) -> None:
    assert list(CAUTION_LINES) == texts(scenes.quiet(), scenes.look())[-4:-2]
    assert CAUTION_LINES[0] not in texts(scenes.quiet(), scenes.look(), caution=False)
    assert all(len(line) <= 80 for line in CAUTION_LINES)


def test_twelve_quiet_wearers_have_a_line_each_below_their_crews(scenes: Any) -> None:
    """20 lines: a heading, six crews, twelve wearers."""
    drawn = texts(scenes.many(12), scenes.look(), caution=False)
    assert sum("leader" in line for line in drawn) == 6
    assert sum("-1 " in line or "-2 " in line for line in drawn) == 12


def test_a_sheet_leaves_every_danger_readable_that_there_is_room_for(scenes: Any) -> None:
    """The emergency message of six fields: title, seven lines; 24 - 5 - 8 = 11, at most 7."""
    trouble = scenes.trouble()
    fields = tuple((name, "known") for name in ("name", "crew", "place", "task", "air", "needs"))
    hands = Hands(aids=Aids(emergency_form=lambda _wearer: fields))
    for place, name in enumerate(("4", "enter", "3", "1")):
        hands.press(name, (10 + place) * S, trouble, name)
    drawn = texts(trouble, scenes.look(), hands, caution=False)
    assert len(drawn) == 24
    for alarm in trouble.alarms:
        assert any(alarm.word in line and alarm.subject in line for line in drawn)
    assert any("EMERGENCY MESSAGE of 4" in line for line in drawn)
    assert all(any(name in line for line in drawn) for name, _ in fields)


def test_help_does_not_hide_alarms(scenes: Any) -> None:
    drawn = texts(scenes.trouble(), scenes.look(), help_page=1, caution=False)
    assert any("MOTION ALARM" in line for line in drawn)
    assert any("evacuate all, or the chosen" in line for line in drawn)
    assert "h: more keys" in drawn
    last = texts(scenes.trouble(), scenes.look(), help_page=2, caution=False)
    assert any("leave the board (asks)" in line for line in last)
    assert any("~ estimate" in line for line in last)


def test_help_is_whole_below_as_many_alarms_as_there_can_be(scenes: Any) -> None:
    picture = scenes.trouble()
    many = tuple(replace(picture.alarms[0], number=n) for n in range(1, 30))
    crowded = replace(picture, alarms=many)
    first, last = (texts(crowded, scenes.look(), help_page=page, caution=False) for page in (1, 2))
    for drawn in (first, last):
        assert "+ 28 more: 28 dangers NEW" in drawn[4]
    assert first[5].startswith("Space")
    assert any(line.startswith("~ estimate") for line in last)


def test_on_a_high_screen_more_than_the_top_alarm_is_read_beside_one_wearer(scenes: Any) -> None:
    """24 lines leave three for alarms: one in full, a count; 40 leave nine."""
    watching = Hands(watched=1)
    low = texts(scenes.trouble(), scenes.look(), watching, caution=False)
    assert sum("NEW" in line for line in low) == 2, "one that waits, and the count of the others"
    high = texts(scenes.trouble(), scenes.look(120, 40), watching, caution=False)
    waiting = [a for a in scenes.trouble().alarms if not a.acknowledged]
    assert all(any(alarm.word in line for line in high) for alarm in waiting)


def test_what_is_cut_off_a_small_screen_cannot_be_taken(scenes: Any) -> None:
    """Two lines of header and three of alarms: five lines show them, four do not."""
    for height, shown, top in ((5, 1, 3), (4, 0, None)):
        drawn = screen(scenes.trouble(), scenes.look(80, height), Hands(), Shown(Desk()))
        assert (len(drawn.alarms.shown), drawn.alarms.top) == (shown, top)


def test_view_only_alarm_lines_name_no_key(scenes: Any) -> None:
    drawn = texts(scenes.trouble(), scenes.look(), desk=Desk(holds=False))
    assert "Space" not in "".join(drawn)


def test_every_question_fits_and_leaves_the_alarms_in_sight(scenes: Any) -> None:
    picture = scenes.trouble()
    latched = tuple(replace(a, latched=True) for a in picture.alarms)
    aside = (scenes.put_aside(9, "NO SIGNAL", "7 Alpha 4-1"),)
    picture = replace(picture, alarms=latched, put_aside=aside)
    for keys, words in (
        (["q"], "LEAVE THE BOARD?"),
        (["r"], "RESET MOTION ALARM, 4 Alpha 2-2: why?    r another"),
        (["p"], "PUT ASIDE NO SIGNAL, 6 Alpha 3-2: why?    p another"),
        (["p", "1"], "PUT ASIDE NO SIGNAL, 6 Alpha 3-2: for how long?"),
        (["v"], "LET IT COME BACK: NO SIGNAL, 7 Alpha 4-1?    v another"),
        (["4", "g", "1"], "GAUGE READING 4 Alpha 2-2: 1_ bar"),
        (["4", "g", "k", "1"], "LOWEST GAUGE OF Alpha 2 (3, 4): 1_ bar"),
        (
            ["4"],
            "CHOSEN 4 Alpha 2-2  d all  k crew  , and  g gauge  m supply  f evacuate  - voice",
        ),
        (["4", "k"], "CHOSEN Alpha 2 (3, 4)   k crew  , and  f evacuate  - by voice"),
    ):
        hands = Hands()
        for n, key in enumerate(keys):
            hands.press(key, n * S, picture)
        drawn = texts(picture, scenes.look(), hands)
        assert drawn[-2] == words
        assert drawn[-1]
        assert "…" not in drawn[-1]
        assert "put aside" in drawn[2]
        assert "MOTION ALARM" in drawn[3]


@pytest.mark.parametrize("look_at", ["board", "help", "wearer", "question", "caution"])
def test_what_is_put_aside_is_always_in_view(scenes: Any, look_at: str) -> None:
    aside = (scenes.put_aside(9, "NO SIGNAL", "7 Alpha 4-1"),)
    for picture in (scenes.quiet(), scenes.trouble()):
        hands = Hands()
        if look_at in {"wearer", "question"}:
            hands.press("4", 0, picture)
            hands.press("d" if look_at == "wearer" else "g", 0, picture)
        drawn = texts(
            replace(picture, put_aside=aside),
            scenes.look(),
            hands,
            help_page=int(look_at == "help"),
            caution=look_at == "caution",
        )
        assert drawn[2] == "put aside: NO SIGNAL 7 Alpha 4-1 until 14:42"


def test_help_shows_every_key_beside_alarms_and_what_is_put_aside(scenes: Any) -> None:
    aside = (scenes.put_aside(9, "NO SIGNAL", "7 Alpha 4-1"),)
    picture = replace(scenes.trouble(), put_aside=aside)
    pages = [texts(picture, scenes.look(), help_page=n, caution=False) for n in (1, 2)]
    drawn = [line for page in pages for line in page]
    for shown, words in help_texts():
        assert any(f"{shown:<11}{words}" in line for line in drawn), shown
    assert any("NEXT in minutes" in line for line in drawn)


def test_help_has_one_page_where_there_is_room(scenes: Any) -> None:
    page = screen(scenes.quiet(), scenes.look(), Hands(), Shown(Desk(), help_page=1, caution=False))
    assert not page.more
    drawn = ["".join(text for text, _ in line) for line in page.lines]
    assert all(any(words in line for line in drawn) for _, words in help_texts())


def test_the_chosen_wearers_alarm_is_the_one_that_space_takes(scenes: Any) -> None:
    picture, hands = scenes.trouble(), Hands()
    assert "Space = take it" in texts(picture, scenes.look(), hands)[3]
    hands.press("6", 0, picture)
    drawn = texts(picture, scenes.look(), hands)
    (line,) = [n for n, text in enumerate(drawn) if "Space = take it" in text]
    assert "NO SIGNAL      6 Alpha 3-2" in drawn[line - 1]


def test_a_note_asks_with_its_picks_in_one_line(scenes: Any) -> None:
    hands = Hands()
    for place, key in enumerate(("4", "insert")):
        hands.press(key, place * scenes.S, scenes.quiet())
    question, answers = texts(scenes.quiet(), scenes.look(), hands)[-2:]
    assert question == "NOTE of 4 Alpha 2-2, for the record"
    assert answers == (
        "1 told command  2 no answer  3 area searched  4 casualty found  5 help asked"
    )


def test_a_number_being_typed_is_shown(scenes: Any) -> None:
    hands = Hands()
    tens = scenes.picture((scenes.wearer(21),))
    hands.press("2", 0, tens)
    assert texts(tens, scenes.look(), hands)[-2] == "wearer 2_"


def test_view_only_offers_no_acts(scenes: Any) -> None:
    desk = Desk(holds=False, by="S. Moss")
    hands = Hands(holds=False)
    drawn = texts(scenes.quiet(), scenes.look(), hands, desk=desk)
    assert "t take the board" in drawn[-1]
    assert "VIEW ONLY" in drawn[1]
    hands.press("t", 0, scenes.quiet())
    assert texts(scenes.quiet(), scenes.look(), hands, desk=desk)[-2] == (
        "TAKE THE BOARD from R. Harrow?"
    )
    hands.press("escape", 0, scenes.quiet())
    hands.press("d", 0, scenes.evacuation())
    listed = texts(scenes.evacuation(), scenes.look(), hands, desk=desk)
    assert listed[-1] == "Esc the board  d on  h keys  t take the board  q leave"
    hands.press("q", 0, scenes.quiet())
    assert "stop recording" not in texts(scenes.quiet(), scenes.look(), hands, desk=desk)[-1]


def test_a_reset_whose_alarm_has_gone(scenes: Any) -> None:
    picture = scenes.trouble()
    hands = Hands()
    latched = tuple(replace(a, latched=True) for a in picture.alarms)
    hands.press("r", 0, replace(picture, alarms=latched))
    assert texts(picture, scenes.look(), hands)[-2] == "THIS ALARM HAS GONE"


def test_unjoined_packs_stand_above_the_keys(scenes: Any) -> None:
    drawn = texts(scenes.trouble(), scenes.look(), caution=False)
    assert drawn[-3] == "packs heard, nobody joined: 4799 (203 bar, 2 s)"


def test_before_the_first_picture_the_caution_is_read(scenes: Any) -> None:
    lines = opening_screen(scenes.look(), "reading the journal")
    drawn = ["".join(t for t, _ in line).rstrip() for line in lines]
    assert len(drawn) == 24
    assert list(CAUTION_LINES) == drawn[2:4]
    assert "reading the journal" in drawn


def test_no_question_hides_an_act_that_was_not_taken(scenes: Any) -> None:
    hands = Hands()
    hands.press("q", 0, scenes.quiet())
    drawn = texts(
        scenes.quiet(),
        scenes.look(),
        hands,
        message=" NOT TAKEN, USE VOICE: out: 4 ",
        message_role=Role.CAUTION,
        caution=False,
    )
    assert drawn[-3:-1] == [" NOT TAKEN, USE VOICE: out: 4", "LEAVE THE BOARD?"]


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
def test_what_is_asked_for_stands_over_the_keys(scenes: Any, size: tuple[int, int]) -> None:
    """Help was open, then Enter: the table of two digits is there, not its question alone."""
    picture, hands = scenes.quiet(), Hands(holds=True)
    hands.press("enter", 0, picture)
    drawn = texts(picture, scenes.look(*size), hands, help_page=1, caution=False)
    assert any("a step in full" in line for line in drawn)
    assert any("MORE: two digits" in line for line in drawn)
    hands.press("h", 10 * 10**9, picture)
    drawn = texts(picture, scenes.look(*size), hands, help_page=1, caution=False)
    assert not any("MORE: two digits" in line for line in drawn)
    assert not any("a step in full" in line for line in drawn)
