"""A story's lines as events: what is told at which second."""

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count
from typing import Any

from monitor.incident.events import Act, Done, Heard, Opened, act_adapter, fact_adapter
from monitor.incident.incident import Incident
from monitor.incident.procedure import Procedure
from monitor.incident.rows import Standing
from protocol.packets import Apparatus, CheckResult, Equipment, Kind, Motion, Report

S = 1_000_000_000
EVERY_S = 5.0
STEPS = {
    "on": "connect",
    "in": "enter",
    "reached": "reach_objective",
    "onward": "new_objective",
    "back": "start_back",
    "out": "come_out",
    "off": "off_air",
    "read": "spoken_reading",
    "lowest": "spoken_reading",
    "supply": "augment_supply",
    "own": "augment_supply",
}
SPOKEN = {"read", "lowest"}
"""Their last number is the pressure."""
MOTIONS = {
    "moving": Motion.MOVING,
    "still": Motion.STILL,
    "unknown": Motion.UNKNOWN,
    "pre-alarm": Motion.PRE_ALARM,
    "alarm": Motion.ALARM,
}


@dataclass
class Line:
    """One line of a story, or one report of several that a line stands for."""

    t: int
    word: str
    rest: str
    number: int
    """Of the line in its story, from 1."""
    report: dict[str, Any] = field(default_factory=dict)


def parsed(text: str) -> list[Line]:
    """Every line in the order of time; of the same instant in the order of the text."""
    lines: list[Line] = []
    last = 0
    for number, raw in enumerate(text.splitlines(), 1):
        said = raw.partition("#")[0].split(maxsplit=2)
        if not said:
            continue
        t = round(float(said[0]) * S)
        assert t >= last, f"line {number}: seconds go back"
        last = t
        line = Line(t, said[1], said[2].strip() if len(said) > 2 else "", number)
        lines += _reports(line) if line.word == "pack" else [line]
    return sorted(lines, key=lambda line: line.t)


def _reports(line: Line) -> Iterator[Line]:
    """One line for each report of a ``pack`` line."""
    words = line.rest.split()
    pack, start = int(words[0]), words[1]
    options = iter(words[2:])
    to, until, every, step = start, line.t / S, EVERY_S, 1.0
    said: dict[str, Any] = {}
    for word in options:
        if word in MOTIONS:
            said["motion"] = MOTIONS[word]
        elif word in {"low-air", "distress"}:
            said[word.replace("-", "_")] = True
        elif word == "sign-off":
            said["kind"] = Kind.SIGN_OFF
        elif word == "temp":
            said["gas_temperature_c"] = int(next(options))
        elif word == "battery":
            said["battery_percent"] = int(next(options))
        elif word == "to":
            to = next(options)
        elif word == "until":
            until = float(next(options))
        elif word == "each":
            every = float(next(options))
        else:
            assert word == "step", f"line {line.number}: {word}"
            step = float(next(options))
    span = until - line.t / S
    for n in range(int(span / every) + 1):
        share = n * every / span if span else 0.0
        dbar = None if start == "none" else _told_dbar(float(start), float(to), share, step)
        report = {**said, "identity": pack, "pressure_dbar": dbar}
        yield Line(line.t + round(n * every * S), "pack", line.rest, line.number, report)


def _told_dbar(start: float, to: float, share: float, step: float) -> int:
    """What a gauge of this step shows: rounded down, as gauges do (common practice)."""
    bar = start + (to - start) * share
    return round(int(bar / step + 1e-9) * step * 10)


