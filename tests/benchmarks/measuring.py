"""Medians of several runs, ours and a peer's in turn, so that both meet the same machine."""

import gc
import os
import platform
import statistics
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

RUNS = 7
RUN_S_MIN = 0.05
"""A run repeats its work until it has taken this long."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the table: ours beside a peer that was measured in the same minute."""

    what: str
    ours: float
    unit: str
    peer: str
    peers: float

    @property
    def ratio(self) -> float:
        return self.ours / self.peers if self.peers else float("nan")


@dataclass(frozen=True, slots=True)
class Goal:
    """A figure of the whole program beside what it must reach and what it aims at."""

    what: str
    value: float
    unit: str
    bar: float | None
    goal: float | None
    floor: float | None = None
    """The least it could be here, measured in the same run."""
    floor_is: str = ""
    more: bool = False
    """More is better; else less is."""

    @property
    def verdict(self) -> str:
        """In a word; for people, nothing fails on it."""
        if self.goal is not None and self._reaches(self.goal):
            return "goal"
        if self.bar is not None:
            return "bar" if self._reaches(self.bar) else "BELOW THE BAR"
        return "" if self.goal is None else "short of the goal"

    def _reaches(self, limit: float) -> bool:
        return self.value >= limit if self.more else self.value <= limit


def goals_table(goals: list[Goal]) -> str:
    """All of them, one a line."""
    head = f"{'figure':<52} {'measured':>9}      {'bar':>7} {'goal':>7} {'floor':>12}"
    return "\n".join((head, *(_goal_line(goal) for goal in goals)))


def _goal_line(goal: Goal) -> str:
    floor = "" if goal.floor is None else f"{goal.floor:,.2f}"
    line = (
        f"{goal.what:<52} {goal.value:>9,.1f} {goal.unit:<4} {_limit(goal.bar):>7} "
        f"{_limit(goal.goal):>7} {floor:>12}  {goal.verdict:<16}  {goal.floor_is}"
    )
    return line.rstrip()


def _limit(value: float | None) -> str:
    return "" if value is None else f"{value:,.0f}"


def _once_us(work: Callable[[], object], pieces: int, rounds: int) -> float:
    start = time.perf_counter_ns()
    for _ in range(rounds):
        work()
    return (time.perf_counter_ns() - start) / 1000 / rounds / pieces


def compare(
    what: str, peer: str, ours: Callable[[], object], peers: Callable[[], object], pieces: int
) -> Figure:
    """Microseconds for one of the ``pieces`` that a call works through, ours and the peer's."""
    rounds = 1
    while _once_us(ours, pieces, rounds) * rounds * pieces < RUN_S_MIN * 1e6:
        rounds *= 2
    gc.collect()
    our_runs, peer_runs = [], []
    for _ in range(RUNS):
        our_runs.append(_once_us(ours, pieces, rounds))
        peer_runs.append(_once_us(peers, pieces, rounds))
    return Figure(what, statistics.median(our_runs), "us", peer, statistics.median(peer_runs))


def machine() -> str:
    """What the figures were measured on, in one line."""
    model = platform.processor() or platform.machine()
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        named = [line for line in cpuinfo.read_text().splitlines() if line.startswith("model name")]
        model = named[0].split(":", 1)[1].strip() if named else model
    python = f"{platform.python_implementation()} {platform.python_version()}"
    load = f"load {os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else ""
    return ", ".join((f"{model} x {os.cpu_count()}", platform.system(), python, load))


def table(figures: list[Figure]) -> str:
    """All figures, one a line."""
    head = f"{'figure':<44} {'ours':>9}    {'peer':>9}  {'ratio':>6}  peer"
    lines = (
        f"{figure.what:<44} {figure.ours:>9.3f} {figure.unit:<2} {figure.peers:>9.3f}"
        f"  {figure.ratio:>6.2f}  {figure.peer}"
        for figure in figures
    )
    return "\n".join((head, *lines))


def say(text: str) -> None:
    """Print at once, so that a long run shows where it is."""
    print(text)
    sys.stdout.flush()
