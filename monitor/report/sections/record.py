"""The incident in a report: summary, time line, what the record is and how to check it."""

from collections.abc import Iterable, Iterator

from monitor.incident.alarms.entry import Kind
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.picture import Picture, Priority
from monitor.report import words
from monitor.report.alarm_figures import PRIORITY_WORDS
from monitor.report.blocks import Block, Facts, Row, Section, Table, Text
from monitor.report.event_words import who
from monitor.report.heading import use_word, versions
from monitor.report.teller import NONE, Teller

CALLS = frozenset({Kind.DISTRESS, Kind.UNPROVEN_DISTRESS})
NAMES_MAX = 12
"""Named in one sentence on top; the parts below name all."""
GROUP = 4
"""Hex digits of a digest stand in groups, to be read out."""


# ---------------------------------------------------------------- summary


ROUNDING = (
    "How figures are rounded, in all of this report: what is left or was reached (pressure, air, "
    "how long something lasted) is cut off; what counts against us (losses, shares of alarms, time "
    "until something was seen or taken, air used, a pressure at which something must be done) "
    "goes up."
)


def summary(teller: Teller) -> Section:
    """The incident in short, and what to look at first."""
    return Section("summary", "Summary", _summary(teller))


def _summary(teller: Teller) -> Iterator[Block]:
    yield from _warnings(teller)
    yield Facts("The incident", tuple(_facts(teller)))
    yield Table(
        "Whose board it was",
        ("officer", "from", "to"),
        _officers(teller),
    )
    yield from _kept(teller)
    yield Text(ROUNDING)


def left_out(teller: Teller) -> Section:
    """In place of the summary, where only a part is told."""
    said = Text(
        "This is a part of the report: what belongs to the wearers and crews in its title. Others, "
        "orders as a whole, the radio and the time line are left out.",
        strong=True,
    )
    return Section("part", "What this is", (said, *_warnings(teller)))


def of_a_stretch(teller: Teller) -> Section:
    """In place of the summary, where only a stretch of time is told."""
    said = Text(
        "This is a part of the report: what reaches into the time in its title. A stay on air, an "
        "alarm or an order that does is told whole; figures of the whole incident are left out.",
        strong=True,
    )
    return Section("part", "What this is", (said, *_warnings(teller)))


def _warnings(teller: Teller) -> Iterator[Block]:
    """What a reader must know before anything else."""
    found = teller.found
    inside = [w for w in found.wears.all if w.spell.to_ns is None]
    if salvaged := teller.told.header.salvaged:
        yield Text(f"Salvaged from a damaged journal, and not all of it: {salvaged}.", strong=True)
    if left_out := teller.told.left_out:
        yield Text(
            f"The journal is damaged. Not told: {left_out}. What is told ends at "
            f"{teller.moment(found.end_ns)}.",
            strong=True,
        )
    if not found.closed:
        yield Text(
            "The incident is not closed. This report tells up to "
            f"{teller.moment(found.end_ns)}; more may follow.",
            strong=True,
        )
    if inside:
        who = _some(f"{wear.label} ({wear.number})" for wear in inside)
        yield Text(f"Still on air where the record ends: {who}.", strong=True)
    yield from _standing(found.last)
    open_orders = [order for order in found.orders if order.is_open]
    if open_orders:
        told = _some(f"{order.number} {order.order} to {order.scope}" for order in open_orders)
        yield Text(f"Orders that are open where the record ends: {told}.", strong=True)
    if found.clock_set:
        set_by = _some(f"by {_signed(by_ns)} at {teller.at(t)}" for t, by_ns in found.clock_set)
        yield Text(
            f"The clock of this machine was set while it was recorded: {set_by}. A time of day "
            "here is what the clock showed then; lengths of time are not touched.",
            strong=True,
        )
    if teller.told.header.fold != FOLD_VERSION:
        yield Text(f"Recorded by {versions(teller.told)}: alarms may differ.", strong=True)
    if found.announced != found.announced_now:
        yield Text(
            f"{found.announced} alarms were announced while it was recorded, {found.announced_now}"
            " by this report's rules. Verify the journal.",
            strong=True,
        )


def _standing(last: Picture | None) -> Iterator[Block]:
    """Alarms as the board and the page of a handover have them: not those held back."""
    if last is None:
        return
    if last.alarms:
        told = _some(f"{a.number} {a.word} of {a.subject}" for a in last.alarms)
        yield Text(f"Alarms that stand where the record ends: {told}.", strong=True)
    if last.put_aside:
        told = _some(f"{a.number} {a.word} of {a.subject}" for a in last.put_aside)
        yield Text(f"Alarms that are put aside where the record ends: {told}.", strong=True)


