"""The board in sentences: what a picture says, and what has happened between two. Pure."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import tzinfo

from monitor.board.lines.alarm_lines import is_fresh_call, is_new, is_over
from monitor.board.lines.columns import RowContext
from monitor.board.pages.one_wearer import facts_words, next_sentence
from monitor.board.pages.screen import CAUTION_LINES
from monitor.board.plain.orders import order_changes, orders_sentences, roll_call_words
from monitor.board.words import wording
from monitor.board.words.marks import ASCII, Look, clean
from monitor.board.words.order_words import (
    COMING_OUT,
    emergency_words,
    is_coming_out,
    row_state,
    state_for_ns,
)
from monitor.incident.air.detail import AirDetail, FanPoint
from monitor.incident.picture import AirFrom, AlarmView, Picture, Priority, PutAsideView, WearerView

LOOK = Look(80, 24, ASCII)
"""For words that are made alike for screens."""

ABOUT_AIR = {AirFrom.ESTIMATE: "estimated ", AirFrom.ASSUMED: "not told, assumed "}
"""Before a pressure that is no reading."""
SOUND_SENTENCES = {
    "player": "Sound on.",
    "bell": "Sound: the bell of each board.",
    "off": "Sound: none here.",
    "missing": "NO SOUND: boards ring their bell.",
    "failing": "NO SOUND: boards ring their bell.",
}


def first_sentences(picture: Picture) -> list[str]:
    """Say what this is, where, and everything that stands, at the start."""
    use = use_words(picture)
    said = [
        *CAUTION_LINES,
        f"{clean(picture.name)}, entry {clean(picture.entry_point) or 'not named'}, {use}.",
    ]
    if not picture.keyed:
        said.append("OPEN: packs are not authenticated.")
    said += [*alarms_sentences(picture), *orders_sentences(picture)]
    if picture.sound and not picture.closed:
        said.append(SOUND_SENTENCES[picture.sound])
    return [*said, summary(picture)]


def use_words(picture: Picture) -> str:
    """Say what this is: real, an exercise, one that stands still."""
    if picture.use != "exercise":
        return "REAL"
    return "EXERCISE PAUSED" if picture.paused else "EXERCISE"


def summary(picture: Picture) -> str:
    """Say in one sentence who is in."""
    use = f"{use_words(picture)}. " if picture.use == "exercise" else ""
    waits = sum(1 for a in picture.alarms if is_new(a))
    aside = f", {len(picture.put_aside)} put aside" if picture.put_aside else ""
    roll = roll_call_words(picture)
    beside = "".join(f", {words}" for words in (emergency_words(picture), roll) if words)
    return (
        f"{use}Under air {picture.under_air}, out {picture.came_out}, signals "
        f"{picture.signals_heard} of {picture.signals_expected}, "
        f"{wording.counted(len(picture.alarms), 'alarm')}, {waits} not taken{aside}{beside}."
    )


def alarms_sentences(picture: Picture) -> list[str]:
    """Say every alarm, and what is put aside."""
    return [
        *(alarm_sentence(a, picture) for a in picture.alarms),
        *(put_aside_sentence(a) for a in picture.put_aside),
    ]


def put_aside_sentence(alarm: PutAsideView) -> str:
    """Say what is put aside, for how long still, by whom and why."""
    left = wording.age(alarm.left_ns)
    called = f"Alarm {alarm.number}, {alarm.word}, {clean(alarm.subject)}"
    return f"{called}, is put aside for {left} by {clean(alarm.by)}: {clean(alarm.reason)}."


def alarm_sentence(alarm: AlarmView, picture: Picture) -> str:
    """Say one alarm in full, pressure in the unit of its wearer's gauge."""
    unit = RowContext(picture, LOOK).unit_of(alarm.wearers[0]) if alarm.wearers else ""
    over = "over: " if is_over(alarm) else ""
    parts = [f"{over}{alarm.word}: {clean(alarm.subject)}"]
    if alarm.location:
        parts.append(f"last at {clean(alarm.location)}")
    if alarm.air is not None and alarm.air.pressure_bar is not None:
        about = ABOUT_AIR.get(alarm.air.source, "")
        parts.append(f"{about}{wording.pressure(alarm.air.pressure_bar, unit)} {unit}")
    if len(alarm.wearers) > 1 and alarm.detail and not over:
        parts.append(clean(alarm.detail))
    parts.append(f"for {wording.age(alarm.raised_for_ns)}")
    level = "" if alarm.priority is Priority.NOTICE else f"{alarm.priority.name} "
    taken = ". Not taken" if is_new(alarm) else ""
    return f"{level}{alarm.number}, {', '.join(parts)}. {clean(alarm.to_do).rstrip('.')}{taken}."


