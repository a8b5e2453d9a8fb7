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
    """One line of the table: ours, what it must reach and aims at, and a peer of the same run."""

    what: str
    ours: float
    unit: str
    bar: float | None
    goal: float | None
    peers: float | None
    """The peer's figure, or the least it could be here."""
    peer: str
    more: bool = False
    """More is better; else less is."""
    of_ratio: bool = False
    """Bar and goal are of the ratio to the peer, not of the figure."""
    most: float | None = None
    """Beyond this the goal is missed on its other side."""

    @property
    def ratio(self) -> float | None:
        """Ours by the peer's."""
        return self.ours / self.peers if self.peers else None

    @property
    def verdict(self) -> str:
        """In a word; for people, nothing fails on it."""
        if self.goal is not None and self._reaches(self.goal):
            return "goal"
        if self.bar is not None:
            return "bar" if self._reaches(self.bar) else "BELOW THE BAR"
        return "" if self.goal is None else "short of goal"

    def _reaches(self, limit: float) -> bool:
        value = self.ratio if self.of_ratio else self.ours
        if value is None or (self.most is not None and value > self.most):
            return False
        return value >= limit if self.more else value <= limit


def table(figures: list[Figure]) -> str:
    """All figures, one a line."""
    head = (
        f"{'figure':<51} {'ours':>9}    {'bar':>8} {'goal':>8} {'':<13} {'peer':>10} {'ratio':>7}"
    )
    return "\n".join((head, *(_line(figure) for figure in figures)))


def _line(figure: Figure) -> str:
    line = (
        f"{figure.what:<51} {_number(figure.ours):>9} {figure.unit:<2} {_number(figure.bar):>8} "
        f"{_number(figure.goal):>8} {figure.verdict:<13} {_number(figure.peers):>10} "
        f"{_number(figure.ratio):>7}  {figure.peer}"
    )
    return line.rstrip()


def _number(value: float | None) -> str:
    if value is None:
        return ""
    return f"{value:,.2f}" if abs(value) < 100 else f"{value:,.0f}"


def _once_us(work: Callable[[], object], pieces: int, rounds: int) -> float:
    start = time.perf_counter_ns()
    for _ in range(rounds):
        work()
    return (time.perf_counter_ns() - start) / 1000 / rounds / pieces


def compare(
    what: str,
    peer: str,
    ours: Callable[[], object],
    peers: Callable[[], object],
    pieces: int,
    *,
    bar: float | None = None,
    goal: float | None = None,
    of_ratio: bool = False,
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
    our, their = statistics.median(our_runs), statistics.median(peer_runs)
    return Figure(what, our, "us", bar, goal, their, peer, of_ratio=of_ratio)


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


def say(text: str) -> None:
    """Print at once, so that a long run shows where it is."""
    print(text)
    sys.stdout.flush()
