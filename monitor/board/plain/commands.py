"""The typed commands of the plain board. Pure."""

from dataclasses import dataclass

from monitor.board.acts.effects import (
    Asking,
    Move,
    PutAsideAlarm,
    Reading,
    ResetAlarm,
    Say,
    SilenceSound,
    TakeAlarms,
    TakeBackAlarm,
    WriteAct,
)
from monitor.board.acts.questions import called, why_no_reset
from monitor.board.acts.undo import undone
from monitor.board.keys.table import TABLE
from monitor.board.lines.alarm_lines import is_new
from monitor.board.plain.order_commands import order_command
from monitor.board.plain.record_commands import record_command
from monitor.board.plain.sheets import HELP_SHEET
from monitor.board.plain.words import alarms_sentences, summary, wearer_sentence
from monitor.board.sheets.common import act, far_under, why_no_reading
from monitor.board.words.choosing import crew_under_air, unread
from monitor.board.words.marks import clean
from monitor.incident import units
from monitor.incident.events import SILENCE_S, SILENCE_S_MAX
from monitor.incident.picture import Picture, WearerView

TYPED_MAX = 400
"""Characters of a line that are read."""
HELP = (*TABLE.typed_help(), *HELP_SHEET)
START_EXAMPLE = {"bar": 280, "psi": 4060}


@dataclass(frozen=True, slots=True)
class Leave:
    """Leave the board."""

    stop: bool


@dataclass(frozen=True, slots=True)
class RecordAgain:
    """Start a recorder that was stopped on purpose."""


@dataclass(frozen=True, slots=True)
class LookAt:
    """Say everything about one wearer."""

    wearer: WearerView


Typed = Asking | Leave | RecordAgain | LookAt | list[str]


def command(typed: str, picture: Picture) -> Typed:
    """Read one typed line: something to ask for, to look at, to leave, or what to answer."""
    word, *rest = typed[:TYPED_MAX].casefold().split() or [""]
    if word in TABLE.step_words:
        return _move(word, rest, picture)
    match word, rest:
        case "take", _:
            return _take(rest, picture)
        case "reset", [number, *reason] if reason:
            return _reset(number, typed, picture)
        case "aside", [number, minutes, *reason] if reason:
            return _put_aside(number, minutes, typed, picture)
        case "return", [number]:
            return _take_back(number, picture)
        case "read" | "lowest", [number, gauge]:
            return _reading(number, gauge, picture, lowest=word == "lowest")
        case "wearer", [number]:
            one = _wearer(number, picture)
            return ["wearer: say a wearer's number."] if one is None else LookAt(one)
        case "silence", [] | [_]:
            return _silence(rest)
        case "undo", []:
            taken_back = undone(picture.undo, picture)
            return [f"{taken_back.words}."] if isinstance(taken_back, Say) else taken_back
        case "record", []:
            return RecordAgain()
        case "quit", ([] | ["stop"]):
            return Leave(stop=bool(rest))
    return (
        _put_right(word, rest, picture)
        or _further(typed, picture)
        or _answer(word, rest, typed, picture)
    )


def _put_right(word: str, rest: list[str], picture: Picture) -> WriteAct | list[str] | None:
    """Read what puts a figure right that marks are reckoned from; None if it does not."""
    match word, rest:
        case "start", [number, gauge]:
            return _start(number, gauge, picture, sure=False)
        case "start", [number, gauge, "sure"]:
            return _start(number, gauge, picture, sure=True)
        case "counts", [number, ("pack" | "voice") as which]:
            return _counts(number, which, picture)
    return None


def _further(typed: str, picture: Picture) -> Asking | list[str] | None:
    """Read what has to do with orders or the record; None if it has not."""
    words = typed[:TYPED_MAX].split()
    if not words:
        return None
    read = order_command(words, picture)
    return record_command(words, picture) if read is None else read


def _answer(word: str, rest: list[str], typed: str, picture: Picture) -> list[str]:
    """Say what was only asked."""
    match word, rest:
        case "who", []:
            return [*(wearer_sentence(w) for w in picture.wearers), summary(picture)]
        case "alarms", []:
            return alarms_sentences(picture) or ["No alarm."]
        case "help", _:
            return list(HELP)
        case "", _:
            return [summary(picture)]
    return [f"Not understood: {clean(typed[:TYPED_MAX].strip())}. Type help."]


def _numbers(words: list[str]) -> tuple[int, ...]:
    return tuple(int(word) for word in words if word.isascii() and word.isdigit())


def _move(word: str, rest: list[str], picture: Picture) -> Move | list[str]:
    numbers = _numbers(rest)
    known = {w.wearer for w in picture.wearers}
    if not numbers or len(numbers) != len(rest) or not set(numbers) <= known:
        return [f"{word}: say the numbers of wearers on the board."]
    return Move(TABLE.step_words[word], numbers, f"{word} {' '.join(rest)}")