def wearer_sentence(wearer: WearerView) -> str:
    """Say one wearer's line."""
    air, unit = wearer.air, wearer.unit
    if air.pressure_bar is None:
        words = "air unknown"
    else:
        about = {**ABOUT_AIR, AirFrom.VOICE: "by voice "}.get(air.source, "")
        words = f"{about}{wording.pressure(air.pressure_bar, unit)} {unit}"
        if air.reading_age_ns is not None:
            words += f", read {wording.age(air.reading_age_ns)} ago"
    who = f"{wearer.wearer} {clean(wearer.call_sign or wearer.name)}"
    coming_out = is_coming_out(wearer) and row_state(wearer) != COMING_OUT
    said = [
        f"{row_state(wearer)} for {wording.age(state_for_ns(wearer))}",
        COMING_OUT if coming_out else "",
        words,
    ]
    if air.next is not None and wearer.under_air:
        said.append(next_sentence(air.next, "about " if air.next.estimate else ""))
    return f"{who}: {', '.join(filter(None, [*said, wearer.signal]))}."


def all_of_wearer(
    wearer: WearerView, detail: AirDetail | None, picture: Picture, zone: tzinfo | None
) -> list[str]:
    """Say what the screen of one wearer shows, a sentence each."""
    context = RowContext(picture, replace(LOOK, zone=zone))
    said = [wearer_sentence(wearer), sentence_of(facts_words(wearer, context))]
    air = wearer.air
    if air.turn_bar is not None:
        at = wording.turn_pressure(air.turn_bar, wearer.unit)
        how = "" if air.start_from is None or air.start_sure else f", start {air.start_from.value}"
        said.append(f"Turn back at {at} {wearer.unit}{how}.")
    if air.rate_l_min is not None and air.rate_mean_l_min is not None:
        about = "about " if air.rate_about else ""
        mean = wording.rate(air.rate_mean_l_min)
        said.append(f"Rate {about}{wording.rate(air.rate_l_min)} L/min, mean {mean} L/min.")
    if detail is None:
        return said
    offset = picture.wall_ns - picture.t

    def time(t: int) -> str:
        return wording.day_time(t + offset, zone)

    said += [f"{time(m.t)} {clean(m.words)}." for m in detail.marks]
    said += [f"No reading from {time(start)} to {time(end)}." for start, end in detail.gaps]
    said += [f"Forecast for {time(p.t)}: {_fan(p, detail.unit)}." for p in _ahead(detail)]
    return said + [
        f"{clean(r.label).capitalize()}: {clean(r.figure)}, {clean(r.words).rstrip('.')}."
        for r in detail.rules
    ]


FORECASTS = 3
"""So many instants of the forecast are said: one line each, evenly apart."""


