"""The radio between one pack and the base: what becomes of each frame, both ways.

Effects in their order, each of which can be off:

    range      too weak: below the floor of the receiver
    shadow     the way is blocked, wholly or by a share
    collision  another frame on the shared channel at the same time (see ``air``)
    bursts     losses that come together (Gilbert and Elliott)
    loss       losses each on its own
    corrupt    bits turned over
    delay      late, in order
    reorder    held back, so that later ones overtake
    repeat     there twice

A frame that is lost is counted under the first cause that holds. Every frame draws its own
numbers whether or not they decide anything, so that turning one effect on or off does not shift
what another does. The two ways of a pack draw from generators of their own.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from random import Random

from simulators.radio import Bursts, Radio, Range, Way
from simulators.randoms import normal

MS_NS = 1_000_000
LEVEL_SPREAD_DB = 3.0
SHADOW_DB = 25.0
"""How much weaker a signal is that only just comes through a shadow (invented)."""
CORRUPT_BITS_MAX = 8
_SEED_SPAN = 1 << 53


class Loss(StrEnum):
    """Why a frame did not arrive."""

    RANGE = "out_of_range"
    SHADOW = "shadow"
    COLLISION = "collision"
    BURST = "burst"
    NOISE = "loss"


NEVER_THERE = (Loss.RANGE, Loss.SHADOW)
"""Lost before the hearer's antenna: such a frame cannot disturb another."""


@dataclass(slots=True)
class Fate:
    """What becomes of one frame on its way to one hearer."""

    lost: Loss | None
    level_dbm: int
    frame: bytes
    """As it arrives."""
    corrupted: bool
    reordered: bool
    delayed: bool
    arrives_ns: tuple[int, ...]
    """When; two times if it is repeated. What it would be, for a frame that is lost."""


class BurstChain:
    """The chain of Gilbert and Elliott: one step a frame, started where it stays in the long run.

    Two numbers from 0 to 1 are handed in a step: whether the frame is lost, and whether the chain
    turns over after it.
    """

    __slots__ = ("_bursts", "_within")

    def __init__(self, bursts: Bursts, start: float) -> None:
        """``start`` is the number, 0 to 1, that decides whether a burst is on."""
        self._bursts = bursts
        self._within = start < bursts.begin / (bursts.begin + bursts.end)

    def lost(self, hit: float, turn: float) -> bool:
        """Whether the next frame is lost."""
        bursts = self._bursts
        if self._within:
            self._within = turn >= bursts.end
            return hit < bursts.loss_within
        self._within = turn < bursts.begin
        return hit < bursts.loss_between


class Path:
    """One way between one pack and the base."""

    __slots__ = ("_chain", "_floor_dbm", "_last_ns", "_random", "_way")

    def __init__(self, random: Random, way: Way, floor_dbm: float | None) -> None:
        """``floor_dbm`` None: however weak, it is heard."""
        start = random.random()
        self._random = random
        self._way = way
        self._floor_dbm = floor_dbm
        self._chain = BurstChain(way.bursts, start) if way.bursts else None
        self._last_ns = 0

    def fate(self, end_ns: int, frame: bytes, level_dbm: float, shadow: float) -> Fate:
        """Draw what becomes of a frame whose last bit is sent at ``end_ns``.

        ``level_dbm`` is the mean level there; ``shadow`` the share that a shadow swallows.
        Times must not go back.
        """
        way = self._way
        level = normal(self._random, level_dbm - SHADOW_DB * shadow, LEVEL_SPREAD_DB)
        lost = self._lost(level, shadow)
        draw = self._random.random
        corrupt, places, late, held, hold, twice, after = (
            draw(), draw(), draw(), draw(), draw(), draw(), draw(),
        )  # fmt: skip
        delay_ns = _span_ns(way.delay_ms, late)
        # In order: who leaves earlier arrives no later, unless it is held back.
        self._last_ns = arrives_ns = max(end_ns + delay_ns, self._last_ns)
        reordered = held < way.reorder
        if reordered:
            arrives_ns += _span_ns(way.reorder_ms, hold)
        times: tuple[int, ...] = (arrives_ns,)
        if twice < way.repeat:
            times = (arrives_ns, arrives_ns + _span_ns(way.repeat_ms, after))
        corrupted = corrupt < way.corrupt
        return Fate(
            lost=lost,
            level_dbm=round(level),
            frame=spoiled(frame, places) if corrupted else frame,
            corrupted=corrupted,
            reordered=reordered,
            delayed=self._last_ns > end_ns,
            arrives_ns=times,
        )

    def _lost(self, level_dbm: float, shadow: float) -> Loss | None:
        draw = self._random.random
        blocked, hit, turn, noise = draw(), draw(), draw(), draw()
        in_burst = self._chain is not None and self._chain.lost(hit, turn)
        if self._floor_dbm is not None and level_dbm < self._floor_dbm:
            return Loss.RANGE
        if blocked < shadow:
            return Loss.SHADOW
        if in_burst:
            return Loss.BURST
        return Loss.NOISE if noise < self._way.loss else None