def _take(rest: list[str], picture: Picture) -> TakeAlarms | list[str]:
    waits = [a.number for a in picture.alarms if is_new(a)]
    numbers = _numbers(rest) if rest else tuple(waits[:1])
    if not numbers or numbers[0] not in waits:
        return ["No such alarm waits." if rest else "No alarm waits."]
    alarm = next(a for a in picture.alarms if a.number == numbers[0])
    return TakeAlarms(numbers[:1], called(alarm))


def _silence(rest: list[str]) -> SilenceSound | list[str]:
    seconds = _numbers(rest) if rest else (SILENCE_S,)
    if not seconds or not 0 < seconds[0] <= SILENCE_S_MAX:
        return [f"silence: say 1 to {SILENCE_S_MAX} seconds, or nothing."]
    return SilenceSound(seconds[0], f"sound silenced for {seconds[0]} s")


def _reset(number: str, typed: str, picture: Picture) -> ResetAlarm | list[str]:
    numbers = _numbers([number])
    over = {a.number: a for a in picture.alarms if a.latched}
    if not numbers or numbers[0] not in over:
        return ["No such alarm waits for its reset."]
    reason = clean(typed[:TYPED_MAX].split(maxsplit=2)[2].strip())
    why_not = why_no_reset(picture, over[numbers[0]].wearers, reason)
    if why_not:
        return [f"{why_not}."]
    return ResetAlarm(numbers[0], reason, f"reset alarm {numbers[0]}")


def _put_aside(
    number: str, minutes: str, typed: str, picture: Picture
) -> PutAsideAlarm | list[str]:
    alarm = next((a for a in picture.alarms if (a.number,) == _numbers([number])), None)
    if alarm is None or not alarm.aside_minutes_max:
        return ["No such alarm that may be put aside. A danger never may."]
    times = _numbers([minutes])
    if not times or not 1 <= times[0] <= alarm.aside_minutes_max:
        most = alarm.aside_minutes_max
        return [f"aside: an alarm's number, minutes from 1 to {most}, and why."]
    reason = clean(typed[:TYPED_MAX].split(maxsplit=3)[3].strip())
    words = f"put aside for {times[0]} min: {called(alarm)}"
    return PutAsideAlarm(alarm.number, times[0], reason, words)


def _take_back(number: str, picture: Picture) -> TakeBackAlarm | list[str]:
    alarm = next((a for a in picture.put_aside if (a.number,) == _numbers([number])), None)
    if alarm is None:
        return ["No such alarm is put aside."]
    return TakeBackAlarm(alarm.number, f"back again: {called(alarm)}")


def _wearer(number: str, picture: Picture) -> WearerView | None:
    return next((w for w in picture.wearers if (w.wearer,) == _numbers([number])), None)


def start_question(picture: Picture, wearers: tuple[int, ...]) -> list[str]:
    """Ask what the gauges of those showed at connecting whom no live pack tells of."""
    asked = [w for w in picture.wearers if w.wearer in unread(picture, wearers)]
    return [
        f"What does the gauge of {w.wearer} {clean(w.call_sign or w.name)} show? start {w.wearer} "
        f"{START_EXAMPLE[w.unit]}; until then it counts from the least fill."
        for w in asked
    ]


def _start(number: str, gauge: str, picture: Picture, *, sure: bool) -> WriteAct | list[str]:
    one, values = _wearer(number, picture), _numbers([gauge])
    if one is None or not values:
        return ["start: say a wearer's number, then what the gauge showed at connecting."]
    bar = units.bar_from(values[0], one.unit)
    why = why_no_reading(picture, (one.wearer,), bar)
    if why:
        return [f"Not taken: {why}."]
    far = far_under(picture, (one.wearer,), bar)
    if far and not sure:
        return [f"Not taken yet: {far}. If it is so: start {number} {gauge} sure"]
    subject = f"start {values[0]} {one.unit}, wearer {one.wearer}"
    return act("amend_start", subject, wearers=(one.wearer,), pressure_bar=bar)


def _counts(number: str, which: str, picture: Picture) -> WriteAct | list[str]:
    one = _wearer(number, picture)
    if one is None:
        return ["counts: say a wearer's number, then pack or voice."]
    return act(
        "trust_gauge", f"{which} counts, wearer {one.wearer}", wearer=one.wearer, counts=which
    )


def _reading(number: str, gauge: str, picture: Picture, *, lowest: bool) -> Reading | list[str]:
    one, values = _wearer(number, picture), _numbers([gauge])
    word = "lowest" if lowest else "read"
    if one is None or not values:
        return [f"{word}: say a wearer's number, then what the gauge shows."]
    bar = units.bar_from(values[0], one.unit)
    why = why_no_reading(picture, (one.wearer,), bar)
    if why:
        return [f"Not taken: {why}."]
    shown = f"{values[0]} {one.unit}"
    crew = crew_under_air(picture, one)
    if lowest and len(crew) > 1:
        said = f"lowest {shown}, crew of wearer {one.wearer}"
        return Reading(crew, bar, said, lowest=True)
    return Reading((one.wearer,), bar, f"reading {shown}, wearer {one.wearer}")