def _ahead(detail: AirDetail) -> list[FanPoint]:
    """A few points of the forecast, the last of them among them."""
    step = max(1, len(detail.fan) // FORECASTS)
    return list(detail.fan[::-1][::step][:FORECASTS][::-1])


def _fan(point: FanPoint, unit: str) -> str:
    low, mid, high = (
        wording.pressure(bar, unit) for bar in (point.low_bar, point.mid_bar, point.high_bar)
    )
    return f"at least {low} {unit} in nine cases of ten, {mid} in one of two, {high} in one of ten"


def sentence_of(words: Sequence[str]) -> str:
    """Pieces with commas, with a capital and a full stop."""
    text = ", ".join(word for word in words if word)
    return f"{text[:1].upper()}{text[1:]}."


FEW = 8
"""So many sentences stand on a screen of 24 lines and 80 columns, whatever they say."""
EACH_MAX = 4
"""Wearers who come to be the same at once and are told each in full."""
AGAIN_MAX = 3
"""Calls that are said again after more: the first of so much has gone from a screen by then."""


def sentences(old: Picture, new: Picture) -> list[str]:
    """Say what has happened between two pictures, alarms first; after much, new calls again."""
    said = _happened(old, new)
    if len(said) <= FEW:
        return said
    before = {a.number for a in old.alarms}
    calls = [a for a in new.alarms if a.number not in before and is_fresh_call(a)]
    newest = sorted(calls, key=lambda a: a.raised_for_ns)[:AGAIN_MAX]
    return said + [f"Again: {alarm_sentence(a, new)}" for a in reversed(newest)]


def _happened(old: Picture, new: Picture) -> list[str]:
    said: list[str] = []
    before = {a.number: a for a in old.alarms}
    now = {a.number: a for a in new.alarms}
    for number, alarm in now.items():
        was = before.get(number)
        again = was is not None and was.acknowledged and is_new(alarm)
        if was is None or again or (was.priority, was.word) != (alarm.priority, alarm.word):
            said.append(alarm_sentence(alarm, new))
        elif alarm.acknowledged and not was.acknowledged:
            said.append(f"Alarm {number}, {alarm.word}, taken.")
        elif alarm.latched and not was.latched:
            said.append(f"Alarm {number}, {alarm.word}, is over and waits for its reset.")
    aside = {a.number: a for a in new.put_aside}
    aside_before = {a.number: a for a in old.put_aside}
    said += [put_aside_sentence(a) for n, a in aside.items() if n not in aside_before]
    gone = [a for n, a in (before | aside_before).items() if n not in now and n not in aside]
    said += [f"Alarm {a.number}, {a.word}, {clean(a.subject)}, has gone." for a in gone]
    return said + order_changes(old, new) + _wearers(old, new) + _base(old, new)


def _wearers(old: Picture, new: Picture) -> list[str]:
    """Say who changed, each in full; many who came to be the same at once, in one sentence."""
    before = {w.wearer: w for w in old.wearers}
    changed: dict[str, list[WearerView]] = {}
    for wearer in new.wearers:
        was = before.get(wearer.wearer)
        if was is None or _where(was) != _where(wearer):
            changed.setdefault(row_state(wearer), []).append(wearer)
    said = []
    for state, wearers in changed.items():
        if len(wearers) > EACH_MAX:
            who = (f"{w.wearer} {clean(w.call_sign or w.name)}" for w in wearers)
            said.append(f"Now {state}: {', '.join(who)}.")
        else:
            said += map(wearer_sentence, wearers)
    return said


def _where(wearer: WearerView) -> tuple[str, str, bool]:
    return row_state(wearer), wearer.phase, is_coming_out(wearer)


def _base(old: Picture, new: Picture) -> list[str]:
    return [*_use(old, new), *_links(old, new)]


def _use(old: Picture, new: Picture) -> list[str]:
    """Say that it is an exercise no more, or stands still, or goes on."""
    if use_words(old) == use_words(new):
        return []
    return ["REAL EMERGENCY." if new.use == "real" else f"{use_words(new)}."]


def _links(old: Picture, new: Picture) -> list[str]:
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
    if old.sound != new.sound:
        said.append(SOUND_SENTENCES[new.sound])
    before_ns, silenced_ns = old.sounding.silenced_ns, new.sounding.silenced_ns
    if silenced_ns > before_ns:
        said.append(f"Sound is silenced for {wording.age(silenced_ns)}.")
    elif before_ns and not silenced_ns:
        said.append("Sound is no longer silenced.")
    if old.holder != new.holder:
        said.append(f"{clean(new.holder) or 'Nobody'} has the board.")
    if new.closed and not old.closed:
        said.append("The incident is closed.")
    return said
