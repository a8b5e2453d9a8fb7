"""Tasks and briefs, areas searched, reliefs, wearers that another board watches, the message."""

from dataclasses import replace

from monitor.incident import units
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.alarms.engine import Key
from monitor.incident.conditions import review_wearer
from monitor.incident.deadlines import Due
from monitor.incident.picture import AirFrom, AreaView, Phase, ReliefView
from monitor.incident.record.events import Assign, MoveBoard, PlanRelief, SearchArea
from monitor.incident.record.state import AREAS_MAX, Area, Relief
from monitor.incident.situation import Situation
from monitor.incident.wearer import Wearer
from monitor.incident.wearer_view import air_of

SECOND_NS = 1_000_000_000

# ---------------------------------------------------------------- acts


def assign(s: Situation, act: Assign) -> None:
    """Note what was told; what is empty stays as it was."""
    for number in act.wearers:
        brief(s.wearers[number], act.task, act.brief, act.communications)


def brief(wearer: Wearer, task: str, words: str, communications: str) -> None:
    """Note task, brief and communications of one wearer, as far as they were told."""
    if task and task != wearer.task:
        wearer.task = task
        wear = wearer.live_wear
        if wear is not None and wear.breathing is not None:
            wear.breathing.reckon_anew()  # what is expected hangs on the task
    wearer.brief = words or wearer.brief
    wearer.communications = communications or wearer.communications


def search_area(s: Situation, act: SearchArea) -> None:
    """Note how far it was searched; the last word counts."""
    areas = s.record.areas
    if act.area in areas or len(areas) < AREAS_MAX:
        areas[act.area] = Area(act.state, act.wearers, s.now, act.by)


def plan_relief(s: Situation, act: PlanRelief) -> None:
    """Note it, or that it is planned no more."""
    if act.due_ns is None:
        s.record.reliefs.pop(act.crew, None)
    else:
        s.record.reliefs[act.crew] = Relief(act.by_crew, act.due_ns)
    review_reliefs(s)


def move_board(s: Situation, act: MoveBoard) -> None:
    """Stop watching these, or begin again where they were; their wear goes on meanwhile."""
    for number in act.wearers:
        wearer = s.wearers[number]
        before = wearer.moved_from
        if act.board and before is None:
            wearer.moved_from, wearer.moved_from_ns = wearer.phase, wearer.phase_ns
            wearer.step_to(Phase.MOVED)
        if act.board:
            wearer.phase_ns = s.now
        elif before is not None:
            # What was done elsewhere meanwhile may be noted at the time at which it was.
            wearer.moved_from = None
            wearer.step_to(before)
            wearer.phase_ns = wearer.moved_from_ns
        wearer.moved_to = act.board
        review_wearer(s, wearer)
        if act.board:
            s.engine.take_back_all(number, s.now)


# ---------------------------------------------------------------- refusals


def why_not_relieve(s: Situation, act: PlanRelief, _t: int) -> str | None:
    """Only a crew of this board, and not by itself."""
    if not s.crews.get(act.crew):
        return f"There is no crew {act.crew} on the board."
    return "A crew cannot relieve itself." if act.crew == act.by_crew else None


def why_not_move(s: Situation, act: MoveBoard, _t: int) -> str | None:
    """Whoever is at the door or under air may be moved; back only whoever was."""
    for number in act.wearers:
        wearer = s.wearers[number]
        if not act.board and wearer.moved_from is None:
            return f"{wearer.label} is on this board."
        if act.board and wearer.phase in {Phase.LISTED, Phase.OFF_AIR}:
            return f"{wearer.label} is not on air: no board need watch."
    return None


def why_moved(wearer: Wearer) -> str:
    """Said of whoever another board watches."""
    return f"{wearer.label} is watched by {wearer.moved_to}: first back to this board."


# ---------------------------------------------------------------- reliefs by the clock


def review_reliefs(s: Situation) -> None:
    """Tell the engine which crews are due for relief, and look again when the next one is."""
    for crew, relief in s.record.reliefs.items():
        inside = any(wearer.under_air for wearer in s.crews.get(crew, ()))
        come = relief.due_ns <= s.now
        if come is not relief.come:
            s.record.reliefs[crew] = replace(relief, come=come)
        s.engine.put(Key(Kind.RELIEF, crew=crew), s.now, condition=inside and come)
    _drop_unplanned(s)
    when = relief_due_ns(s)
    if when is not None:
        s.deadlines.put(when, Due.RELIEF, 0)


def relief_due_ns(s: Situation) -> int | None:
    """When the next crew is due that was not yet looked at; None: none is planned."""
    return min((r.due_ns for r in s.record.reliefs.values() if not r.come), default=None)


def _drop_unplanned(s: Situation) -> None:
    for key in [k for k in s.engine.by_key if k.kind is Kind.RELIEF]:
        if key.crew not in s.record.reliefs:
            s.engine.put(key, s.now, condition=False)


# ---------------------------------------------------------------- views


def area_views(s: Situation) -> tuple[AreaView, ...]:
    """Every area noted, in the order of noting."""
    return tuple(
        AreaView(name, area.state, area.wearers, area.t, area.by)
        for name, area in s.record.areas.items()
    )


def relief_views(s: Situation) -> tuple[ReliefView, ...]:
    """Reliefs of crews that are in, the first one due first."""
    found = [
        ReliefView(crew, relief.by_crew, relief.due_ns - s.now)
        for crew, relief in s.record.reliefs.items()
        if any(wearer.under_air for wearer in s.crews.get(crew, ()))
    ]
    return tuple(sorted(found, key=lambda view: (view.due_in_ns, view.crew)))


# ---------------------------------------------------------------- the emergency message


def emergency_form(s: Situation, wearer: Wearer) -> tuple[tuple[str, str], ...]:
    """Heading and value of each field that the procedure wants, from the last data.

    What nobody knows stays empty. Air is a reading with its age, or an estimate that says so,
    rounded down.
    """
    mates = [w for w in s.crews.get(wearer.crew, ()) if w is not wearer and w.under_air]
    values = {
        "time": "",
        "name": wearer.name,
        "unit": wearer.crew,
        "location": _place(s, wearer),
        "task": wearer.task,
        "air": _air(s, wearer),
        "mates": ", ".join(f"{mate.label} {_air(s, mate)}".strip() for mate in mates),
        "resources": "",
    }
    return tuple((heading, values[name]) for name, heading in s.procedure.emergency_form.items())


def _place(s: Situation, wearer: Wearer) -> str:
    if not wearer.location or wearer.location_ns is None:
        return wearer.location
    return f"{wearer.location}, {_ago(s.now - wearer.location_ns)}"


def _air(s: Situation, wearer: Wearer) -> str:
    air = air_of(s, wearer, s.contact_of(wearer))
    if air.pressure_bar is None:
        return ""
    unit = s.unit(wearer)
    figure = f"{units.left(air.pressure_bar, unit)} {unit}"
    if air.source is AirFrom.ASSUMED:
        return f"{figure} assumed, nobody has told it"
    if air.source is AirFrom.ESTIMATE:
        return f"{figure} by estimate, last read {_ago(air.reading_age_ns or 0)}"
    return f"{figure}, {_ago(air.reading_age_ns or 0)}"


def _ago(ns: int) -> str:
    """An age, rounded up."""
    seconds = -(-max(ns, 0) // SECOND_NS)
    minutes = -(-seconds // 60)
    return f"{seconds} s ago" if seconds < 120 else f"{minutes} min ago"  # noqa: PLR2004 - 2 min
