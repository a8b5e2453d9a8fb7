"""Packs heard over a link that is known, folded frame by frame: what is then said of silence.

Nothing is wrong with any wearer unless a pack is told to fall silent, so every word of silence
before that is said of the link. It is false where anybody whom it names is heard again by 90 s, the
longest that a procedure may let a wearer be unheard; beyond that it says what is so, and is to be
answered. Losses are each on their own, or in the bursts of the chain of Gilbert (1960) and Elliott
(1963), drawn once a report for each pack by itself.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from monitor import procedures
from monitor.incident import events
from monitor.incident.events import Act, Done, Heard, Opened
from monitor.incident.incident import FOLD_VERSION, Incident
from monitor.incident.picture import Priority
from monitor.incident.rows import Standing
from protocol.packets import Apparatus, CheckResult, Equipment, Kind, Motion, Report
from simulators.channel import BurstChain
from simulators.radio import Bursts
from simulators.randoms import child

S = 1_000_000_000
HOUR_S = 3_600
DOOR_S = 100
"""How long a pack is on at the door before its wearer connects."""
BY = "R. Harrow"
SILENCE = ("no_signal", "crew_silent", "several_silent")
GROUPED = ("crew_silent", "several_silent")
FIXED_S = 30
"""The peer: silent for so long, whatever the link."""
MOST_S = 90
"""The longest limit that a procedure may set."""
FULL_BAR, BAR_A_S = 298.0, 0.12
"""About 50 L/min of a 6.8 L cylinder."""
RULES = procedures.load("plain")
SET = Equipment(Apparatus.OPEN_CIRCUIT, 3000, 680, None)


@dataclass(frozen=True, slots=True)
class Link:
    """A kind of link. Each report is lost on its own, or in a burst."""

    name: str
    alone: float = 0.0
    """Share lost each on its own."""
    share: float = 0.0
    """Share of reports, or of time, within bursts."""
    burst: float = 0.0
    """Mean length of a burst in reports."""
    fade_s: float = 0.0
    """Or of a fade in seconds, exponential."""

    def chain(self, interval_s: int) -> Bursts | None:
        """The chain, one step a report. A fade of time is looked at once in each interval."""
        if not self.share:
            return None
        end = 1 / self.burst if self.burst else self._turns(interval_s)
        return Bursts(begin=self.share * end / (1 - self.share), end=end, loss_between=self.alone)

    def _turns(self, interval_s: int) -> float:
        """Chance that a fade that is on now is off one interval later: a chain in time, sampled."""
        left, per_step = 1.0, interval_s / self.fade_s / (1 - self.share) / _STEPS
        for _ in range(_STEPS):
            left *= 1 - per_step
        return (1 - self.share) * (1 - left)


_STEPS = 4_096

LINKS = (
    Link("clean"),
    Link("each on its own, 5%", alone=0.05),
    Link("each on its own, 10%", alone=0.1),
    Link("each on its own, 20%", alone=0.2),
    Link("each on its own, 30%", alone=0.3),
    Link("bursts of 3, 20%", share=0.2, burst=3),
    Link("bursts of 5, 10%", share=0.1, burst=5),
    Link("bursts of 5, 20%", share=0.2, burst=5),
    Link("fades of 25 s, 10%", share=0.1, fade_s=25),
    Link("fades of 25 s, 20%", share=0.2, fade_s=25),
    Link("10% alone, fades of 25 s, 10%", alone=0.1, share=0.1, fade_s=25),
)


@dataclass(slots=True)
class Said:
    """What became an alarm, and when."""

    t: int
    kind: str
    priority: Priority
    wearers: tuple[int, ...]
    early: bool = False
    """Of silence: somebody whom it names was heard again by the longest limit."""


@dataclass(slots=True)
class Pack:
    """One pack: when it is on, and what it has sent."""

    identity: int
    wearer: int
    on_s: float
    off_s: float
    gone_s: float
    chain: BurstChain | None
    number: int = 0
    heard_ns: int = 0
    breathed_s: float | None = None
    """From when its air is used; None: it tells no pressure."""

    def dbar(self, t: int) -> int | None:
        """What it tells of its pressure."""
        if self.breathed_s is None:
            return None
        return round(10 * (FULL_BAR - BAR_A_S * max(0.0, t / S - self.breathed_s)))


@dataclass(slots=True)
class World:
    """An incident and the packs that it hears."""

    link: Link
    interval_s: int
    seed: int
    packs: list[Pack] = field(default_factory=list)
    acts: list[tuple[float, type[Act] | None, dict[str, Any]]] = field(default_factory=list)
    incident: Incident = field(default_factory=Incident)
    said: list[Said] = field(default_factory=list)
    fixed: int = 0
    """How often the peer would have cried."""
    _open: dict[int, list[Said]] = field(default_factory=dict)
    """What was said of silence, by wearers who have not been heard since."""
    beyond: int = 0
    """How many silences were longer than any limit may be."""

    def add(
        self, wearer: int, crew: str, on_s: float = 0, *,
        off_s: float = float("inf"), gone_s: float = float("inf"), identity: int = 0,
    ) -> None:  # fmt: skip
        """A pack and its wearer, in the order of switching on."""
        identity = identity or 100 + wearer
        chain = self.link.chain(self.interval_s)
        start = child(self.seed, identity, "start").random()
        made = BurstChain(chain, start) if chain else None
        self.packs.append(Pack(identity, wearer, on_s, off_s, gone_s, made))
        if crew:  # else somebody who is on the board takes another set
            self.act(0, events.ListWearer, wearer=wearer, name=f"Wearer {wearer}", crew=crew)
        kit = {"water_volume_l": 6.8, "rated_bar": 300}
        self.act(on_s, events.JoinPack, wearer=wearer, pack=identity, **kit)

    def act(self, at_s: float, act: type[Act], **fields: Any) -> None:
        """Something the officer does."""
        self.acts.append((at_s, act, fields))

    def run(self, until_s: float) -> None:
        """From the beginning to then."""
        opened = Opened(
            incident="0" * 32, name="Kiln Lane", officer=BY, use="exercise", procedure=RULES,
            keyed=True, base=1, wall_ns=1_700_000_000 * S, software="test", fold=FOLD_VERSION,
        )  # fmt: skip
        self.incident.apply(Done(0, opened))
        self.acts.sort(key=lambda act: act[0])
        acts, done = iter([*self.acts, (float("inf"), None, {})]), 0
        following = next(acts)
        random = child(self.seed, "losses", self.link.name).random
        apply, alone = self.incident.apply, self.link.alone
        for t, pack in self._due(until_s):
            while following[0] * S <= t:
                self._do(round(following[0] * S), done, following[1], following[2])
                done, following = done + 1, next(acts)
            pack.number += 1
            hit = random()
            lost = hit < alone if pack.chain is None else pack.chain.lost(hit, random())
            if lost or t >= pack.gone_s * S:
                continue
            self.fixed += pack.heard_ns > 0 and t - pack.heard_ns > (FIXED_S + 1) * S
            self.beyond += pack.heard_ns > 0 and t - pack.heard_ns > (MOST_S + 1) * S
            for said in self._open.pop(pack.wearer, ()):
                said.early |= t - pack.heard_ns <= (MOST_S + 1) * S
            pack.heard_ns = t
            apply(Heard(t, self._report(pack, t), Standing.LIVE, 1, 0, -60))
            self._listen(t)
        self.incident.advance(round(until_s * S))
        self._listen(round(until_s * S))

    def _due(self, until_s: float) -> Iterator[tuple[int, Pack]]:
        """Every report of every pack in the order of time, each pack at its own moment."""
        step_ns, count = self.interval_s * S, len(self.packs)
        phases = [
            round(child(self.seed, p.identity, "phase").random() * step_ns) for p in self.packs
        ]
        order = sorted(range(count), key=phases.__getitem__)
        for step in range(int(until_s) // self.interval_s):
            for at in order:
                pack, t = self.packs[at], step * step_ns + phases[at]
                if pack.on_s * S <= t < pack.off_s * S:
                    yield t, pack

    def _report(self, pack: Pack, t: int) -> Report:
        return Report(
            Kind.STATUS, pack.identity, 1, pack.number, 1, True, pack.dbar(t), None, 90,
            Motion.MOVING, False, False, False, CheckResult.PASSED, CheckResult.PASSED,
            CheckResult.PASSED, self.interval_s, t // 1_000_000, 0, 0, 9,
            SET if pack.number == 1 else None,
        )  # fmt: skip

    def _do(self, t: int, number: int, act: type[Act] | None, fields: Mapping[str, Any]) -> None:
        assert act is not None
        made = act.model_validate({"id": f"act-{number:05}", "by": BY, **fields})
        why = self.incident.would_refuse(made, t)
        assert why is None, why
        self.incident.apply(Done(t, made))

    def _listen(self, t: int) -> None:
        """Note what has become an alarm; the officer takes it at once."""
        for alarm in self.incident.take_announcements():
            if alarm.again:
                continue
            self.said.append(Said(alarm.t, alarm.kind, alarm.priority, alarm.wearers))
            for wearer in alarm.wearers if alarm.kind in SILENCE else ():
                self._open.setdefault(wearer, []).append(self.said[-1])
            take = events.Acknowledge(id=f"take-{len(self.said):05}", by=BY, alarms=(alarm.number,))
            self.incident.apply(Done(t, take))

    # ------------------------------------------------------------ what came of it

    def count(self, *kinds: str) -> int:
        """How often any of these became an alarm."""
        return sum(said.kind in kinds for said in self.said)

    def false(self, *kinds: str) -> int:
        """How often any of these was said too early."""
        return sum(said.kind in kinds and said.early for said in self.said)

    def alarms(self) -> list[str]:
        """All that is no notice, but that a pack is set to report too seldom: the link's doing."""
        return [
            said.kind
            for said in self.said
            if said.priority is not Priority.NOTICE and said.kind != "slow_reports"
        ]


