"""What an act or a fact says, as one sentence of the time line. Pure.

An act or fact that has no words of its own here is told by its name and its fields: nothing that
was recorded is left out because this module does not know it yet.
"""

from collections.abc import Callable, Iterable, Mapping

from monitor.incident import events, units
from monitor.incident.base_power import BasePower
from monitor.incident.events import Act, Fact
from monitor.incident.orders.events import AnswerByVoice, CloseOrder, EmergencyCrew, GiveOrder
from monitor.incident.record import events as record
from monitor.incident.second_place import SecondPlace
from monitor.report import words
from monitor.report.wears import Person

NAMES_MAX = 12
"""Named in one sentence; the rest are counted."""
UNSAID = frozenset({"what", "id", "by", "seen_ns", "wearers", "wearer"})
"""Fields that stand elsewhere or say nothing to a reader."""

People = Mapping[int, Person]


def who(numbers: Iterable[int], people: People) -> str:
    """Wearers by board number and the name that the base calls them by."""
    named = [f"{n} {people[n].label}" if n in people else str(n) for n in sorted(numbers)]
    rest = len(named) - NAMES_MAX
    return ", ".join(named[:NAMES_MAX]) + (f" and {rest} more" if rest > 0 else "")


def act_words(act: Act, people: People, unit: str) -> str:
    """One sentence, without who did it and when. ``unit``: pressures are given in."""
    teller = _ACTS.get(type(act))
    said = teller(act, people, unit) if teller else _plainly(act)
    numbers: tuple[int, ...] = getattr(act, "wearers", ())
    single: int | None = getattr(act, "wearer", None)
    whose = numbers or (() if single is None else (single,))
    return f"{who(whose, people)}: {said}" if whose else said


def fact_words(fact: Act | Fact) -> str:
    """One sentence."""
    teller = _FACTS.get(type(fact))
    return teller(fact) if teller else _plainly(fact)


def _plainly(what: Act | Fact) -> str:
    """Any act or fact: its name, then each field that says something."""
    fields = what.model_dump()
    name = str(fields["what"]).replace("_", " ")
    said = [
        f"{field.replace('_', ' ')} {value}"
        for field, value in fields.items()
        if field not in UNSAID and value not in ("", None, (), False)
    ]
    return ", ".join([name, *said])


def _pressure(bar: float | None, unit: str) -> str:
    return "" if bar is None else f"{units.left(bar, unit)} {unit}"


def _joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _listed(act: events.ListWearer, _people: People, _unit: str) -> str:
    leads = "leader" if act.leader else ""
    return _joined("on the board", act.name, act.crew, leads)


def _set(act: events.JoinPack, _people: People, unit: str) -> str:
    size = "" if act.water_volume_l is None else f"{act.water_volume_l:g} litre cylinder"
    rated = "" if act.rated_bar is None else f"rated {_pressure(act.rated_bar, unit)}"
    pack = "no telemetry" if act.pack is None else f"pack {act.pack}"
    marks = (
        f"set {act.set_id}" if act.set_id else "",
        f"cylinder {act.cylinder_id}" if act.cylinder_id else "",
    )
    how = "expected, with" if act.expected else "checked in"
    return _joined(how, pack, size, rated, act.apparatus, *marks)


def _connected(act: events.Connect, _people: People, unit: str) -> str:
    return _joined("connected to air", _pressure(act.pressure_bar, unit))


def _order(act: GiveOrder, _people: People, _unit: str) -> str:
    passed_on = f"on the order of {act.on_order_of}" if act.on_order_of else ""
    return _joined(f"order: {act.order}, {act.scope}", act.reason, passed_on)


def _named(*told: tuple[str, str]) -> list[str]:
    return [f"{name} {said}" for name, said in told if said]


def _relief(act: record.PlanRelief, _people: People, _unit: str) -> str:
    if act.due_ns is None:
        return f"{act.crew}: relief no longer planned"
    by = f" by {act.by_crew}" if act.by_crew else ""
    return f"{act.crew}: relief{by} planned at {words.span(act.due_ns)} of incident time"


