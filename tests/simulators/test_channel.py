from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from math import sqrt
from statistics import mean

import pytest

from simulators.channel import (
    CORRUPT_BITS_MAX,
    BurstChain,
    Channel,
    Fate,
    Loss,
    path_loss_db,
    spoiled,
)
from simulators.radio import Bursts, Radio, Range
from simulators.randoms import child

FRAME = bytes(range(46))
MS = 1_000_000


def channel(seed: int = 1, distance_m: float = 10, **radio: object) -> Channel:
    plan = Radio.model_validate(radio)
    return Channel(child(seed, "up"), child(seed, "down"), plan, distance_m)


def fates(path: Channel, count: int, apart_ns: int = 1) -> list[Fate]:
    return [path.up(t, t, FRAME) for t in range(0, count * apart_ns, apart_ns)]


def lost(path: Channel, count: int) -> list[bool]:
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
    path.shade(100, 50, 1.0)
    assert all(path.down(t, t, FRAME).lost is Loss.SHADOW for t in range(100, 150))
    assert path.up(149, 149, FRAME).lost is Loss.SHADOW
    assert path.up(150, 150, FRAME).lost is None
    assert path.down(150, 150, FRAME).lost is None


def test_a_shadow_does_not_shift_what_comes_after() -> None:
    clear, shaded = channel(up={"loss": 0.2}), channel(up={"loss": 0.2})
    shaded.shade(0, 500, 1.0)
    assert fates(clear, 1000)[500:] == fates(shaded, 1000)[500:]


# ---------------------------------------------------------------- level and range


def test_the_level_is_near_what_was_asked_and_weaker_in_a_shadow() -> None:
    path = channel(level_dbm=-70)
    assert mean(fate.level_dbm for fate in fates(path, 500)) == pytest.approx(-70, abs=1)
    path.shade(0, 1000, 0.5)
    assert mean(fate.level_dbm for fate in fates(path, 500)) == pytest.approx(-82.5, abs=1)


def test_the_signal_weakens_with_the_distance() -> None:
    """ITU-R P.1238, 900 MHz in an office, N = 33.

    20 log 900 + 33 log 20 - 28 = 74.0 dB at 20 m, 64.1 dB at 10 m: 9.9 dB between the two.
    """
    assert path_loss_db(Range(), 20) == pytest.approx(9.9, abs=0.05)
    assert path_loss_db(Range(), 10) == 0.0
    assert path_loss_db(Range(fade_db=20), 100) == pytest.approx(20)


def test_beyond_the_range_nothing_is_heard() -> None:
    reach = {"at_m": 10, "fade_db": 30, "floor_dbm": -100}
    # -70 dBm at 10 m is -100 at 100 m: there the spread lets half of them through.
    for distance_m, share in ((30, 1.0), (100, 0.5), (250, 0.0)):
        heard = [not gone for gone in lost(channel(1, distance_m, range=reach), 2000)]
        assert sum(heard) / 2000 == pytest.approx(share, abs=0.04)
    assert not any(lost(channel(1, 5000), 100))


def test_a_pack_on_its_way_passes_every_distance() -> None:
    path = channel(distance_m=10)
    path.go(1000, 400, 50)
    assert [path.distance_m(t) for t in (1000, 1100, 1400, 9000)] == [10, 20, 50, 50]
    path.go(9000, 0, 30)
    assert path.distance_m(9000) == 30
    path.go(9000, 100, 50)
    path.go(9050, 100, 10)  # turns round on the way
    assert [path.distance_m(t) for t in (9050, 9100, 9150)] == [40, 25, 10]


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
