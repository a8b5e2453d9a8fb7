"""A new call for help can be read at once, whatever stands: 30 dangers, 60 wearers, both boards.

The recorder takes a frame at once and a board draws within a second of it (both measured by the
functional tests); here each second's picture is drawn for a screen of 80 columns and 24 lines.
"""

from collections.abc import Callable
from datetime import UTC
from math import ceil
from typing import Any

import pytest

from monitor.board.keys.hands import Hands
from monitor.board.lines.header import Desk
from monitor.board.pages.screen import Shown, screen
from monitor.board.plain.words import sentences
from monitor.board.words.marks import ASCII, Look
from monitor.incident import events
from monitor.incident.picture import Picture, Priority
from protocol.packets import Motion
from tests.monitor.incident.conftest import S, Story

COLUMNS, LINES = 80, 24
LOOK = Look(COLUMNS, LINES, ASCII, UTC)
WEARERS = 60
FLOOD = 30
CALLER = 47
"""The last to call: of a crew that has no other alarm, far down the list of wearers."""
LOW: dict[str, Any] = {"pressure_dbar": 1000, "low_air": True}
CALLS: dict[str, dict[str, Any]] = {
    "distress": {"distress": True},
    "motion_alarm": {"motion": Motion.ALARM},
}
"""What a pack says that needs somebody at once, by kind of alarm."""
SAYS = (*CALLS.values(), LOW)


def inside() -> Story:
    """Sixty in crews of two, all well."""
    story = Story()
    for wearer in range(1, WEARERS + 1):
        story.list_and_join(wearer, 100 + wearer, f"Alpha {(wearer + 1) // 2}")
        story.hear(0, 100 + wearer)
    everybody = tuple(range(1, WEARERS + 1))
    story.connect(*everybody)
    story.act(0, events.Enter, wearers=everybody, location="floor 2")
    for wearer in everybody:
        story.hear(S, 100 + wearer)
    return story


def at_once(story: Story) -> None:
    """All in one second, calls and low air by turns."""
    for wearer in range(1, FLOOD + 1):
        story.hear(20 * S, 100 + wearer, **SAYS[wearer % 3])


def one_a_second(story: Story) -> None:
    """Calls alone: nothing ranks under the last of them."""
    for wearer in range(1, FLOOD + 1):
        story.hear((19 - FLOOD // 2) * S + wearer * S // 2, 100 + wearer, **SAYS[wearer % 2])


def and_a_full_disk(story: Story) -> None:
    """A danger of the base, newer than all."""
    one_a_second(story)
    story.do(story.now, events.DiskState(state="full", detail="no room"))


def over_and_over(story: Story) -> None:
    """Each has waited for so long that it insists."""
    for wearer in range(1, FLOOD + 1):
        story.hear(2 * S, 100 + wearer, distress=True)
    story.incident.advance(50 * S)


FLOODS = (at_once, one_a_second, and_a_full_disk, over_and_over)


def the_list(hands: Hands, picture: Picture) -> Shown:
    return Shown(Desk(connected=True, holds=True), caution=False)


def the_caution(hands: Hands, picture: Picture) -> Shown:
    return Shown(Desk(connected=True, holds=True))


def the_keys(hands: Hands, picture: Picture) -> Shown:
    return Shown(Desk(connected=True, holds=True), caution=False, help_page=1)


def one_wearer(hands: Hands, picture: Picture) -> Shown:
    hands.watched = 5
    return the_list(hands, picture)


def another_chosen(hands: Hands, picture: Picture) -> Shown:
    for key in ("2", "2"):
        hands.press(key, 0, picture)
    return the_list(hands, picture)


def the_table(hands: Hands, picture: Picture) -> Shown:
    hands.press("enter", 0, picture)
    return the_list(hands, picture)


SHOWN = (the_list, the_caution, the_keys, one_wearer, another_chosen, the_table)


def call(story: Story, wearer: int, **says: Any) -> None:
    """Half a second later this wearer calls."""
    story.hear(story.now + S // 2, 100 + wearer, **says)


def number_of(picture: Picture, wearer: int) -> int:
    """The alarm of the one who called."""
    return next(a.number for a in picture.alarms if wearer in a.wearers and a.kind in CALLS)


@pytest.mark.parametrize("flood", FLOODS)
def test_on_the_drawn_board(flood: Callable[[Story], None]) -> None:
    """Drawn at once, after a second and after two, while others get low on air."""
    story = inside()
    flood(story)
    before = story.picture()
    call(story, CALLER, distress=True)
    for other in (None, 50, 53):
        if other is not None:
            story.hear(story.now + S // 4, 100 + other, **LOW)
            story.incident.advance(story.now + 3 * S // 4)
        picture = story.picture()
        for at in SHOWN:
            hands = Hands(holds=True)
            shown = at(hands, before)
            drawn = screen(picture, LOOK, hands, shown)
            lines = ["".join(text for text, _ in line) for line in drawn.lines]
            said = (flood.__name__, at.__name__, other, *lines)
            assert len(lines) == LINES
            assert number_of(picture, CALLER) in drawn.alarms.shown, said
            who = f"{CALLER} Alpha {CALLER}"
            (line,) = [line for line in lines if who in line and "floor 2" in line]
            assert "DISTRESS" in line, said
            assert "NEW" in line, said
            # The one that the key takes is read too, and what has no line is counted.
            assert drawn.alarms.top in drawn.alarms.shown, said
            assert any(" more: " in line for line in lines), said


def test_of_two_that_call_in_one_second_neither_hides_the_other() -> None:
    story = inside()
    one_a_second(story)
    call(story, CALLER, distress=True)
    call(story, 49, motion=Motion.ALARM)
    picture = story.picture()
    drawn = screen(picture, LOOK, Hands(holds=True), the_list(Hands(), picture))
    assert {number_of(picture, CALLER), number_of(picture, 49)} <= set(drawn.alarms.shown)


@pytest.mark.parametrize("flood", FLOODS)
@pytest.mark.parametrize("together", [False, True])
def test_on_the_plain_board(flood: Callable[[Story], None], *, together: bool) -> None:
    """What was said last stands on the screen: the call must be among it.

    ``together``: flood and call fall into one second, so all of it is said in one go.
    """
    story = inside()
    before = story.picture()
    flood(story)
    if not together:
        before = story.picture()
    call(story, CALLER, distress=True)
    picture = story.picture()
    assert sum(a.priority is Priority.DANGER for a in picture.alarms) > FLOOD
    said = sentences(before, picture)
    mine = f"DANGER {number_of(picture, CALLER)}, DISTRESS: {CALLER} Alpha {CALLER}"
    (*_, last) = [n for n, sentence in enumerate(said) if mine in sentence]
    clock = len("22:15:27 ")
    rows = sum(ceil((clock + len(sentence)) / COLUMNS) for sentence in said[last:])
    assert rows < LINES
