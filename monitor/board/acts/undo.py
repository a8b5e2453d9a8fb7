"""Taking back the step that was noted last: what is asked, and the act that comes of it. Pure."""

from monitor.board.acts.effects import Say, WriteAct
from monitor.board.words import wording
from monitor.board.words.choosing import names
from monitor.incident.picture import Picture
from monitor.incident.record.state import UndoView

STEPS = {
    "enter": "gone in",
    "reach_objective": "objective reached",
    "new_objective": "sent on",
    "start_back": "started back",
    "come_out": "out",
}
"""Steps that can be taken back, by the names of their acts, as the board calls them."""
NOTHING = "nothing to take back: no step of the last 5 min, or something stands on it"


def called(step: UndoView, picture: Picture) -> str:
    """``out: 4 Alpha 2-2``."""
    return f"{STEPS[step.what]}: {names(picture, step.wearers)}"


def question(step: UndoView, picture: Picture) -> str:
    """What is asked before it goes."""
    return f"TAKE BACK {called(step, picture)}, noted {wording.age(step.ago_ns)} ago?"


def undone(step: UndoView | None, picture: Picture) -> WriteAct | Say:
    """The act; a word if there is nothing to take back."""
    if step is None:
        return Say(NOTHING)
    fields = {"what": "undo", "of": step.of, "wearers": step.wearers}
    return WriteAct(fields, f"taken back: {called(step, picture)}")
