"""The step that was noted last is taken back by two keys."""

from dataclasses import replace
from typing import Any

from monitor.board.acts import undo
from monitor.board.acts.effects import Say, WriteAct, act_of
from monitor.board.acts.questions import Mode
from monitor.board.keys.hands import Hands
from monitor.board.plain.commands import command
from monitor.incident.record.state import UndoView
from monitor.incident.record.undoing import UNDOABLE

S = 1_000_000_000
STEP = UndoView("act-slip-1", "R. Harrow", "come_out", (4,), 22 * S)


def test_every_step_that_can_go_has_words() -> None:
    assert set(undo.STEPS) == {kind.model_fields["what"].default for kind in UNDOABLE}


def test_backspace_asks_and_one_takes_it_back(scenes: Any) -> None:
    picture, hands = replace(scenes.quiet(), undo=STEP), Hands()
    assert hands.press("backspace", 10 * S, picture) is None
    assert hands.mode is Mode.UNDO
    effect = hands.press("1", 11 * S, picture)
    assert effect == WriteAct(
        {"what": "undo", "of": "act-slip-1", "wearers": (4,)}, "taken back: out: 4 Alpha 2-2"
    )
    made = act_of(effect, "act-number-1", "R. Harrow", 0)
    assert made.what == "undo"


def test_what_was_asked_about_is_what_goes(scenes: Any) -> None:
    """Another step that comes in between must not be the one that is taken back."""
    hands = Hands()
    hands.press("backspace", 10 * S, replace(scenes.quiet(), undo=STEP))
    later = replace(scenes.quiet(), undo=replace(STEP, of="act-other-1"))
    effect = hands.press("1", 11 * S, later)
    assert isinstance(effect, WriteAct)
    assert effect.fields["of"] == "act-slip-1"


def test_no_other_key_takes_it_back(scenes: Any) -> None:
    picture = replace(scenes.quiet(), undo=STEP)
    for key in ("2", "escape", "backspace", "enter"):
        hands = Hands()
        hands.press("backspace", 10 * S, picture)
        effect = hands.press(key, 11 * S, picture)
        assert not isinstance(effect, WriteAct)


def test_a_choice_is_forgotten_first(scenes: Any) -> None:
    picture, hands = replace(scenes.quiet(), undo=STEP), Hands()
    hands.press("4", 9 * S, picture)
    hands.press("backspace", 10 * S, picture)
    modes = [(hands.mode, hands.chosen)]
    hands.press("backspace", 11 * S, picture)
    assert [*modes, (hands.mode, hands.chosen)] == [(Mode.BOARD, ()), (Mode.UNDO, ())]


def test_nothing_to_take_back_is_said(scenes: Any) -> None:
    assert Hands().press("backspace", S, scenes.quiet()) == Say(undo.NOTHING)
    watching = Hands(holds=False)
    effect = watching.press("backspace", S, replace(scenes.quiet(), undo=STEP))
    assert isinstance(effect, Say)
    assert effect.words.startswith("VIEW ONLY")


def test_the_question_says_what_whose_and_when(scenes: Any) -> None:
    assert undo.question(STEP, scenes.quiet()) == ("TAKE BACK out: 4 Alpha 2-2, noted 22 s ago?")


def test_typed_it_is_one_word(scenes: Any) -> None:
    made = command("undo", replace(scenes.quiet(), undo=STEP))
    assert isinstance(made, WriteAct)
    assert command("undo", scenes.quiet()) == [f"{undo.NOTHING}."]
