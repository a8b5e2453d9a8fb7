"""The radio between one pack and the base radios: what becomes of each frame, both ways.

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
what another does. The two ways of a pack to each base radio draw from generators of their own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from random import Random

from simulators.path_loss import loss_db
from simulators.radio import Bursts, Radio, Way
from simulators.randoms import between, child, normal
from simulators.shadowing import Field
from simulators.whereabouts import Point

MS_NS = 1_000_000
LEVEL_SPREAD_DB = 3.0
SHADOW_DB = 25.0
"""How much weaker a signal is that only just comes through a shadow (invented)."""
CORRUPT_BITS_MAX = 8
APART_M = 1.5
"""How far two at the same place stand from its middle, each way (invented)."""
ORIGIN = Point(0.0, 0.0, 0.0)
Name = tuple[str | int, ...]
_SEED_SPAN = 1 << 53


class Heading(StrEnum):
    """Which way a frame goes."""

    UP = "up"
    DOWN = "down"


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


@dataclass(frozen=True, slots=True)
class Base:
    """A base radio: where it stands, and what shades the paths to it."""

    point: Point
    field: Field | None


def bases_of(radio: Radio, places: Mapping[str, Point], seed: int) -> tuple[Base, ...]:
    """Give the base radios of a run, at least one."""
    points = [places[name] for name in radio.bases] or [ORIGIN]
    plan = radio.shadowing
    return tuple(
        Base(point, Field(child(seed, "base", number, "shadowing"), plan) if plan else None)
        for number, point in enumerate(points, start=1)
    )


class Channel:
    """One pack's radio, both ways, to each base radio."""

    __slots__ = ("_bases", "_down", "_own", "_radio", "_shadows", "_up")

    def __init__(self, seed: int, name: Name, radio: Radio, bases: Sequence[Base]) -> None:
        """In no shadow. ``name`` is that of the pack's own generators."""
        floor_dbm = radio.range.weakest_dbm if radio.range else None
        numbers = [() if number == 1 else (number,) for number in range(1, len(bases) + 1)]
        self._up = [Path(child(seed, *name, "up", *n), radio.up, floor_dbm) for n in numbers]
        self._down = [Path(child(seed, *name, "down", *n), radio.down, floor_dbm) for n in numbers]
        self._radio = radio
        self._bases = bases
        self._shadows = dict.fromkeys(Heading, (0, 0.0))
        stands = child(seed, *name, "stands")
        self._own = (between(stands, -APART_M, APART_M), between(stands, -APART_M, APART_M))

    def shade(self, now_ns: int, for_ns: int, loss: float, *ways: Heading) -> None:
        """Walk into a shadow, for some ways; of each way the last one asked for holds."""
        for way in ways:
            self._shadows[way] = (now_ns + for_ns, loss)

    def up(self, base: int, now_ns: int, end_ns: int, frame: bytes, where: Point) -> Fate:
        """What becomes, at a base radio, of a frame that the pack sends from now to ``end_ns``."""
        level_dbm, shadow = self._level_dbm(base, now_ns, where), self._shadow(Heading.UP, now_ns)
        return self._up[base].fate(end_ns, frame, level_dbm, shadow)

    def down(self, base: int, now_ns: int, end_ns: int, frame: bytes, where: Point) -> Fate:
        """What becomes, for this pack, of a frame of a base radio."""
        level_dbm, shadow = self._level_dbm(base, now_ns, where), self._shadow(Heading.DOWN, now_ns)
        return self._down[base].fate(end_ns, frame, level_dbm, shadow)

    def _shadow(self, way: Heading, now_ns: int) -> float:
        to_ns, loss = self._shadows[way]
        return loss if now_ns < to_ns else 0.0

    def _level_dbm(self, number: int, now_ns: int, where: Point) -> float:
        reach, base = self._radio.range, self._bases[number]
        level_dbm = self._radio.level_dbm
        if reach is not None:
            metres, floors = where.metres_to(base.point), where.floors_to(base.point)
            level_dbm = reach.power_dbm - loss_db(reach.building, reach.mhz, metres, floors)
        if base.field is not None:
            x_m, y_m = where.x_m + self._own[0], where.y_m + self._own[1]
            level_dbm += base.field.db(Point(x_m, y_m, where.floor), now_ns)
        return level_dbm


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
