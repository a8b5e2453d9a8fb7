"""The typed commands of the plain board. Pure."""

from dataclasses import dataclass

from monitor.board.alarm_lines import is_new
from monitor.board.effects import Asking, Move, Reading, ResetAlarm, Step, TakeAlarms
from monitor.board.marks import clean
from monitor.board.plain_words import alarm_sentence, summary, wearer_sentence
from monitor.incident import units
from monitor.incident.picture import Picture

TYPED_MAX = 400
"""Characters of a line that are read."""
HELP = (
    "take            take the first alarm that waits, as last said",
    "take 3          take alarm 3",
    "reset 3 REASON  let go of alarm 3, which is over, for that reason",
    "on 4 5          wearers 4 and 5 have connected to air",
    "in 4 5          have gone in",
    "out 4 5         have come out",
    "off 4 5         no longer breathe from the set",
    "read 4 147      wearer 4 said that the gauge shows 147",
    "who             everybody, one line each",
    "alarms          every alarm, one line each",
    "help            these words",
    "record          record again after a stop",
    "quit            leave; recording goes on",
    "quit stop       leave; recording stops",
)
_STEPS: dict[str, Step] = {"on": "connect", "in": "enter", "out": "out", "off": "off air"}


@dataclass(frozen=True, slots=True)
class Leave:
    """Leave the board."""

    stop: bool


@dataclass(frozen=True, slots=True)
class RecordAgain:
    """Start a recorder that was stopped on purpose."""


def command(typed: str, picture: Picture) -> Asking | Leave | RecordAgain | list[str]:
    """Read one typed line: something to ask for, to leave, or what to answer."""
    word, *rest = typed[:TYPED_MAX].casefold().split() or [""]
    if word in _STEPS:
        return _move(word, rest, picture)
    match word, rest:
        case "take", _:
            return _take(rest, picture)
        case "reset", [number, *reason] if reason:
            return _reset(number, typed, picture)
        case "read", [number, bar]:
            return _reading(number, bar, picture)
        case "who", []:
            said = [wearer_sentence(w, picture.pressure_unit) for w in picture.wearers]
            return [*said, summary(picture)]
        case "alarms", []:
            said = [alarm_sentence(a, picture.pressure_unit) for a in picture.alarms]
            return said or ["No alarm."]
        case "record", []:
            return RecordAgain()
        case "quit", ([] | ["stop"]):
            return Leave(stop=bool(rest))
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
    return Move(_STEPS[word], numbers, f"{word} {' '.join(rest)}")


def _take(rest: list[str], picture: Picture) -> TakeAlarms | list[str]:
    waits = [a.number for a in picture.alarms if is_new(a)]
    numbers = _numbers(rest) or tuple(waits[:1])
    if not numbers or numbers[0] not in waits:
        return ["No such alarm waits." if rest else "No alarm waits."]
    alarm = next(a for a in picture.alarms if a.number == numbers[0])
    return TakeAlarms(numbers[:1], f"{alarm.word}, {clean(alarm.subject)}")


def _reset(number: str, typed: str, picture: Picture) -> ResetAlarm | list[str]:
    numbers = _numbers([number])
    over = {a.number for a in picture.alarms if a.latched}
    if not numbers or numbers[0] not in over:
        return ["No such alarm waits for its reset."]
    reason = clean(typed[:TYPED_MAX].split(maxsplit=2)[2].strip())
    return ResetAlarm(numbers[0], reason, f"reset alarm {numbers[0]}")


def _reading(number: str, value: str, picture: Picture) -> Reading | list[str]:
    numbers, values = _numbers([number]), _numbers([value])
    if not numbers or numbers[0] not in {w.wearer for w in picture.wearers} or not values:
        return ["read: say a wearer's number, then what the gauge shows."]
    bar = units.bar_from(values[0], picture.pressure_unit)
    if bar > units.READING_MAX_BAR:
        return ["Not taken: more than any gauge shows."]
    return Reading(numbers, bar, f"reading {values[0]} {picture.pressure_unit}, wearer {number}")
