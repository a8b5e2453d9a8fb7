"""Acts that keep the record: checks, briefs, areas, reliefs, sets after use, the board itself."""

from typing import Annotated, Literal

from pydantic import Field

from monitor.incident.event_parts import (
    RATED_MAX_BAR,
    WATER_VOLUME_MAX_L,
    ActId,
    Name,
    Ns,
    OfficersAct,
    ShortName,
    Text,
    WearerNumber,
)

CheckName = Literal[
    "self-test", "warnings", "gauge agrees", "full", "battery", "link", "low-air value"
]
"""Start-of-use checks, in the order of the screen (common practice)."""
AfterStep = Literal["valve closed", "bled", "electronics off", "cylinder off", "made ready"]
"""Seeing to a set after use, in this order (common practice)."""
AreaState = Literal["to search", "part searched", "searched"]
_Wearers = Annotated[tuple[WearerNumber, ...], Field(min_length=1)]
_Said = Annotated[Text, Field(min_length=1)]
_SetId = Annotated[ShortName, Field(min_length=1)]


class TickCheck(OfficersAct):
    """A start-of-use check made by hand, or one that failed. It never blocks an entry."""

    what: Literal["tick_check"] = "tick_check"
    wearer: WearerNumber
    check: CheckName
    passed: bool = True
    remark: Text = ""


class Arrive(OfficersAct):
    """Those of a roster are here, with the sets that it gives them."""

    what: Literal["arrive"] = "arrive"
    wearers: _Wearers


class Assign(OfficersAct):
    """Task, brief and communications, told or changed. What is empty stays as it was."""

    what: Literal["assign"] = "assign"
    wearers: _Wearers
    task: Text = ""
    brief: Text = ""
    communications: Text = ""


class SearchArea(OfficersAct):
    """How far an area has been searched, and by whom."""

    what: Literal["search_area"] = "search_area"
    area: Name
    state: AreaState
    wearers: tuple[WearerNumber, ...] = ()


class PlanRelief(OfficersAct):
    """A crew is to be relieved at an instant. ``due_ns`` None: it no longer is."""

    what: Literal["plan_relief"] = "plan_relief"
    crew: _SetId
    by_crew: ShortName = ""
    due_ns: Ns | None = Field(default=None, ge=0)


class MoveBoard(OfficersAct):
    """Another board watches these from now on; an empty name: this one again."""

    what: Literal["move_board"] = "move_board"
    wearers: _Wearers
    board: Text = ""


class TickAfterUse(OfficersAct):
    """A step of seeing to a set that no packet tells of."""

    what: Literal["tick_after_use"] = "tick_after_use"
    wearer: WearerNumber
    step: AfterStep


class ReportDefect(OfficersAct):
    """A set that is not to be used until the defect is cleared."""

    what: Literal["report_defect"] = "report_defect"
    set_id: _SetId
    text: _Said


class ClearDefect(OfficersAct):
    """It may be used again; ``text``: what was done."""

    what: Literal["clear_defect"] = "clear_defect"
    set_id: _SetId
    text: _Said


class ChangeCylinder(OfficersAct):
    """A fresh cylinder on the same set; the old one is to be filled. Sizes None: as before."""

    what: Literal["change_cylinder"] = "change_cylinder"
    wearer: WearerNumber
    cylinder_id: ShortName = ""
    water_volume_l: float | None = Field(default=None, gt=0, le=WATER_VOLUME_MAX_L)
    rated_bar: float | None = Field(default=None, gt=0, le=RATED_MAX_BAR)


class FillCylinder(OfficersAct):
    """A cylinder that was to be filled is full again."""

    what: Literal["fill_cylinder"] = "fill_cylinder"
    cylinder_id: Annotated[Name, Field(max_length=60)]


class TellEmergency(OfficersAct):
    """The emergency message was passed on, in these words."""

    what: Literal["tell_emergency"] = "tell_emergency"
    wearers: _Wearers
    to: Name
    text: _Said


class RealEmergency(OfficersAct):
    """Ends exercise status from this moment; nothing brings it back."""

    what: Literal["real_emergency"] = "real_emergency"
    reason: Text = ""


class PauseExercise(OfficersAct):
    """Incident time of an exercise stands still (``on``), or goes on."""

    what: Literal["pause_exercise"] = "pause_exercise"
    on: bool = True


class HandOver(OfficersAct):
    """The officer (``by``) gives the board to the next (``to``)."""

    what: Literal["hand_over"] = "hand_over"
    to: Name
    remark: Text = ""


class Correct(OfficersAct):
    """What is right about an earlier act. It adds: the act stays in the record as it was."""

    what: Literal["correct"] = "correct"
    of: ActId
    """Id of that act."""
    text: _Said


class Undo(OfficersAct):
    """A step noted by mistake is taken back, of all whom it named or of some (see ``undoing``)."""

    what: Literal["undo"] = "undo"
    of: ActId
    """Id of the step."""
    wearers: _Wearers


class SetStage(OfficersAct):
    """Another stage, or control level."""

    what: Literal["set_stage"] = "set_stage"
    stage: Text


RecordAct = (
    TickCheck
    | Arrive
    | Assign
    | SearchArea
    | PlanRelief
    | MoveBoard
    | TickAfterUse
    | ReportDefect
    | ClearDefect
    | ChangeCylinder
    | FillCylinder
    | TellEmergency
    | RealEmergency
    | PauseExercise
    | HandOver
    | Correct
    | Undo
    | SetStage
)
