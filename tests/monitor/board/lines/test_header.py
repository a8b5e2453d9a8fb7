"""The header: EXERCISE, OPEN and VIEW ONLY are never left out."""

from dataclasses import replace
from typing import Any

import pytest
from rich.cells import cell_len

from monitor.board.lines.header import Desk, header_lines, unjoined_line
from monitor.board.words.marks import Role
from monitor.incident.picture import EmergencyView, LinkView, Phase, Signal, UnjoinedView

S = 1_000_000_000


def texts(picture: Any, look: Any, desk: Desk | None = None) -> list[str]:
    lines = header_lines(picture, look, desk or Desk(by="R. Harrow"))
    return ["".join(text for text, _ in line) for line in lines]


def test_the_first_line(scenes: Any) -> None:
    assert texts(scenes.trouble(), scenes.look())[0] == (
        "KILN LANE  entry A  EXERCISE  stage 1  14:32:07  under air 8  out 3  signals 7/8"
    )


def test_the_second_line(scenes: Any) -> None:
    assert texts(scenes.trouble(), scenes.look())[1] == (
        "board R. Harrow  OPEN: NOT AUTHENTICATED  links 1/1  emergency crew NONE"
    )


def test_links_stay_longest_of_what_is_well(scenes: Any) -> None:
    """A full line must not take the answer whether the radio is all right."""
    for width in (40, 60, 80):
        assert "links 1/1" in texts(scenes.quiet(), scenes.look(width))[1]


def test_who_is_inside_without_a_pack_is_counted_apart(scenes: Any) -> None:
    quiet = scenes.quiet()
    spoken = tuple(replace(w, pack=None if w.wearer in {2, 3} else w.pack) for w in quiet.wearers)
    assert texts(replace(quiet, wearers=spoken), scenes.look(100))[0].endswith("voice 2")


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("behind", "DISK BEHIND"),
        ("low", "DISK NEARLY FULL"),
        ("full", "DISK FULL"),
        ("failing", "DISK FAILING"),
        ("gone", "JOURNAL GONE"),
    ],
)
def test_a_disk_that_is_not_well_is_said_however_narrow(
    scenes: Any, state: str, words: str
) -> None:
    for width in (40, 80):
        line = texts(replace(scenes.quiet(), disk=state), scenes.look(width))[1]
        assert words in line
        assert "disk ok" not in line


@pytest.mark.parametrize("state", ["waiting", "failing", "gone"])
def test_since_when_nothing_is_on_the_disk_is_said_however_narrow(scenes: Any, state: str) -> None:
    """The scene stands at 14:32:07 UTC; 1,796 s before that it was 14:02:11."""
    picture = replace(scenes.quiet(), disk=state, not_on_disk_ns=1_796 * S)
    for width in (40, 80, 120):
        line = texts(picture, scenes.look(width))[1]
        assert "NOT ON DISK" in line
        assert "14:02:11" in line
        assert "disk ok" not in line
    assert "NOT ON DISK SINCE 14:02:11" in texts(picture, scenes.look(120))[1]


@pytest.mark.parametrize(
    ("state", "words"),
    [
        ("player", "sound on"),
        ("bell", "sound: bell"),
        ("off", "sound: none here"),
        ("missing", " NO SOUND "),
        ("failing", " NO SOUND "),
        ("", "disk ok  emergency"),
    ],
)
def test_how_alarms_are_heard(scenes: Any, state: str, words: str) -> None:
    line = texts(replace(scenes.quiet(), sound=state), scenes.look())[1]
    assert words in line
    assert ("sound" in line.casefold()) is bool(state)


def test_a_player_elsewhere_is_not_heard_here(scenes: Any) -> None:
    assert "sound on there" in texts(scenes.quiet(), scenes.look(), Desk(away=True))[1]


@pytest.mark.parametrize("width", [40, 80])
def test_a_silence_and_no_sound_are_said_however_narrow(scenes: Any, width: int) -> None:
    quiet = scenes.quiet()
    # 43.9 s are left: never more than there is.
    hushed = replace(quiet, sounding=replace(quiet.sounding, silenced_ns=43_900_000_000))
    line = texts(hushed, scenes.look(width))[1]
    assert "silenced 43 s" in line
    assert "sound on" not in line
    line = texts(replace(hushed, sound="failing"), scenes.look(width))[1]
    assert "silenced 43 s" in line
    assert "NO SOUND" in line
    assert "sound" not in texts(replace(quiet, closed=True), scenes.look(width))[1]


def test_a_keyed_base_has_no_open_block(scenes: Any) -> None:
    assert "OPEN" not in texts(scenes.quiet(), scenes.look())[1]


@pytest.mark.parametrize("width", [30, 40, 60, 80, 200])
def test_exercise_and_open_stay_however_narrow(scenes: Any, width: int) -> None:
    picture = replace(scenes.trouble(), place="a very long place indeed " * 3, stage="x" * 30)
    first, second = texts(picture, scenes.look(width))
    assert " EXERCISE " in first
    assert " OPEN: NOT AUTHENTICATED " in second


@pytest.mark.parametrize("width", [80, 120])
def test_lines_fit(scenes: Any, width: int) -> None:
    picture = replace(scenes.trouble(), place="a very long place indeed " * 3)
    desks = (Desk(), Desk(holds=False, by="A. Long Name " * 3), Desk(connected=False))
    for desk in desks:
        assert all(cell_len(line) <= width for line in texts(picture, scenes.look(width), desk))


def test_real_is_said_too(scenes: Any) -> None:
    assert " REAL " in texts(replace(scenes.quiet(), use="real"), scenes.look())[0]


