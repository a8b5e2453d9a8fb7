import math
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from math import sqrt
from statistics import mean

import pytest

from simulators.channel import (
    CORRUPT_BITS_MAX,
    ORIGIN,
    BurstChain,
    Channel,
    Fate,
    Heading,
    Loss,
    bases_of,
    spoiled,
)
from simulators.path_loss import loss_db
from simulators.radio import Bursts, Radio
from simulators.randoms import child
from simulators.whereabouts import Point

FRAME = bytes(range(46))
MS = 1_000_000


class Radioed:
    """A channel to one base radio, from one place."""

    def __init__(self, channel: Channel, where: Point) -> None:
        self.channel = channel
        self.where = where

    def up(self, now_ns: int, end_ns: int, frame: bytes) -> Fate:
        return self.channel.up(0, now_ns, end_ns, frame, self.where)

    def down(self, now_ns: int, end_ns: int, frame: bytes) -> Fate:
        return self.channel.down(0, now_ns, end_ns, frame, self.where)


def channel(seed: int = 1, distance_m: float = 10, **radio: object) -> Radioed:
    plan = Radio.model_validate(radio)
    bases = bases_of(plan, {}, seed)
    return Radioed(Channel(seed, ("pack", 1), plan, bases), Point(distance_m, 0, 0))


def fates(path: Radioed, count: int, apart_ns: int = 1) -> list[Fate]:
    return [path.up(t, t, FRAME) for t in range(0, count * apart_ns, apart_ns)]


def lost(path: Radioed, count: int) -> list[bool]:
    return [fate.lost is not None for fate in fates(path, count)]


# ---------------------------------------------------------------- everything off


def test_with_nothing_asked_for_everything_arrives_as_sent_and_at_once() -> None:
    path = channel()
    for t in range(1000):
        for fate in (path.up(t, t + 5, FRAME), path.down(t, t + 5, FRAME)):
            assert (fate.lost, fate.frame, fate.arrives_ns) == (None, FRAME, (t + 5,))
            assert (fate.corrupted, fate.delayed, fate.reordered) == (False, False, False)


EFFECTS: dict[str, dict[str, object]] = {
    "loss": {"loss": 0.3},
    "bursts": {"bursts": {"begin": 0.1, "end": 0.3}},
    "corrupt": {"corrupt": 0.3},
    "delay": {"delay_ms": [1, 50]},
    "reorder": {"reorder": 0.3},
    "repeat": {"repeat": 0.3},
}
SHOWN: dict[str, Callable[[Fate], object]] = {
    "loss": lambda fate: fate.lost is Loss.NOISE,
    "bursts": lambda fate: fate.lost is Loss.BURST,
    "corrupt": lambda fate: fate.frame,
    "delay": lambda fate: fate.delayed,
    "reorder": lambda fate: fate.reordered,
    "repeat": lambda fate: len(fate.arrives_ns),
}


@pytest.mark.parametrize("effect", EFFECTS)
def test_an_effect_alone_does_what_it_does_and_nothing_else(effect: str) -> None:
    off, alone = channel(), channel(up=EFFECTS[effect])
    for name, shown in SHOWN.items():
        before = [shown(fate) for fate in fates(off, 300, 100 * MS)]
        after = [shown(fate) for fate in fates(alone, 300, 100 * MS)]
        assert (before != after) == (name == effect), name


@pytest.mark.parametrize("effect", ["loss", "corrupt", "reorder", "repeat"])
def test_one_effect_does_not_shift_what_another_does(effect: str) -> None:
    alone = channel(up=EFFECTS[effect])
    with_all = channel(
        up={key: value for table in EFFECTS.values() for key, value in table.items()}
    )
    shown = SHOWN[effect]
    for one, both in zip(fates(alone, 500), fates(with_all, 500), strict=True):
        # In a burst the first cause that holds is told.
        assert shown(one) == shown(both) or both.lost is Loss.BURST


def test_the_ways_have_their_own_luck() -> None:
    path = channel(up={"loss": 0.5}, down={"loss": 0.5})
    both = [(path.up(t, t, FRAME).lost, path.down(t, t, FRAME).lost) for t in range(4000)]
    # Independent: each of the four pairs a quarter, three standard errors are 0.02.
    for count in Counter(both).values():
        assert count / 4000 == pytest.approx(0.25, abs=0.02)


# ---------------------------------------------------------------- losses


def test_loss_has_the_share_asked_for_each_way() -> None:
    path = channel(up={"loss": 0.10}, down={"loss": 0.30})
    n = 20_000
    up = sum(path.up(t, t, FRAME).lost is Loss.NOISE for t in range(n)) / n
    down = sum(path.down(t, t, FRAME).lost is Loss.NOISE for t in range(n)) / n
    # Three standard errors: 3 sqrt(q (1 - q) / n) = 0.0064 and 0.0097.
    assert up == pytest.approx(0.10, abs=0.0064)
    assert down == pytest.approx(0.30, abs=0.0097)