def _cylinder(act: record.ChangeCylinder, _people: People, unit: str) -> str:
    size = "" if act.water_volume_l is None else f"{act.water_volume_l:g} litres"
    rated = "" if act.rated_bar is None else f"rated {_pressure(act.rated_bar, unit)}"
    return _joined("fresh cylinder", act.cylinder_id, size, rated)


def _numbers(alarms: Iterable[int]) -> str:
    return " and ".join(str(number) for number in alarms)


_ACTS: dict[type, Callable[..., str]] = {
    events.ListWearer: _listed,
    events.JoinPack: _set,
    events.SetCrew: lambda a, _p, _u: f"now in {a.crew or 'no crew'}",
    events.Connect: _connected,
    events.Enter: lambda a, _p, _u: _joined(
        "entered", a.location, a.task, a.brief, a.communications
    ),
    events.Locate: lambda a, _p, _u: f"now at {a.location}",
    events.ComeOut: lambda a, _p, _u: f"came out at {a.door}" if a.door else "came out",
    events.OffAir: lambda _a, _p, _u: "off air",
    events.SpokenReading: lambda a, _p, u: _joined(
        f"gauge read out: {_pressure(a.pressure_bar, u)}",
        "the lowest of these" if a.lowest else "",
        a.location,
    ),
    events.AmendStart: lambda a, _p, u: (
        f"pressure at connecting, told or put right: {_pressure(a.pressure_bar, u)}"
    ),
    events.TrustGauge: lambda a, _p, _u: (
        f"of gauge and pack that contradict each other the {a.counts} counts"
    ),
    events.ReachObjective: lambda a, _p, u: _joined(
        "objective reached", _pressure(a.pressure_bar, u)
    ),
    events.NewObjective: lambda a, _p, _u: _joined("sent on", a.location),
    events.StartBack: lambda _a, _p, _u: "started back",
    events.AugmentSupply: lambda a, _p, _u: (
        "on another supply" if a.on else "on the own cylinder again"
    ),
    events.PutAside: lambda a, _p, _u: (
        f"alarm {a.alarm} put aside for {words.counted(a.minutes, 'minute')}: {a.reason}"
    ),
    events.TakeBack: lambda a, _p, _u: f"alarm {a.alarm} taken back",
    events.Acknowledge: lambda a, _p, _u: f"alarm {_numbers(a.alarms)} acknowledged",
    events.Reset: lambda a, _p, _u: f"alarm {a.alarm} reset: {a.reason}",
    events.Silence: lambda a, _p, _u: f"sound silenced for {words.counted(a.seconds, 'second')}",
    events.EnrolAgain: lambda a, _p, _u: f"pack {a.pack} enrolled again",
    GiveOrder: _order,
    AnswerByVoice: lambda a, _p, _u: f"order {a.order} answered by voice",
    CloseOrder: lambda a, _p, _u: _joined(f"order {a.order} closed", a.override),
    EmergencyCrew: lambda a, _p, _u: f"{a.crew} as emergency crew: {a.state}",
    record.TickCheck: lambda a, _p, _u: _joined(
        f"check by hand: {a.check} {'passed' if a.passed else 'FAILED'}", a.remark
    ),
    record.Assign: lambda a, _p, _u: _joined(
        "told", *_named(("task", a.task), ("brief", a.brief), ("by", a.communications))
    ),
    record.Arrive: lambda _a, _p, _u: "here, as on the roster",
    record.SearchArea: lambda a, _p, _u: f"area {a.area}: {a.state}",
    record.PlanRelief: _relief,
    record.MoveBoard: lambda a, _p, _u: f"moved to {a.board}" if a.board else "on this board again",
    record.TickAfterUse: lambda a, _p, _u: f"set: {a.step}",
    record.ReportDefect: lambda a, _p, _u: f"set {a.set_id} at fault: {a.text}",
    record.ClearDefect: lambda a, _p, _u: f"defect of set {a.set_id} cleared: {a.text}",
    record.ChangeCylinder: _cylinder,
    record.FillCylinder: lambda a, _p, _u: f"cylinder {a.cylinder_id} filled",
    record.TellEmergency: lambda a, _p, _u: f"emergency message to {a.to}: {a.text}",
    record.RealEmergency: lambda a, _p, _u: _joined("REAL EMERGENCY", a.reason),
    record.PauseExercise: lambda a, _p, _u: "EXERCISE PAUSED" if a.on else "the exercise goes on",
    record.HandOver: lambda a, _p, _u: _joined(f"board from {a.by} to {a.to}", a.remark),
    record.Correct: lambda a, _p, _u: f"correction of an earlier act: {a.text}",
    record.Undo: lambda _a, _p, _u: "last step taken back: it was noted by mistake",
    record.SetStage: lambda a, _p, _u: f"stage {a.stage}",
    events.Note: lambda a, _p, _u: f"remark: {a.text}",
    events.Close: lambda a, _p, _u: _joined("incident closed", a.override),
}
"""Each is only ever given the kind of act that it stands beside."""