class Telling:
    """Plays lines into an incident."""

    def __init__(self, rules: Procedure) -> None:
        self.incident = Incident()
        self._ids = count(1)
        self._sequences: dict[int, int] = {}
        self._sets: dict[int, Equipment] = {}
        self.incident.apply(
            Done(
                0,
                Opened(
                    incident="0" * 32,
                    name="Kiln Lane",
                    entry_point="A",
                    officer="R. Harrow",
                    use="exercise",
                    procedure=rules,
                    keyed=True,
                    base=1,
                    wall_ns=1_700_000_000 * S,
                    software="test",
                    fold=1,
                ),
            )
        )

    def tell(self, line: Line) -> None:
        """Let it happen."""
        if line.word == "pack":
            self._hear(line)
        elif line.word == "set":
            pack, litres, rated, *low = (float(word) for word in line.rest.split())
            low_dbar = round(low[0] * 10) if low else None
            self._sets[int(pack)] = Equipment(
                Apparatus.OPEN_CIRCUIT, round(rated * 10), round(litres * 100), low_dbar
            )
        elif line.word == "fact":
            what, _, fields = line.rest.partition(" ")
            fact = fact_adapter.validate_python({"what": what, **_values(fields)})
            self.incident.apply(Done(line.t, fact))
        elif line.word == "refused":
            said, _, why = line.rest.partition(":")
            word, _, rest = said.strip().partition(" ")
            (act,) = self._acts(Line(line.t, word, rest, line.number))
            assert self.incident.would_refuse(act, line.t) == why.strip()
            self.incident.apply(Done(line.t, act))
        else:
            for act in self._acts(line):
                refused = self.incident.would_refuse(act, line.t)
                assert refused is None, f"line {line.number}: {refused}"
                self.incident.apply(Done(line.t, act))

    # ------------------------------------------------------------ packs

    def _hear(self, line: Line) -> None:
        identity = line.report["identity"]
        sequence = self._sequences.get(identity, 0) + 1
        self._sequences[identity] = sequence
        usual: dict[str, Any] = {
            "kind": Kind.SIGN_ON if sequence == 1 else Kind.STATUS,
            "boot": 1,
            "epoch": 1,
            "keyed": True,
            "gas_temperature_c": None,
            "battery_percent": 90,
            "motion": Motion.MOVING,
            "distress": False,
            "low_air": False,
            "coming_out": False,
            "self_test": CheckResult.PASSED,
            "air_warning_test": CheckResult.PASSED,
            "motion_warning_test": CheckResult.PASSED,
            "interval_s": 5,
            "uptime_ms": line.t // 1_000_000,
            "order_received": 0,
            "order_acknowledged": 0,
            "beacon_heard": 9,
        }
        if sequence == 1:
            known = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)
            usual["equipment"] = self._sets.get(identity, known)
        packet = Report(sequence=sequence, **{**usual, **line.report})
        self.incident.apply(Heard(line.t, packet, Standing.LIVE, 1, 0, -60))

    # ------------------------------------------------------------ acts

    def _acts(self, line: Line) -> Iterator[Act]:
        words = line.rest.split()
        if line.word in STEPS:
            yield self._step(line, words)
        elif line.word == "check-in":
            yield from self._check_in(words)
        elif line.word == "join":
            yield self._act("join_pack", **_set(words))
        elif line.word == "cylinder":
            yield self._act("change_cylinder", wearer=int(words[0]), **_size(words[1:]))
        elif line.word in {"take", "reset"}:
            number = self._alarm(words[0], int(words[1]) if len(words) > 1 else None)
            if line.word == "take":
                yield self._act("acknowledge", alarms=[number])
            else:
                yield self._act("reset", alarm=number, reason="seen to")
        else:
            assert line.word == "act", f"line {line.number}: no such word: {line.word}"
            what, _, fields = line.rest.partition(" ")
            yield self._act(what, **_values(fields))

    def _act(self, what: str, **fields: Any) -> Act:
        fields.setdefault("id", f"act-{next(self._ids):06}")
        fields.setdefault("by", "R. Harrow")
        made: Act = act_adapter.validate_python({"what": what, **fields})
        return made

    def _step(self, line: Line, words: list[str]) -> Act:
        fields: dict[str, Any] = {}
        if "at" in words:
            fields["at_ns"] = round(float(words[words.index("at") + 1]) * S)
            words = words[: words.index("at")]
        if line.word in SPOKEN:
            words.insert(-1, "with")
        if "with" in words:
            fields["pressure_bar"] = float(words[words.index("with") + 1])
            words = words[: words.index("with")]
        if line.word == "lowest":
            fields["lowest"] = True
        if line.word == "own":
            fields["on"] = False
        return self._act(STEPS[line.word], wearers=[int(word) for word in words], **fields)

    def _check_in(self, words: list[str]) -> Iterator[Act]:
        crew = "Alpha"
        if "crew" in words:
            crew = words[words.index("crew") + 1]
            words = words[: words.index("crew")]
        number = int(words[0])
        yield self._act(
            "list_wearer",
            wearer=number,
            name=f"Wearer {number}",
            call_sign=f"Alpha {number}",
            crew="" if crew == "none" else crew,
        )
        yield self._act("join_pack", **_set(words))

    def _alarm(self, kind: str, wearer: int | None) -> int:
        found = [
            alarm.number
            for alarm in self.incident.picture().alarms
            if alarm.kind == kind and (wearer is None or wearer in alarm.wearers)
        ]
        assert found, f"there is no alarm {kind}"
        return found[0]


def _set(words: list[str]) -> dict[str, Any]:
    """Wearer, pack or none, and the cylinder where it is said."""
    pack = None if words[1] == "none" else int(words[1])
    return {"wearer": int(words[0]), "pack": pack, **_size(words[2:])}


def _size(words: list[str]) -> dict[str, Any]:
    if not words:
        return {}
    return {"water_volume_l": float(words[0]), "rated_bar": float(words[1])}


def _values(fields: str) -> dict[str, Any]:
    """``key = value; key = value``, each as in TOML."""
    return tomllib.loads("\n".join(part.strip() for part in fields.split(";")))