class Channel:
    """One pack's radio, both ways, and where the pack is."""

    __slots__ = (
        "_down", "_from_m", "_from_ns", "_radio", "_shadow_loss", "_shadow_to_ns", "_to_m",
        "_to_ns", "_up",
    )  # fmt: skip

    def __init__(self, up: Random, down: Random, radio: Radio, distance_m: float) -> None:
        """Start at a distance from the base, in no shadow."""
        floor_dbm = radio.range.floor_dbm if radio.range else None
        self._up = Path(up, radio.up, floor_dbm)
        self._down = Path(down, radio.down, floor_dbm)
        self._radio = radio
        self._shadow_loss = 0.0
        self._shadow_to_ns = 0
        self._from_m = self._to_m = distance_m
        self._from_ns = self._to_ns = 0

    def shade(self, now_ns: int, for_ns: int, loss: float) -> None:
        """Walk into a shadow; the last one asked for holds."""
        self._shadow_loss = loss
        self._shadow_to_ns = now_ns + for_ns

    def go(self, now_ns: int, over_ns: int, distance_m: float) -> None:
        """Set out for a distance from the base, there after so long."""
        self._from_m = self.distance_m(now_ns)
        self._from_ns, self._to_ns = now_ns, now_ns + over_ns
        self._to_m = distance_m

    def distance_m(self, now_ns: int) -> float:
        """How far from the base radio the pack is."""
        if now_ns >= self._to_ns:
            return self._to_m
        gone = (now_ns - self._from_ns) / (self._to_ns - self._from_ns)
        return self._from_m + (self._to_m - self._from_m) * gone

    def up(self, now_ns: int, end_ns: int, frame: bytes) -> Fate:
        """What becomes of a frame that the pack sends from now to ``end_ns``."""
        return self._up.fate(end_ns, frame, self._level_dbm(now_ns), self._shadow(now_ns))

    def down(self, now_ns: int, end_ns: int, frame: bytes) -> Fate:
        """What becomes, for this pack, of a frame of the base."""
        return self._down.fate(end_ns, frame, self._level_dbm(now_ns), self._shadow(now_ns))

    def _shadow(self, now_ns: int) -> float:
        return self._shadow_loss if now_ns < self._shadow_to_ns else 0.0

    def _level_dbm(self, now_ns: int) -> float:
        reach = self._radio.range
        if reach is None:
            return self._radio.level_dbm
        return self._radio.level_dbm - path_loss_db(reach, self.distance_m(now_ns))


def path_loss_db(reach: Range, distance_m: float) -> float:
    """How much weaker than at the reference distance: nearer gives less than nothing."""
    return reach.fade_db * math.log10(distance_m / reach.at_m)


def spoiled(frame: bytes, draw: float) -> bytes:
    """Turn over one to eight bits of a frame; which, the number from 0 to 1 says."""
    random = Random(int(draw * _SEED_SPAN))
    places = 8 * len(frame)
    count = 1 + int(CORRUPT_BITS_MAX * random.random())
    damaged = bytearray(frame)
    # A set: a bit that is drawn twice is turned over once, so never back.
    for place in {int(places * random.random()) for _ in range(count)}:
        damaged[place // 8] ^= 1 << place % 8
    return bytes(damaged)


def _span_ns(span_ms: tuple[float, float], draw: float) -> int:
    low, high = span_ms
    return round((low + (high - low) * draw) * MS_NS)