def test_view_only_says_who_has_the_board(scenes: Any) -> None:
    line = texts(scenes.quiet(), scenes.look(), Desk(holds=False, by="S. Moss"))[1]
    assert " VIEW ONLY  S. Moss has the board" in line
    assert "nobody has the board" in texts(scenes.quiet(), scenes.look(), Desk(holds=False))[1]


def test_without_a_desk_acts_wait(scenes: Any) -> None:
    line = texts(scenes.quiet(), scenes.look(), Desk(connected=False))[1]
    assert "NO DESK: ACTS WAIT, USE VOICE" in line


def test_a_board_for_which_there_is_no_seat_says_why(scenes: Any) -> None:
    line = texts(scenes.quiet(), scenes.look(), Desk(connected=False, full=32))[1]
    assert " VIEW ONLY: NO SEAT, 32 BOARDS ARE OPEN " in line
    assert "NO DESK" not in line


def test_a_link_that_is_down_is_named(scenes: Any) -> None:
    down = (LinkView(1, "serial /dev/ttyUSB0", up=False, detail="gone"),)
    lines = header_lines(replace(scenes.quiet(), links=down), scenes.look(), Desk())
    assert (" LINK DOWN: serial /dev/ttyUSB0 ", Role.CAUTION) in lines[1]


def test_blocks_that_do_not_fit_are_said_shortly_the_longest_first(scenes: Any) -> None:
    """11 + 25 + 32 + 18 cells and 3 between them are 89; LINK DOWN saves 21, OPEN 19."""
    down = (LinkView(1, "serial /dev/ttyUSB0", up=False, detail="gone"),)
    picture = replace(scenes.quiet(), keyed=False, links=down, disk="low")
    desk = Desk(holds=False)
    assert texts(picture, scenes.look(80), desk)[1] == (
        " VIEW ONLY   OPEN: NOT AUTHENTICATED   LINK DOWN   DISK NEARLY FULL "
    )
    assert texts(picture, scenes.look(60), desk)[1] == (
        " VIEW ONLY   OPEN   LINK DOWN   DISK NEARLY FULL "
    )
    away = texts(picture, scenes.look(60), Desk(connected=False))[1]
    assert away == " NO DESK: USE VOICE   OPEN   LINK DOWN   DISK NEARLY FULL "


def test_a_long_name_leaves_room_for_who_is_in(scenes: Any) -> None:
    picture = replace(scenes.trouble(), name="x" * 70)
    assert texts(picture, scenes.look(80))[0] == (
        f"{'X' * 19}…   EXERCISE  under air 8  signals 7/8"
    )


def test_signals_that_are_missing_are_never_left_out(scenes: Any) -> None:
    assert "signals 7/8" in texts(scenes.trouble(), scenes.look(50))[0]
    assert "signals" not in texts(scenes.quiet(), scenes.look(36))[0]


def test_a_closed_incident_and_refused_frames_are_said(scenes: Any) -> None:
    picture = replace(scenes.quiet(), closed=True, refused=(("CHECKSUM", 3), ("TAG", 4)))
    first, second = texts(picture, scenes.look(120))
    assert " CLOSED " in first
    assert "refused 7" in second


def test_unjoined_packs_in_one_line(scenes: Any) -> None:
    look = scenes.look()
    assert unjoined_line(scenes.quiet(), look) is None
    two = tuple(
        UnjoinedView(n, bar, 2 * scenes.S, Signal.HEARD) for n, bar in ((4799, 203.7), (5, None))
    )
    line = unjoined_line(replace(scenes.quiet(), unjoined=two), look)
    assert line is not None
    assert line[0][0] == "packs heard, nobody joined: 4799 (203 bar, 2 s), 5 (air ?, 2 s)"
    many = tuple(UnjoinedView(5_000 + n, 200.0, 0, Signal.HEARD) for n in range(40))
    line = unjoined_line(replace(scenes.quiet(), unjoined=many), look)
    assert line is not None
    assert line[0][0].endswith(", + 38 more")
    assert cell_len(line[0][0]) <= 80


def test_the_emergency_crew_is_said_while_anybody_is_in(scenes: Any) -> None:
    quiet = scenes.quiet()
    assert "emergency crew NONE" in texts(quiet, scenes.look())[1]
    at_door = tuple(replace(w, phase=Phase.CHECKED_IN) for w in quiet.wearers[6:])
    ready = replace(
        quiet,
        wearers=(*quiet.wearers[:6], *at_door),
        emergency=(EmergencyView("Alpha 4", "ready", (7, 8), 0),),
    )
    assert "emergency crew READY Alpha 4" in texts(ready, scenes.look())[1]
    troubled = replace(ready, keyed=False, sound="failing")
    assert "emergency crew READY Alpha 4" in texts(troubled, scenes.look())[1]
    assert "emergency" not in texts(replace(ready, closed=True), scenes.look())[1]
    outside = replace(quiet, under_air=0)
    (lone,) = [r for t, r in header_lines(outside, scenes.look(120), Desk())[1] if "NONE" in t]
    assert lone is Role.QUIET


@pytest.mark.parametrize(
    ("due_ns", "words"),
    [
        (172 * S + S - 1, "roll call 14:34"),  # 14:32:07 and 172.9 s: 14:34:59.9
        (173 * S, "roll call 14:35"),
        (1, "roll call 14:32"),
        (0, "ROLL CALL DUE"),
        (-600 * S, "ROLL CALL DUE"),
    ],
)
def test_when_the_roll_is_called_next_is_rounded_down(scenes: Any, due_ns: int, words: str) -> None:
    line = texts(replace(scenes.quiet(), roll_call_in_ns=due_ns), scenes.look(100))[1]
    assert words in line
    assert "roll" not in texts(scenes.quiet(), scenes.look(100))[1].casefold()
