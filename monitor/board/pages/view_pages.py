"""Pages to look at in the place of the list: check-in, alarms, log, links, areas and sets. Pure."""

from collections.abc import Callable, Collection, Iterator, Sequence

from monitor.board.keys.table import View
from monitor.board.lines.alarm_lines import is_new, is_over
from monitor.board.pages.one_wearer import Page
from monitor.board.sheets.after import told
from monitor.board.sheets.common import Context, LogEntry
from monitor.board.sheets.door import lit_first
from monitor.board.words import wording
from monitor.board.words.choosing import wearer_of
from monitor.board.words.marks import BLANK, Line, Look, Role, clean, fit, wrapped
from monitor.incident.picture import AlarmView, ChecksView, Phase, Picture, Priority, WearerView

Text = tuple[str, Role]
CHECKED = {"passed": "", "by hand": " by hand", "failed": " FAILED", "open": " open"}


def view_page(
    view: View, picture: Picture, look: Look, room: int, page: int, log: Sequence[LogEntry] = ()
) -> Page:
    """One page, counted from 0; the last one for a number beyond it."""
    context = Context(picture, zone=look.zone, log=log)
    texts = [
        (part, role)
        for text, role in _VIEWS[view](context)
        for part in wrapped(text, look.width, "    ")
    ]
    if room < 1:
        return Page([], more=False)
    head: Text = (HEADINGS[view], Role.STRONG)
    inner = max(1, room - 1)
    if len(texts) > inner:
        inner = max(1, inner - 1)
    pages = max(1, -(-len(texts) // inner))
    at = min(page, pages - 1)
    shown = [head, *texts[at * inner : (at + 1) * inner]]
    left = len(texts) - (at + 1) * inner
    lines: list[Line] = [((fit(text, look.width, look.glyphs), role),) for text, role in shown]
    lines += [BLANK] * (room - len(lines))
    if left > 0:
        lines[room - 1] = ((f"  d: {wording.counted(left, 'more line')}", Role.FAINT),)
    return Page(lines[:room], more=left > 0)


def _name(one: WearerView | None) -> str:
    return "" if one is None else f"{one.wearer} {clean(one.call_sign or one.name)}"


# ---------------------------------------------------------------- check-in


def _check_in(context: Context) -> list[Text]:
    picture = context.picture
    unit = picture.pressure_unit
    texts: list[Text] = []
    for pack in lit_first(picture):
        air = "air ?" if pack.pressure_bar is None else wording.pressure(pack.pressure_bar, unit)
        words = f"pack {pack.pack}  {air} {unit}  heard {wording.age(pack.silence_ns)} ago"
        mark = "  HERE" if pack.lit else ""
        texts.append((f"{words}  nobody's{mark}", Role.STRONG if pack.lit else Role.QUIET))
    if not texts:
        texts.append(("no pack is heard that belongs to nobody", Role.QUIET))
    waits = [w for w in picture.wearers if w.phase is Phase.LISTED]
    if waits:
        named = ", ".join(_name(one) for one in waits)
        texts += [("", Role.QUIET), (f"not here yet: {named}", Role.STRONG)]
    if picture.checks:
        texts.append(("", Role.QUIET))
    texts += [_checks(checks, picture) for checks in picture.checks]
    return texts


def _checks(checks: ChecksView, picture: Picture) -> Text:
    """A wearer at the door: complete, or what is missing and what it goes by."""
    one = wearer_of(picture, checks.wearer)
    name = _name(one)
    if one is not None and one.defect:
        name += f"  set {clean(one.set_id)} AT FAULT: {clean(one.defect)}"
    if checks.complete:
        # What was ticked stands there with what the packets say of it.
        by_hand = ", ".join(_told(checks, {"by hand"}))
        return f"{name}  checks complete{f', {by_hand}' if by_hand else ''}", Role.QUIET
    missing = ", ".join(_told(checks, {"failed", "open"}))
    return f"{name}  missing: {missing}", Role.STRONG


def _told(checks: ChecksView, states: Collection[str]) -> list[str]:
    """Those in one of these states, each with what it goes by."""
    return [
        f"{line.check}{CHECKED[line.state]}" + (f" ({clean(line.words)})" if line.words else "")
        for line in checks.lines
        if line.state in states
    ]


# ---------------------------------------------------------------- alarms


def _alarms(context: Context) -> list[Text]:
    texts: list[Text] = []
    for alarm in context.picture.alarms:
        texts += _alarm(alarm)
    for aside in context.picture.put_aside:
        left = wording.age(aside.left_ns)
        words = f"put aside for {left} more by {clean(aside.by)}: {clean(aside.reason)}"
        texts.append((f"{aside.word}  {clean(aside.subject)}  {words}", Role.QUIET))
    return texts or [("no alarm", Role.QUIET)]


def _over(alarm: AlarmView) -> str:
    if alarm.latched:
        return "over, not reset"
    return "over" if is_over(alarm) else ""


def _alarm(alarm: AlarmView) -> list[Text]:
    taken = "NEW" if is_new(alarm) else "taken" if alarm.priority is not Priority.NOTICE else ""
    state = "  ".join(filter(None, (taken, _over(alarm))))
    age = wording.age(alarm.raised_for_ns)
    role = Role.STRONG if is_new(alarm) else Role.TEXT
    parts = (alarm.word, clean(alarm.subject), state, age)
    texts = [("  ".join(filter(None, parts)), role)]
    more = "  ".join(filter(None, (clean(alarm.to_do), clean(alarm.detail))))
    return [*texts, (f"    {more}", Role.QUIET)] if more else texts


# ---------------------------------------------------------------- log, links


def _log(context: Context) -> list[Text]:
    return [(told(entry, context), Role.QUIET) for entry in context.log] or [
        ("nothing was done yet", Role.QUIET)
    ]


def _links(context: Context) -> list[Text]:
    picture = context.picture
    texts: list[Text] = []
    for link in picture.links:
        state = "up" if link.up else "DOWN"
        detail = f"  {clean(link.detail)}" if link.detail else ""
        role = Role.QUIET if link.up else Role.STRONG
        texts.append((f"link {link.link}  {clean(link.name)}  {state}{detail}", role))
    counted = [*picture.refused, *picture.doubtful]
    if counted:
        told_counts = ", ".join(
            f"{n} {reason.casefold().replace('_', ' ')}" for reason, n in counted
        )
        texts.append((f"frames not let through or not counted: {told_counts}", Role.QUIET))
    texts += [(_pack(one), Role.QUIET) for one in picture.wearers if one.pack is not None]
    return texts or [("no link", Role.STRONG)]


def _pack(one: WearerView) -> str:
    heard = "never heard" if one.silence_ns is None else f"heard {wording.age(one.silence_ns)} ago"
    lost = wording.loss_percent(one.frames_taken, one.frames_lost)
    battery = "battery ?" if one.battery_percent is None else f"battery {one.battery_percent} %"
    dbm = "" if one.signal_dbm is None else f"{one.signal_dbm} dBm"
    parts = (f"pack {one.pack}  {_name(one)}", str(one.signal), heard, f"lost {lost} %", battery,
             dbm, clean(one.link_rule))  # fmt: skip
    return "  ".join(part for part in parts if part)


# ---------------------------------------------------------------- areas, reliefs, sets


def _record(context: Context) -> list[Text]:
    texts = [*_areas(context), *_reliefs(context.picture), *_sets(context.picture)]
    return texts or [("no area, relief, defect or cylinder is noted", Role.QUIET)]


def _areas(context: Context) -> Iterator[Text]:
    picture = context.picture
    for area in picture.areas:
        at = wording.day_time(picture.wall_ns - picture.t + area.at_ns, context.zone)
        who = ", ".join(_name(wearer_of(picture, n)) for n in area.wearers)
        words = "  ".join(filter(None, (f"area {clean(area.area)}", area.state, who, at)))
        yield words, Role.QUIET


def _reliefs(picture: Picture) -> Iterator[Text]:
    for relief in picture.reliefs:
        late = relief.due_in_ns < 0
        when = f"overdue {wording.age(-relief.due_in_ns)}" if late else _in(relief.due_in_ns)
        by = f" by {clean(relief.by_crew)}" if relief.by_crew else ""
        words = f"relief of {clean(relief.crew)}{by}: {when}"
        yield words, Role.STRONG if late else Role.QUIET


def _sets(picture: Picture) -> Iterator[Text]:
    for defect in picture.defects:
        yield f"set {clean(defect.set_id)} at fault: {clean(defect.text)}", Role.STRONG
    for after in picture.after_use:
        name = _name(wearer_of(picture, after.wearer))
        yield f"set of {name}, to do: {', '.join(after.open)}", Role.QUIET
    unit = picture.pressure_unit
    for cylinder in picture.to_fill:
        left = "" if cylinder.bar is None else wording.pressure(cylinder.bar, unit)
        last = f", last read {left} {unit}" if left else ""
        yield f"cylinder {clean(cylinder.cylinder_id)} to fill{last}", Role.QUIET


def _in(ns: int) -> str:
    """Minutes until something, rounded down."""
    return f"in {wording.counted(ns // (wording.MINUTE_S * wording.SECOND_NS), 'minute')}"


HEADINGS = {
    View.CHECK_IN: "CHECK-IN: press the pack's button, its row stands out; Enter 11 joins it",
    View.ALARMS: "ALARMS, the most urgent first",
    View.LOG: "LOG, newest first",
    View.LINKS: "LINKS AND PACKS",
    View.RECORD: "AREAS, RELIEFS, SETS",
}
_VIEWS: dict[View, Callable[[Context], list[Text]]] = {
    View.CHECK_IN: _check_in,
    View.ALARMS: _alarms,
    View.LOG: _log,
    View.LINKS: _links,
    View.RECORD: _record,
}