def _some(names: Iterable[str]) -> str:
    """The first of them, and how many more there are."""
    named = list(names)
    rest = len(named) - NAMES_MAX
    return ", ".join(named[:NAMES_MAX]) + (f" and {rest} more" if rest > 0 else "")


def _facts(teller: Teller) -> Iterator[Row]:
    opened, found = teller.opened, teller.found
    start = found.wall.at(0)
    yield "name", opened.name
    yield "use", use_word(teller.told)
    if found.real is not None:
        t, act = found.real
        reason = f": {act.reason}" if act.reason else ""
        yield "real emergency", f"from {teller.at(t)}, by {act.by}{reason}"
    yield "place", opened.place or words.NOT_RECORDED
    yield "entry point", opened.entry_point or words.NOT_RECORDED
    if opened.operation:
        yield "operation", opened.operation
    yield "stage or control level", opened.stage or words.NOT_RECORDED
    yield "date", words.date(start, teller.zone)
    yield "times are of the zone", f"{words.zone_name(start, teller.zone)} of Universal Time"
    yield "opened", teller.moment(0)
    yield ("closed" if found.closed else "told up to"), teller.moment(found.end_ns)
    yield "length", words.span(found.end_ns)
    yield from _other_length(teller)
    checked = "by the officer, at opening" if opened.clock_checked else words.NOT_RECORDED
    yield "clock checked against control", checked
    yield "procedure", f"{opened.procedure.name}: {opened.procedure.title}"
    yield from _people(teller)
    yield from _events(teller)


def _other_length(teller: Teller) -> Iterator[Row]:
    """What makes the time of day at the end another than the start and the length give."""
    found = teller.found
    by_clock_ns = found.wall.at(found.end_ns) - found.wall.at(0)
    if found.paused:
        told = words.span(sum(found.paused))
        yield "paused", f"{words.counted(len(found.paused), 'time')}, {told}, not in the length"
    if abs(by_clock_ns - found.end_ns) >= words.SECOND_NS:
        shown = words.span(by_clock_ns) if by_clock_ns >= 0 else "less than nothing: set back"
        yield "length by the wall clock", shown


def _signed(ns: int) -> str:
    return f"{'+' if ns > 0 else '-'}{words.span(abs(ns))}"


def _people(teller: Teller) -> Iterator[Row]:
    found = teller.found
    wears = found.wears
    under_air = sum(s.length_ns(found.end_ns) for s in wears.under_air(found.end_ns))
    yield "people on the board", str(len(wears.people))
    crews = {person.crew for person in wears.people.values() if person.crew}
    yield "crews", str(len(crews))
    yield "stays on air", str(len(wears.all))
    yield "under air at once, at most", str(wears.max_under_air)
    yield "somebody was under air for", words.span(under_air)


def _events(teller: Teller) -> Iterator[Row]:
    found = teller.found
    lives = found.lives.in_order()
    for priority in Priority:
        count = sum(life.priority is priority for life in lives)
        yield f"alarms of priority {PRIORITY_WORDS[priority]}", str(count)
    calls = [life for life in lives if life.kind in CALLS]
    told = _some(f"{life.subject} at {teller.at(life.raised_ns)}" for life in calls)
    yield "calls of distress", told or "none"
    evacuations = [order for order in found.orders if order.order == "evacuate"]
    rolls = [order for order in found.orders if order.order == "roll call"]
    yield "evacuations", str(len(evacuations))
    yield "roll calls", str(len(rolls))
    accounts = [pack.account for pack in found.links.packs.values()]
    lost = sum(account.lost for account in accounts)
    sent = lost + sum(account.taken for account in accounts)
    areas = found.last.areas if found.last else ()
    told = "; ".join(f"{area.area} ({area.state})" for area in areas)
    yield "areas searched", told or "none noted"
    share = words.percent_up(lost / sent if sent else None)
    yield "frames lost on the air", f"{share}, rounded up" if sent else share
    last = found.last
    frames = "keyed: frames prove where they come from" if last and last.keyed else ""
    yield "packs", frames or "open mode: frames prove nothing of where they come from"


