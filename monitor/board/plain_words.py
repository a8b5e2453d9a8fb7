"""The board in sentences: what a picture says, and what has happened between two. Pure."""

from monitor.board import wording
from monitor.board.alarm_lines import is_new
from monitor.board.marks import clean
from monitor.board.screen import CAUTION_LINES
from monitor.incident.picture import AirFrom, AlarmView, Picture, Priority, WearerView


def first_sentences(picture: Picture) -> list[str]:
    """Say what this is, where, and everything that stands, at the start."""
    use = "EXERCISE" if picture.use == "exercise" else "REAL"
    said = [
        *CAUTION_LINES,
        f"{clean(picture.name)}, entry {clean(picture.entry_point) or 'not named'}, {use}.",
    ]
    if not picture.keyed:
        said.append("OPEN: packs are not authenticated.")
    said += [alarm_sentence(a, picture.pressure_unit) for a in picture.alarms]
    return [*said, summary(picture)]


def summary(picture: Picture) -> str:
    """Say in one sentence who is in."""
    use = "EXERCISE. " if picture.use == "exercise" else ""
    waits = sum(1 for a in picture.alarms if is_new(a))
    return (
        f"{use}Under air {picture.under_air}, out {picture.came_out}, signals "
        f"{picture.signals_heard} of {picture.signals_expected}, "
        f"{wording.counted(len(picture.alarms), 'alarm')}, {waits} not taken."
    )


def alarm_sentence(alarm: AlarmView, unit: str = "bar") -> str:
    """Say one alarm in full."""
    parts = [f"{alarm.word}: {clean(alarm.subject)}"]
    if alarm.location:
        parts.append(f"last at {clean(alarm.location)}")
    if alarm.air is not None and alarm.air.pressure_bar is not None:
        about = "estimated " if alarm.air.source is AirFrom.ESTIMATE else ""
        parts.append(f"{about}{wording.pressure(alarm.air.pressure_bar, unit)} {unit}")
    parts.append(f"for {wording.age(alarm.raised_for_ns)}")
    level = "" if alarm.priority is Priority.NOTICE else f"{alarm.priority.name} "
    taken = ". Not taken" if is_new(alarm) else ""
    return f"{level}{alarm.number}, {', '.join(parts)}. {clean(alarm.to_do)}{taken}."


def wearer_sentence(wearer: WearerView, unit: str = "bar") -> str:
    """Say one wearer's line."""
    air = wearer.air
    if air.pressure_bar is None:
        words = "air unknown"
    else:
        about = {AirFrom.ESTIMATE: "estimated ", AirFrom.VOICE: "by voice "}.get(air.source, "")
        words = f"{about}{wording.pressure(air.pressure_bar, unit)} {unit}"
        if air.reading_age_ns is not None:
            words += f", read {wording.age(air.reading_age_ns)} ago"
    who = f"{wearer.wearer} {clean(wearer.call_sign or wearer.name)}"
    return (
        f"{who}: {wearer.state} for {wording.age(wearer.state_for_ns)}, {words}, {wearer.signal}."
    )


def sentences(old: Picture, new: Picture) -> list[str]:
    """Say what has happened between two pictures, alarms first."""
    said: list[str] = []
    before = {a.number: a for a in old.alarms}
    now = {a.number: a for a in new.alarms}
    for number, alarm in now.items():
        was = before.get(number)
        if was is None or was.priority != alarm.priority or was.word != alarm.word:
            said.append(alarm_sentence(alarm, new.pressure_unit))
        elif alarm.acknowledged and not was.acknowledged:
            said.append(f"Alarm {number}, {alarm.word}, taken.")
        elif alarm.latched and not was.latched:
            said.append(f"Alarm {number}, {alarm.word}, is over and waits for its reset.")
    said += [f"Alarm {n}, {a.word}, {clean(a.subject)}, has gone." for n, a in before.items()
             if n not in now]  # fmt: skip
    return said + _wearers(old, new) + _base(old, new)


def _wearers(old: Picture, new: Picture) -> list[str]:
    before = {w.wearer: w for w in old.wearers}
    said = []
    for wearer in new.wearers:
        was = before.get(wearer.wearer)
        if was is None or was.state != wearer.state or was.phase != wearer.phase:
            said.append(wearer_sentence(wearer, new.pressure_unit))
    return said


def _base(old: Picture, new: Picture) -> list[str]:
    before = {link.link: link.up for link in old.links}
    said = [
        f"Link {clean(link.name)} is {'up' if link.up else 'DOWN'}."
        for link in new.links
        if before.get(link.link) is not link.up
    ]
    known = {p.pack for p in old.unjoined}
    said += [
        f"Pack {p.pack} is heard and joined to nobody." for p in new.unjoined if p.pack not in known
    ]
    if old.holder != new.holder:
        said.append(f"{clean(new.holder) or 'Nobody'} has the board.")
    if new.closed and not old.closed:
        said.append("The incident is closed.")
    return said
