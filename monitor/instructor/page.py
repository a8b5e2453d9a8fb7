"""The instructor's screen as lines: how each wearer really is, and what the board shows. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.board.words import wording
from monitor.board.words.marks import BLANK, Line, Look, Role, clean, crop, fit
from monitor.board.words.order_words import row_state
from monitor.incident.picture import FALLING, Picture, WearerView
from monitor.instructor.tail import HowItIs, Really
from monitor.instructor.trouble import GROUPS, Hand

SECOND_NS = 1_000_000_000
STILL_S = 20
"""From here on nobody answers for this wearer."""
HEAD = "  No NAME      TRUE bar  L/min PLACE             DOES      BOARD SHOWS     bar"
KEYS = "number  Enter what to do  . stand still, go on  Esc back  b light  q leave"
MINUTE_S = 60
STILL_S_MAX = 100
"""From here on in minutes: the column has nine cells."""
GAUGE_BAR = 10
"""The board shows so much more than there is: worth a look."""


@dataclass(frozen=True, slots=True)
class Shown:
    """State of the screen beside picture and truth."""

    chosen: int | None = None
    typed: str = ""
    open: bool = False
    """The table of what can be done stands open."""
    message: str = ""
    ticks: Mapping[int, tuple[str, ...]] | None = None
    """By wearer: what was ticked and when, in words."""
    connected: bool = True


def instructor_page(
    picture: Picture, really: Really, hands: list[Hand], look: Look, shown: Shown
) -> list[Line]:
    """Lay out everything: as many lines as the screen is high."""
    head = [_top(picture, really, look, shown), _second(picture, really, look)]
    bottom = [_plain(shown.message or really.refused, Role.STRONG, look), _keys(look, shown)]
    room = max(0, look.height - len(head) - len(bottom))
    if shown.open:
        middle = _table(hands, look, room, shown.typed)
    else:
        speak = _speak(picture, really, look, shown)
        middle = [
            _plain(HEAD, Role.FAINT, look),
            *_rows(picture, really, look, shown, room - len(speak) - 1),
            *speak,
        ]
    middle = (middle + [BLANK] * room)[:room]
    return [crop(line, look.width) for line in [*head, *middle, *bottom][: look.height]]


def _plain(text: str, role: Role, look: Look) -> Line:
    return ((fit(clean(text), look.width, look.glyphs), role),)


def _top(picture: Picture, really: Really, look: Look, shown: Shown) -> Line:
    use = " EXERCISE PAUSED " if picture.paused else " EXERCISE "
    if picture.use == "real":
        use = " REAL: THE EXERCISE IS OVER "
    minutes, seconds = divmod(really.t_ns // SECOND_NS, MINUTE_S)
    desk = "" if shown.connected else "  NO DESK"
    at = wording.day_time(picture.wall_ns, look.zone, seconds=True)
    text = f"  {clean(picture.name).upper()}  {at}  run {minutes} min {seconds} s{desk}"
    return ((" INSTRUCTOR ", Role.BLOCK), (" ", Role.QUIET), (use, Role.BLOCK), (text, Role.STRONG))


def _second(picture: Picture, really: Really, look: Look) -> Line:
    waits = sum(1 for alarm in picture.alarms if not alarm.acknowledged)
    top = f"{picture.alarms[0].word}, {picture.alarms[0].subject}" if picture.alarms else "none"
    last = f"  last inject: {clean(really.came[-1][1])}" if really.came else ""
    return _plain(f"alarms {len(picture.alarms)}, not taken {waits}: {top}{last}", Role.TEXT, look)


def _rows(picture: Picture, really: Really, look: Look, shown: Shown, room: int) -> list[Line]:
    """As many wearers as fit, whoever is chosen among them; how many there are beyond."""
    views = picture.wearers
    start, inner = 0, max(0, room)
    if len(views) > inner:
        inner = max(0, inner - 1)
        chosen = next((n for n, view in enumerate(views) if view.wearer == shown.chosen), 0)
        start = max(0, min(chosen - inner // 2, len(views) - inner))
    rows = [_row(w, really.wearers.get(w.wearer), look, shown) for w in views[start:][:inner]]
    beyond = len(views) - len(rows)
    if beyond and room > 0:
        rows.append(_plain(f"  + {beyond} more    Up Down", Role.FAINT, look))
    return rows


def _row(view: WearerView, truth: HowItIs | None, look: Look, shown: Shown) -> Line:
    chosen = view.wearer == shown.chosen
    name = fit(clean(view.call_sign or view.name), 10, look.glyphs)
    if truth is None:
        real = " " * 42
    else:
        place = fit(clean(truth.place or "on the way"), 17, look.glyphs)
        bar = wording.pressure(truth.bar, view.unit)
        real = f"{bar:>7}  {wording.rate(truth.rate_l_min):>5} {place} {does(truth):<9}"
    state = fit(row_state(view), 13, look.glyphs)
    air = view.air.pressure_bar
    told = "?" if air is None else wording.pressure(air, view.unit)
    sign = look.glyphs.estimate if view.air.source in FALLING else ""
    text = f"{view.wearer:>4} {name} {real} {state} {sign + told:>5}"
    wrong = truth is not None and _apart(truth, view)
    role = Role.SELECTED if chosen else Role.STRONG if wrong else Role.QUIET
    return ((fit(text, look.width, look.glyphs), role),)


def does(truth: HowItIs) -> str:
    """What a wearer really does, in a word."""
    if not truth.on_air:
        return "off air"
    if truth.still_s >= STILL_S:
        seconds = int(truth.still_s)
        return f"STILL {seconds}s" if seconds < STILL_S_MAX else f"STILL {seconds // MINUTE_S}m"
    return truth.work.replace("_", " ")[:9]


def _apart(truth: HowItIs, view: WearerView) -> bool:
    """The board shows another thing than what is: worth a look."""
    air = view.air.pressure_bar
    return truth.on_air and (air is None or air > truth.bar + GAUGE_BAR or truth.still_s >= STILL_S)


def _speak(picture: Picture, really: Really, look: Look, shown: Shown) -> list[Line]:
    """What to say as the chosen wearer when the trainee asks; what was ticked."""
    view = next((w for w in picture.wearers if w.wearer == shown.chosen), None)
    if view is None:
        return []
    truth = really.wearers.get(view.wearer)
    ticked = ", ".join((shown.ticks or {}).get(view.wearer, ())) or "nothing"
    return [
        _plain(f"ASKED, {view.wearer} {view.call_sign or view.name} SAYS:", Role.STRONG, look),
        *(_plain(f"  {text}", Role.TEXT, look) for text in answers(view, truth, really)),
        _plain(f"  done by voice: {ticked}", Role.QUIET, look),
    ]


def answers(view: WearerView, truth: HowItIs | None, really: Really) -> list[str]:
    """Gauge, place, how they are: as somebody in there would say it."""
    if truth is None:
        return ["(nothing is known of them yet)"]
    if truth.on_air and truth.still_s >= STILL_S:
        true = f"{wording.pressure(truth.bar, view.unit)} {view.unit}"
        return [
            f"(no answer, if they are down: still for {int(truth.still_s)} s; true pressure {true})"
        ]
    gauge = f'gauge: "{wording.pressure(truth.bar, view.unit)} {view.unit}"'
    where = truth.place or f"on the way, {int(truth.way_back_s)} s from the door"
    how = f"well; what they do: {truth.work.replace('_', ' ')}" if truth.on_air else "off air"
    order = really.ordered.get(view.pack or 0)
    told = f"; the pack sounds: {order}" if order else ""
    return [gauge, f'place: "{where}"', f"how they are: {how}{told}"]


def _table(hands: list[Hand], look: Look, room: int, typed: str) -> list[Line]:
    texts: list[tuple[str, Role]] = []
    for group, words in GROUPS.items():
        own = [hand for hand in hands if hand.code[0] == group]
        if not own:
            continue
        lit = Role.STRONG if typed == group else Role.QUIET
        texts.append((f"{group}  {words}", Role.STRONG if typed == group else Role.FAINT))
        texts += [(f"{one.code}  {one.words}", lit) for one in own]
    half = max(room, -(-len(texts) // 2))
    width = look.width // 2
    lines: list[Line] = []
    for place in range(min(room, len(texts))):
        pieces = texts[place : place + 1] + texts[place + half : place + half + 1]
        lines.append(tuple((fit(clean(text), width, look.glyphs), role) for text, role in pieces))
    return lines


def _keys(look: Look, shown: Shown) -> Line:
    if shown.open:
        return _plain(f"TWO DIGITS  {shown.typed}_    Esc back", Role.SELECTED, look)
    if shown.typed and shown.typed != str(shown.chosen):
        return _plain(f"wearer {shown.typed}_", Role.SELECTED, look)
    return _plain(KEYS, Role.FAINT, look)
