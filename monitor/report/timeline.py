"""The time line: everything that was done, noticed and told, in order, as sentences. Pure."""

from enum import StrEnum
from typing import NamedTuple

from monitor.incident import events
from monitor.incident.alarms.engine import Step
from monitor.incident.alarms.states import Input, State
from monitor.incident.events import Act, Fact
from monitor.incident.orders.events import OrdersSent
from monitor.incident.signed import Signed
from monitor.incident.still_heard import Thinned
from monitor.report import words
from monitor.report.alarm_lives import AlarmLife, AlarmLives
from monitor.report.event_words import People, act_words, fact_words

LINES_MAX = 100_000
"""Kept; what comes after is counted. Eight hours of a busy board have a few thousand."""


class Source(StrEnum):
    """Whose line it is."""

    OFFICER = "officer"
    ALARM = "alarm"
    BASE = "base"


class Line(NamedTuple):
    """One line."""

    t: int
    """When it was told, incident time in ns."""
    source: Source
    by: str
    words: str
    earlier_ns: int | None = None
    """When it really was, where somebody said that it was earlier."""


class Timeline:
    """All lines, in order."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self.left_out = 0

    def act(self, t: int, act: Act, people: People, unit: str) -> None:
        """Take an act that the fold has taken."""
        if not isinstance(act, events.Acknowledge):  # each alarm tells that itself
            earlier: int | None = getattr(act, "at_ns", None)
            self._add(Line(t, Source.OFFICER, act.by, act_words(act, people, unit), earlier))

    def fact(self, t: int, fact: Act | Fact) -> None:
        """Take a fact that the base noticed; frames refused and copies sent are counted.

        What says nothing of the incident is left out: signatures.
        """
        if not isinstance(fact, events.Refused | OrdersSent | Thinned | Signed):
            self._add(Line(t, Source.BASE, "", fact_words(fact)))

    def step(self, step: Step, lives: AlarmLives) -> None:
        """Take a step of an alarm, after ``lives`` has taken it."""
        life = lives.by_number.get(step.number)
        said = _step_words(step, life)
        if life is not None and said:
            what = f"alarm {step.number} {life.word}, {life.subject}: {said}"
            self._add(Line(step.t, Source.ALARM, step.by, what))

    def finish(self) -> None:
        """Put a deadline that was told with a later event before it."""
        self.lines.sort(key=lambda line: line.t)

    def _add(self, line: Line) -> None:
        if len(self.lines) < LINES_MAX:
            self.lines.append(line)
        else:
            self.left_out += 1


def _step_words(step: Step, life: AlarmLife | None) -> str:
    """What happened to the alarm; empty: the officer's own line says it, or nobody saw it."""
    if step.what is Input.UNSHELVE:
        return "no longer put aside"
    joined = ", ".join(map(str, step.joined))
    if step.what is None:
        return f"joined by {joined}"
    if step.after is State.UNACKNOWLEDGED:
        if step.what is Input.WORSEN:
            return f"waits again, joined by {joined}" if joined else "became more urgent"
        detail = life.detail if life else ""
        return f"raised, {detail}" if detail else "raised"
    if step.what is Input.ACKNOWLEDGE:
        wait = life.waits[-1] if life and life.waits else None
        if not step.by or wait is None or wait.spell.to_ns is None:
            return ""
        return f"acknowledged after {words.seconds_up(wait.spell.length_ns(0))}"
    if step.what is Input.SUPPRESS:
        return "held back by the rules"
    if step.what is Input.CLEAR and step.after is not State.SUPPRESSED:
        return "its condition ended"
    return ""
