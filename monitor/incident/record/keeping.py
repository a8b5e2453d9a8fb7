"""Which act of the record does what, and what speaks against it: the tables."""

from collections.abc import Callable

from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.events import Locate, Note
from monitor.incident.orders.events import AnswerByVoice, GiveOrder
from monitor.incident.picture import Phase
from monitor.incident.record import arrivals, briefs, checks, sets, undoing
from monitor.incident.record import events as acts
from monitor.incident.situation import Situation


def _real_emergency(s: Situation, _act: acts.RealEmergency) -> None:
    s.record.use = "real"
    s.record.paused = False


def _pause(s: Situation, act: acts.PauseExercise) -> None:
    # That time stands still meanwhile is the recorder's part: nothing moves its horizon.
    s.record.paused = act.on


def _why_not_pause(s: Situation, act: acts.PauseExercise, _t: int) -> str | None:
    if s.record.use == "real":
        return "Only an exercise can be paused."
    if s.record.paused is act.on:
        return "The exercise is paused already." if act.on else "The exercise is not paused."
    return None


def _hand_over(s: Situation, act: acts.HandOver) -> None:
    s.record.officer = act.to


def _set_stage(s: Situation, act: acts.SetStage) -> None:
    s.record.stage = act.stage


def _nothing_more(_s: Situation, _act: acts.TellEmergency | acts.Correct) -> None:
    """It stands in the record, and changes nothing else."""


def _why_not_real(s: Situation, _act: acts.RealEmergency, _t: int) -> str | None:
    return "This incident is real already." if s.record.use == "real" else None


def _why_not_hand_over(s: Situation, act: acts.HandOver, _t: int) -> str | None:
    return f"{act.to} has the board already." if act.to == s.record.officer else None


def _why_not_correct(s: Situation, act: acts.Correct, _t: int) -> str | None:
    return None if act.of in s.acts else "There is no such act in the record."


def _why_not_check(s: Situation, act: acts.TickCheck, _t: int) -> str | None:
    wearer = s.wearers[act.wearer]
    without = wearer.phase in {Phase.LISTED, Phase.OFF_AIR}
    return f"{wearer.label} is not checked in." if without else None


def review_limit(s: Situation) -> None:
    """Tell the engine whether more are under air than one board may watch at this stage."""
    most = s.procedure.most_wearers_at(s.record.stage)
    under_air = sum(wearer.under_air for wearer in s.wearers.values())
    s.engine.put(Key(Kind.TOO_MANY), s.now, condition=most is not None and under_air > most)


# Each is only ever given the kind of act that it stands beside.
DOERS: dict[type, Callable[..., None]] = {
    acts.TickCheck: checks.tick_check,
    acts.Arrive: arrivals.arrive,
    acts.Assign: briefs.assign,
    acts.SearchArea: briefs.search_area,
    acts.PlanRelief: briefs.plan_relief,
    acts.MoveBoard: briefs.move_board,
    acts.TickAfterUse: sets.tick_after_use,
    acts.ReportDefect: sets.report_defect,
    acts.ClearDefect: sets.clear_defect,
    acts.ChangeCylinder: sets.change_cylinder,
    acts.FillCylinder: sets.fill_cylinder,
    acts.TellEmergency: _nothing_more,
    acts.RealEmergency: _real_emergency,
    acts.PauseExercise: _pause,
    acts.HandOver: _hand_over,
    acts.Correct: _nothing_more,
    acts.SetStage: _set_stage,
    acts.Undo: undoing.undo,
}
CHECKS: dict[type, Callable[..., str | None]] = {
    acts.TickCheck: _why_not_check,
    acts.Arrive: arrivals.why_not_arrive,
    acts.PlanRelief: briefs.why_not_relieve,
    acts.MoveBoard: briefs.why_not_move,
    acts.TickAfterUse: sets.why_not_after,
    acts.ReportDefect: sets.why_not_report,
    acts.ClearDefect: sets.why_not_clear,
    acts.ChangeCylinder: sets.why_not_change,
    acts.FillCylinder: sets.why_not_filled,
    acts.RealEmergency: _why_not_real,
    acts.PauseExercise: _why_not_pause,
    acts.HandOver: _why_not_hand_over,
    acts.Correct: _why_not_correct,
    acts.Undo: undoing.why_not_undo,
}
MOVED_MAY = (
    acts.MoveBoard,
    acts.Assign,
    acts.TellEmergency,
    acts.SearchArea,
    GiveOrder,
    AnswerByVoice,
    Locate,
    Note,
)
"""What may be noted of somebody whom another board watches."""