def test_runs_of_independent_losses_are_as_feller_has_them() -> None:
    """Feller, vol. 1, ch. XIII.

    Mean number of slots to the first run of k losses: (1 - q^k) / ((1 - q) q^k) = 14 for q = .5,
    k = 3. P(a run of 3 within 10) = 0.5078125.
    """
    gone = lost(channel(up={"loss": 0.5}), 120_000)
    waits, start, run = [], 0, 0
    for slot, one in enumerate(gone):
        run = run + 1 if one else 0
        if run == 3:
            waits.append(slot + 1 - start)
            start, run = slot + 1, 0
    # Its spread is below 12: three standard errors of the mean are 36 / sqrt(8500) = 0.4.
    assert mean(waits) == pytest.approx(14, abs=0.4)
    tens = [gone[at : at + 10] for at in range(0, len(gone), 10)]
    runs = sum(any(all(ten[at : at + 3]) for at in range(8)) for ten in tens)
    # 12,000 tens: three standard errors are 3 sqrt(.25 / 12000) = 0.0137.
    assert runs / len(tens) == pytest.approx(0.5078, abs=0.0137)


@pytest.mark.parametrize(
    ("bursts", "share", "mean_burst"),
    [
        # Gilbert: loss p / (p + r), mean burst 1 / r.
        ({"begin": 0.05, "end": 0.45}, 0.1000, 2.22),
        ({"begin": 0.02, "end": 0.2}, 0.0909, 5.0),
        ({"begin": 0.01, "end": 0.1}, 0.0909, 10.0),
        # Elliott, with h = .3 and k = .99: (r (1 - k) + p (1 - h)) / (p + r).
        ({"begin": 0.05, "end": 0.2, "loss_within": 0.7, "loss_between": 0.01}, 0.1480, None),
    ],
)
def test_a_million_slots_of_bursts(
    bursts: dict[str, float], share: float, mean_burst: float | None
) -> None:
    plan = Bursts.model_validate(bursts)
    draw = child(1, "slots").random
    chain = BurstChain(plan, draw())
    n = 1_000_000
    gone = [chain.lost(draw(), draw()) for _ in range(n)]
    # Lag-1 correlation c = 1 - p - r widens three standard errors by sqrt((1 + c) / (1 - c)).
    c = 1 - plan.begin - plan.end
    band = 3 * sqrt(share * (1 - share) / n * (1 + c) / (1 - c))
    assert sum(gone) / n == pytest.approx(share, abs=max(band, 0.003))
    if mean_burst is not None:
        begun = sum(now and not before for before, now in pairwise([False, *gone]))
        assert sum(gone) / begun == pytest.approx(mean_burst, rel=0.03)


def test_a_path_starts_in_a_burst_as_often_as_it_is_in_one() -> None:
    bursts = {"begin": 0.02, "end": 0.2}
    first = [lost(channel(seed, up={"bursts": bursts}), 1)[0] for seed in range(2000)]
    # p / (p + r) = 0.0909; three standard errors are 3 sqrt(.0909 x .909 / 2000) = 0.0193.
    assert sum(first) / len(first) == pytest.approx(0.0909, abs=0.0193)


def test_a_shadow_has_a_beginning_and_an_end() -> None:
    path = channel()
    path.channel.shade(100, 50, 1.0, *Heading)
    assert all(path.down(t, t, FRAME).lost is Loss.SHADOW for t in range(100, 150))
    assert path.up(149, 149, FRAME).lost is Loss.SHADOW
    assert path.up(150, 150, FRAME).lost is None
    assert path.down(150, 150, FRAME).lost is None


def test_a_shadow_does_not_shift_what_comes_after() -> None:
    clear, shaded = channel(up={"loss": 0.2}), channel(up={"loss": 0.2})
    shaded.channel.shade(0, 500, 1.0, *Heading)
    assert fates(clear, 1000)[500:] == fates(shaded, 1000)[500:]


# ---------------------------------------------------------------- level and range


def test_the_level_is_near_what_was_asked_and_weaker_in_a_shadow() -> None:
    path = channel(level_dbm=-70)
    assert mean(fate.level_dbm for fate in fates(path, 500)) == pytest.approx(-70, abs=1)
    path.channel.shade(0, 1000, 0.5, *Heading)
    assert mean(fate.level_dbm for fate in fates(path, 500)) == pytest.approx(-82.5, abs=1)


def test_a_shadow_can_be_of_one_way() -> None:
    for way, gone in ((Heading.UP, (True, False)), (Heading.DOWN, (False, True))):
        path = channel()
        path.channel.shade(0, 100, 1.0, way)
        fate = path.up(1, 1, FRAME), path.down(1, 1, FRAME)
        assert tuple(one.lost is Loss.SHADOW for one in fate) == gone


def test_the_level_is_what_is_radiated_less_the_loss_of_the_way() -> None:
    """74.0 dB at 20 m, 83.0 dB through a floor (ITU-R P.1238, office at 900 MHz)."""
    reach = {"building": "office", "mhz": 900, "power_dbm": 10, "weakest_dbm": -140}
    near = channel(1, 20, range=reach)
    assert mean(fate.level_dbm for fate in fates(near, 500)) == pytest.approx(-64, abs=0.6)
    near.where = Point(math.sqrt(20**2 - 3**2), 0, 1)  # 20 m as the crow flies, 3 m a floor
    assert mean(fate.level_dbm for fate in fates(near, 500)) == pytest.approx(-73, abs=0.6)