def stays(
    link: Link, interval_s: int, wearers: int, seed: int, gone: Mapping[int, float] | None = None
) -> World:
    """Crews of two under air from the hundredth second on; who is ``gone`` falls silent then."""
    world, never = World(link, interval_s, seed), float("inf")
    for wearer in range(1, wearers + 1):
        crew = f"Crew {(wearer + 1) // 2}"
        world.add(wearer, crew, gone_s=(gone or {}).get(wearer, never))
    everybody = tuple(range(1, wearers + 1))
    world.act(DOOR_S, events.Connect, wearers=everybody)
    world.act(DOOR_S, events.AugmentSupply, wearers=everybody)  # no air of their own runs out
    world.act(DOOR_S + 10, events.Enter, wearers=everybody)
    return world


WEARS = ((1, 120, 101), (2, 780, 201), (1, 1_800, 103), (2, 2_460, 203))
"""Crew, when it connects, and the first of its two packs: fresh sets for the second time."""
WEAR_S = 760


def routine(link: Link, interval_s: int, seed: int) -> World:
    """An hour with two crews in twice each, and two standing by; nothing happens to anybody."""
    world = World(link, interval_s, seed)
    for member in (0, 1):
        world.add(91 + member, "Standby", 5, identity=901 + member)
    for turn, (crew, t_s, identity) in enumerate(WEARS):
        pair = (2 * crew - 1, 2 * crew)
        for member, wearer in enumerate(pair):
            world.add(
                wearer, f"Crew {crew}" if turn < len(WEARS) // 2 else "", t_s - DOOR_S,
                off_s=t_s + WEAR_S + 30, identity=identity + member,
            )  # fmt: skip
            world.packs[-1].breathed_s = t_s
        world.act(t_s, events.Connect, wearers=pair)
        world.act(t_s + 10, events.Enter, wearers=pair)
        world.act(t_s + 240, events.ReachObjective, wearers=pair)
        world.act(t_s + 480, events.StartBack, wearers=pair)
        world.act(t_s + WEAR_S - 30, events.ComeOut, wearers=pair)
        world.act(t_s + WEAR_S, events.OffAir, wearers=pair)
    return world
