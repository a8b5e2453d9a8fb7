"""A trial in virtual time: one of our packs, a person who does what is said, and a way between.

A pack is changed without touching it: by what becomes of the frames it sends and hears (``Sent``,
``Heard``), by its habits, or by another class in its place.
"""

import heapq
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from random import Random
from typing import Any

from protocol.integrity import Keyring, PackKeys
from simulators.conformance import plan
from simulators.conformance.rules import Row
from simulators.conformance.trial import Trial
from simulators.pack import OURS, Build, Habits, Outgoing, Pack, Senses, equipment
from simulators.randoms import child

S = 1_000_000_000
MS = 1_000_000
TICK_NS = 100 * MS
IDENTITY = 101
BOOT = 7
OFF_NS = 5 * S
"""From off to on again."""


@dataclass
class Unit:
    """One pack under trial, and what a change to it may know."""

    keyring: Keyring | None
    pack: Pack
    sent_at: dict[int, int] = field(default_factory=dict)
    """By sequence number, of this boot."""
    memory: dict[Any, Any] = field(default_factory=dict)
    """Of the change itself."""

    @property
    def keys(self) -> PackKeys | None:
        return self.pack.build.keys


Sent = Callable[[Unit, int, Outgoing], Iterable[tuple[int, bytes]]]
"""A frame in, frames with when they go out."""
Heard = Callable[[Unit, int, bytes], Iterable[bytes]]
Did = Callable[[Pack, int], None]


def as_sent(_unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
    return [(t, out.frame)]


def as_heard(_unit: Unit, _t: int, frame: bytes) -> list[bytes]:
    return [frame]


def next_boot(build: Build) -> Build:
    return replace(build, boot=build.boot + 1)


HANDS: dict[str, Did] = {
    plan.BUTTON: lambda pack, t: pack.acknowledge(t),
    plan.BUTTON_AGAIN: lambda pack, t: pack.acknowledge(t),
    plan.COMING_OUT: lambda pack, t: pack.say_coming_out(t),
    plan.DISTRESS: lambda pack, t: pack.press_distress(t, on=True),
    plan.DISTRESS_OFF: lambda pack, t: pack.press_distress(t, on=False),
    plan.RESTART: lambda pack, t: pack.switch_off(t),
    plan.SWITCH_OFF: lambda pack, t: pack.switch_off(t),
}
"""What a person does for each prompt."""


@dataclass(frozen=True)
class Case:
    """One way for a pack to be."""

    habits: Habits = OURS
    pack: type[Pack] = Pack
    sent: Sent = as_sent
    heard: Heard = as_heard
    hands: Mapping[str, Did] = field(default_factory=dict)
    """Done instead."""
    reboot: Callable[[Build], Build] = next_boot
    keyed: bool = True
    identity: int = IDENTITY
    boot: int = BOOT
    epoch: int = 1
    begin_s: float = 0.0
    """How long the pack was on before the trial."""
    acts: tuple[tuple[float, Did], ...] = ()
    """What is done beside what is asked, and when."""
    interval_s: int = 5
    length_s: int = 300
    reaction_s: float = 1.0
    way_ms: tuple[float, float] = (0, 0)
    """How long a frame takes, either way."""
    lost: float = 0.0
    seed: int = 1


@dataclass
class Tried:
    """What came of it."""

    trial: Trial
    rows: dict[str, Row]
    prompts: list[str]
    took_s: float

    def named(self, verdict: str) -> set[str]:
        return {name for name, row in self.rows.items() if row.verdict == verdict}

    def told(self) -> dict[str, str]:
        """The first fault of each rule that was broken."""
        return {name: row.first.why for name, row in self.rows.items() if row.first is not None}


def tried(case: Case, keyring: Keyring) -> Tried:
    """Run a whole trial."""
    return _Run(case, keyring).run()


class _Run:
    def __init__(self, case: Case, keyring: Keyring) -> None:
        self.case = case
        keys = keyring.pack_keys(case.identity, case.epoch) if case.keyed else None
        self.random = child(case.seed, "pack")
        self.way = child(case.seed, "way")
        build = Build(
            case.identity,
            case.boot,
            case.interval_s,
            equipment(300, 6.8, 55),
            95,
            keys,
            habits=case.habits,
        )
        self.t = 0
        self.unit = Unit(keyring if case.keyed else None, self.on(build))
        self.trial = Trial(
            keyring if case.keyed else None,
            Random(case.seed),
            round(case.begin_s * S),
            length_ns=case.length_s * S,
        )
        self.waiting: list[tuple[int, int, bool, bytes]] = []
        """When a frame arrives, its number, whether it goes up."""
        self.count = 0
        self.acts: list[tuple[int, int, Did]] = []
        for at_s, did in case.acts:
            self.act(at_s, did)
        self.prompts: list[str] = []

    def on(self, build: Build) -> Pack:
        return self.case.pack(build, self.random, self.senses(), self.t)

    def senses(self) -> Senses:
        return Senses(2960 - self.t // (2 * S), 15, self.t)

    def run(self) -> Tried:
        while not self.trial.over(self.t):
            self.hands()
            self.unit.pack.sense(self.t, self.senses())
            for out in self.unit.pack.send(self.t):
                self.unit.sent_at.setdefault(out.sequence, self.t)
                for at_ns, frame in self.case.sent(self.unit, self.t, out):
                    self.send(at_ns, frame, up=True)
            self.deliver()
            if self.t < self.case.begin_s * S:
                self.t = self.next_ns()
                continue
            for frame in self.trial.step(self.t):
                self.send(self.t, frame, up=False)
            self.deliver()
            if said := self.trial.prompt(self.t):
                self.prompts.append(said)
                did = self.case.hands.get(said, HANDS[said])
                self.act(self.case.reaction_s, did)
                if said == plan.RESTART:
                    self.act(self.case.reaction_s + OFF_NS / S, self.restart)
            self.t = self.next_ns()
        rows = {row.name: row for row in self.trial.rows(self.t)}
        return Tried(self.trial, rows, self.prompts, self.t / S)

    def act(self, after_s: float, did: Did) -> None:
        self.count += 1
        heapq.heappush(self.acts, (self.t + round(after_s * S), self.count, did))

    def hands(self) -> None:
        while self.acts and self.acts[0][0] <= self.t:
            heapq.heappop(self.acts)[2](self.unit.pack, self.t)

    def restart(self, pack: Pack, _t: int) -> None:
        self.unit.sent_at.clear()
        self.unit.pack = self.on(self.case.reboot(pack.build))

    def send(self, at_ns: int, frame: bytes, *, up: bool) -> None:
        if self.case.lost and self.way.random() < self.case.lost:
            return
        least, most = self.case.way_ms
        at_ns += round((least + (most - least) * self.way.random()) * MS)
        self.count += 1
        heapq.heappush(self.waiting, (at_ns, self.count, up, frame))

    def deliver(self) -> None:
        while self.waiting and self.waiting[0][0] <= self.t:
            _, _, up, frame = heapq.heappop(self.waiting)
            if up and self.t >= self.case.begin_s * S:
                self.trial.hear(self.t, frame)
            elif not up:
                for heard in self.case.heard(self.unit, self.t, frame):
                    self.unit.pack.hear(self.t, heard)

    def next_ns(self) -> int:
        due = [self.t + TICK_NS]
        if self.unit.pack.due_ns is not None:
            due.append(self.unit.pack.due_ns)
        due += [queue[0][0] for queue in (self.waiting, self.acts) if queue]
        return max(min(due), self.t + 1)