def test_beyond_the_range_nothing_is_heard() -> None:
    # 10 ^ ((100 - 31.08) / 33) m: there the level is the weakest, and its spread lets half through.
    limit_m = 10 ** ((100 - 31.08) / 33)
    assert loss_db("office", 900, limit_m, 0) == pytest.approx(100, abs=0.05)
    reach = {"building": "office", "mhz": 900, "power_dbm": 0, "weakest_dbm": -100}
    for distance_m, share in ((limit_m / 3, 1.0), (limit_m, 0.5), (3 * limit_m, 0.0)):
        heard = [not gone for gone in lost(channel(1, distance_m, range=reach), 2000)]
        assert sum(heard) / 2000 == pytest.approx(share, abs=0.06)
    assert not any(lost(channel(1, 5000), 100))


def test_each_base_radio_hears_a_frame_with_its_own_luck() -> None:
    plan = Radio.model_validate({"up": {"loss": 0.5}, "bases": ["south door", "north door"]})
    places = {"south door": ORIGIN, "north door": Point(0, 80, 0)}
    both = Channel(1, ("pack", 1), plan, bases_of(plan, places, 1))
    one = channel(up={"loss": 0.5})
    heard = [[both.up(b, t, t, FRAME, ORIGIN).lost for b in (0, 1)] for t in range(4000)]
    # A second base radio does not shift the first; either alone misses half, both a quarter.
    assert [first for first, _ in heard] == [one.up(t, t, FRAME).lost for t in range(4000)]
    missed = sum(all(two) for two in heard) / 4000
    assert missed == pytest.approx(0.25, abs=0.0205)


def test_who_stands_between_two_base_radios_is_heard_by_the_nearer() -> None:
    reach = {"range": {"weakest_dbm": -90}, "bases": ["south door", "north door"]}
    plan = Radio.model_validate(reach)
    bases = bases_of(plan, {"south door": ORIGIN, "north door": Point(0, 200, 0)}, 1)
    path = Channel(1, ("pack", 1), plan, bases)
    levels = [path.up(base, 0, 0, FRAME, Point(0, 30, 0)).lost for base in (0, 1)]
    assert levels == [None, Loss.RANGE]


# ---------------------------------------------------------------- what befalls those that arrive


def test_a_corrupted_frame_has_a_few_bits_turned_over() -> None:
    path = channel(up={"corrupt": 0.25})
    found = fates(path, 4000)
    damaged = [fate.frame for fate in found if fate.corrupted]
    # Three standard errors: 3 sqrt(.25 x .75 / 4000) = 0.0205.
    assert len(damaged) / 4000 == pytest.approx(0.25, abs=0.0205)
    turned = Counter(
        sum((a ^ b).bit_count() for a, b in zip(frame, FRAME, strict=True)) for frame in damaged
    )
    assert set(turned) == set(range(1, CORRUPT_BITS_MAX + 1))
    assert all(fate.frame == FRAME for fate in found if not fate.corrupted)


def test_damage_is_told_by_its_number() -> None:
    assert spoiled(FRAME, 0.3) == spoiled(FRAME, 0.3) != spoiled(FRAME, 0.31)


def test_a_delay_alone_never_changes_the_order() -> None:
    path = channel(up={"delay_ms": [20, 400]})
    arrivals = [fate.arrives_ns[0] for fate in fates(path, 2000, 50 * MS)]
    assert arrivals == sorted(arrivals)
    late = [at - sent * 50 * MS for sent, at in enumerate(arrivals)]
    assert min(late) >= 20 * MS
    assert max(late) <= 400 * MS
    assert channel(up={"delay_ms": [30, 30]}).up(0, 7, FRAME).arrives_ns == (7 + 30 * MS,)


def test_frames_held_back_are_overtaken() -> None:
    path = channel(up={"reorder": 0.2, "reorder_ms": [150, 300]})
    found = fates(path, 3000, 100 * MS)
    held = [sent for sent, fate in enumerate(found) if fate.reordered]
    assert len(held) / 3000 == pytest.approx(0.2, abs=0.022)
    for sent, fate in enumerate(found):
        late = fate.arrives_ns[0] - sent * 100 * MS
        assert 150 * MS <= late <= 300 * MS if fate.reordered else late == 0


def test_repeated_frames_are_there_twice() -> None:
    found = fates(channel(up={"repeat": 0.2, "repeat_ms": [5, 40]}), 3000)
    twice = [fate.arrives_ns for fate in found if len(fate.arrives_ns) == 2]
    assert len(twice) / 3000 == pytest.approx(0.2, abs=0.022)
    assert all(5 * MS <= second - first <= 40 * MS for first, second in twice)


def test_the_same_seed_gives_the_same_fates() -> None:
    everything = {key: value for table in EFFECTS.values() for key, value in table.items()}
    assert fates(channel(3, up=everything), 300) == fates(channel(3, up=everything), 300)
    assert fates(channel(3, up=everything), 300) != fates(channel(4, up=everything), 300)