def _officers(teller: Teller) -> Iterator[Row]:
    officers = teller.found.officers
    ends = [since for since, _ in officers[1:]]
    for (since, name), end in zip(officers, [*ends, None], strict=True):
        yield name, teller.at(since), teller.at(end) or "where the record ends"


def _kept(teller: Teller) -> Iterator[Block]:
    """Areas, sets and cylinders as they stood where the record ends."""
    last, people = teller.found.last, teller.found.wears.people
    if last is None:
        return
    yield Table(
        "Areas searched",
        ("area", "how far", "by wearers", "noted", "by"),
        ((a.area, a.state, who(a.wearers, people), teller.at(a.at_ns), a.by) for a in last.areas),
        "none noted",
    )
    yield Table(
        "Sets at fault, and cylinders to fill",
        ("what", "why"),
        (
            *((f"set {one.set_id}", one.text) for one in last.defects),
            *((f"cylinder {one.cylinder_id}", _left(teller, one.bar)) for one in last.to_fill),
        ),
        "none noted",
    )


def _left(teller: Teller, bar: float | None) -> str:
    return f"to fill, last read {words.NOT_KNOWN if bar is None else teller.pressure(bar)}"


# ---------------------------------------------------------------- time line


def timeline(teller: Teller) -> Section:
    """Everything that was done, noticed and told, in order."""
    return Section("timeline", "Time line", _timeline(teller))


def _timeline(teller: Teller) -> Iterator[Block]:
    line = teller.found.timeline
    yield Text(
        "What the officer entered, what the base noticed, and what alarms did, in order. Nothing is"
        " ever overwritten: a correction is a later line. Frames that were refused and copies of"
        " orders are counted under Radio and Orders."
    )
    people = teller.found.wears.people
    yield Table(
        "Remarks",
        ("time", "remark", "about", "by"),
        (
            (teller.at(t), note.text, who((note.wearer,), people) if note.wearer else NONE, note.by)
            for t, note in teller.found.remarks
        ),
    )
    yield Table(
        "Corrections: both stand in the record",
        ("time", "what is right", "of", "by"),
        ((teller.at(t), act.text, of, act.by) for t, act, of in teller.found.corrections),
    )
    yield Table(
        "Everything in order",
        ("time", "from", "what", "by", "was at"),
        (
            (teller.at(x.t), x.source.value, x.words, x.by, teller.at(x.earlier_ns))
            for x in line.lines
        ),
    )
    if line.left_out:
        yield Text(f"{line.left_out} more lines are not told: too many.", strong=True)


# ---------------------------------------------------------------- the record


def record(teller: Teller) -> Section:
    """What this was made from and how to check it."""
    return Section("record", "The record", _record(teller))


def _record(teller: Teller) -> Iterator[Block]:
    told, found = teller.told, teller.found
    header, last = told.header, told.last
    how = "keyed" if header.digest == "keyed" else "open: made without a key"
    same = "the same" if found.announced == found.announced_now else "NOT the same"
    yield Facts(
        "What this report was made from",
        (
            ("journal", told.name),
            ("incident identity", header.incident),
            ("recorded by", header.software),
            ("rules of the recorder", f"version {header.fold}"),
            ("rules of this report", f"version {FOLD_VERSION}"),
            ("format of the journal", f"version {header.format}"),
            ("alarm catalogue", header.catalogue or words.NOT_RECORDED),
            ("packs were simulated", header.simulated or "no"),
            ("rows", str(last.last_row)),
            ("frames heard", str(found.frames)),
            ("commits", str(last.batch)),
            ("newest commit", words.moment(last.wall_ns, teller.zone)),
            ("running digest of the newest commit", _grouped(last.digest.hex())),
            ("kind of digest", how),
            (
                "alarms announced while recording, and by this report",
                f"{found.announced} and {found.announced_now}: {same} number",
            ),
        ),
    )
    yield Text(
        'This report does not check the digest. "outby verify" with the journal does: order,'
        " digest, every announced alarm. Note the digest down where nobody can change it."
    )
    yield Table(
        "Stretches of recording",
        ("number", "began", "by", "start of the machine"),
        (
            (
                str(s.session), words.moment(s.started_wall_ns, teller.zone), s.software,
                s.boot_id or words.NOT_KNOWN,
            )
            for s in told.sessions
        ),
    )  # fmt: skip


def _grouped(digest: str) -> str:
    return " ".join(digest[at : at + GROUP] for at in range(0, len(digest), GROUP)) or NONE