def _opened(fact: events.Opened) -> str:
    checked = ", clock checked against control" if fact.clock_checked else ""
    return (
        f"incident opened by {fact.officer}, {fact.use}, procedure {fact.procedure.name}{checked}"
    )


def _resumed(fact: events.Resumed) -> str:
    return f"recorder back after {words.span(fact.down_ns)} (by {fact.known_by})"


def _setup(fact: events.Setup) -> str:
    keys = f"keys lost: {fact.key_fault}" if fact.key_fault else ""
    heard = f"recorded from {', '.join(fact.links)}"
    return _joined(heard, keys)


def _link(fact: events.LinkState) -> str:
    return _joined(f"link {fact.name} {'up' if fact.up else 'down'}", fact.detail)


def _refused(fact: events.Refused) -> str:
    counts = ", ".join(f"{count} {reason.lower()}" for reason, count in fact.counts.items())
    return f"frames refused: {counts}".replace("_", " ")


def _second_place(fact: SecondPlace) -> str:
    digest = "" if fact.checked else ", its digest not checked: the keys are lost"
    return {
        "none": "no second place for rows if the journal's disk takes none",
        "ready": f"second place for rows: {fact.path}",
        "in use": f"rows go to a second place too: {fact.path}",
        "left": f"all rows are in the journal again: {fact.path} is left",
        "merged": f"{fact.rows} rows brought into the journal from {fact.path}{digest}",
        "no answer": f"the second place did not answer, what it has is left there: {fact.path}",
        "differs": f"what is in {fact.path} does not go on from the journal, and is kept",
    }[fact.state]


_FACTS: dict[type, Callable[..., str]] = {
    events.Opened: _opened,
    events.Resumed: _resumed,
    events.Stall: lambda f: f"the base stood still for {words.span(f.to_ns - f.from_ns)}",
    events.TimeMoved: lambda f: f"incident time moved on by {words.span(f.by_ns)}",
    events.WentOn: lambda f: f"incident time stood still for {words.span(f.stood_ns)}",
    events.ClockStep: lambda f: f"wall clock set by {f.by_ns / words.SECOND_NS:+.3f} s",
    events.Setup: _setup,
    events.LinkState: _link,
    events.Refused: _refused,
    events.DiskState: lambda f: _joined(f"disk {f.state}", f.detail),
    SecondPlace: _second_place,
    BasePower: lambda f: _joined(
        f"base on {f.state}", "" if f.percent is None else f"{f.percent} %"
    ),
    events.SoundState: lambda f: _joined(f"sound by {f.state}", f.detail),
    events.PackClock: lambda f: (
        f"the clock of pack {f.pack} is at least {abs(f.ppm) / 10_000:.2f} % "
        f"{'slow' if f.ppm > 0 else 'fast'}"
    ),
    events.BoardsAlive: lambda f: "a board draws" if f.alive else "no board draws any more",
    events.Holder: lambda f: f"board held by {f.by}" if f.by else "nobody holds the board",
}
"""The same for facts."""
