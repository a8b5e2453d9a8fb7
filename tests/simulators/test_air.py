from math import exp

import pytest

from protocol.packets import Kind
from simulators.air import COUNTED, Air, Passage, base_sender, count_lines
from simulators.channel import Fate, Heading, Loss
from simulators.movement import FOREVER_NS
from simulators.pack import Outgoing
from simulators.radio import Shared
from simulators.randoms import child, waiting

S = 1_000_000_000
FRAME = bytes(48)
TAU_NS = 9_280_000
"""(48 + 10) x 8 / 50,000 s."""


def passage(
    unit: int, end_ns: int, lost: Loss | None = None, heading: Heading = Heading.UP
) -> Passage:
    fate = Fate(lost, -70, FRAME, False, False, False, (end_ns,))
    return Passage(heading, unit, 0, end_ns, fate, Outgoing(Kind.STATUS, 1, 0, FRAME))


def send(air: Air, unit: int, now_ns: int, lost: Loss | None = None) -> None:
    start_ns, end_ns = air.slot(unit, now_ns, FRAME)
    air.send(start_ns, end_ns, [passage(unit, end_ns, lost)])


def arrived(air: Air, now_ns: int) -> list[int]:
    air.settled(now_ns)
    return [one.unit for _, one in air.arrived(now_ns)]


def test_a_frame_takes_its_time_on_a_shared_channel_only() -> None:
    assert Air(Shared()).slot(1, 100, FRAME) == (100, 100 + TAU_NS)
    assert Air(None).slot(1, 100, FRAME) == (100, 100)
    # 300 bit/s, nothing added: 384 bits take 1.28 s.
    assert Air(Shared(bit_rate=300, extra_bytes=0)).slot(1, 0, FRAME) == (0, 1_280_000_000)


def test_one_sender_sends_one_frame_after_the_other() -> None:
    air = Air(Shared())
    send(air, 1, 0)
    send(air, 1, 5)
    assert air.slot(1, 6, FRAME)[0] == 2 * TAU_NS
    assert arrived(air, 2 * TAU_NS) == [1, 1]


@pytest.mark.parametrize(
    ("second_ns", "through"),
    [(0, []), (1, []), (TAU_NS - 1, []), (TAU_NS, [1, 2]), (TAU_NS + 1, [1, 2])],
)
def test_frames_that_overlap_are_both_lost(second_ns: int, through: list[int]) -> None:
    air = Air(Shared())
    send(air, 1, 0)
    if second_ns >= TAU_NS:
        air.settled(second_ns)
    send(air, 2, second_ns)
    air.settled(TAU_NS)
    assert [one.unit for _, one in air.arrived(TAU_NS)] + arrived(air, S) == through
    assert air.counts[Heading.UP]["collision"] == 2 - len(through)


def test_without_a_shared_channel_nothing_collides() -> None:
    air = Air(None)
    send(air, 1, 0)
    send(air, 2, 0)
    assert arrived(air, 0) == [1, 2]


@pytest.mark.parametrize("cause", [Loss.RANGE, Loss.SHADOW])
def test_what_does_not_reach_the_base_disturbs_nobody(cause: Loss) -> None:
    air = Air(Shared())
    send(air, 1, 0, cause)
    send(air, 2, 5)
    assert arrived(air, S) == [2]
    assert air.counts[Heading.UP][cause] == 1


@pytest.mark.parametrize("cause", [Loss.BURST, Loss.NOISE])
def test_a_collision_is_told_before_noise(cause: Loss) -> None:
    air = Air(Shared())
    send(air, 1, 0, cause)
    send(air, 2, 5)
    assert arrived(air, S) == []
    assert air.counts[Heading.UP]["collision"] == 2


def to_both(unit: int, end_ns: int, *lost: Loss | None) -> list[Passage]:
    """A frame of a pack to two base radios."""
    found = [passage(unit, end_ns, one) for one in lost]
    found[1].base = 1
    return found


def test_frames_collide_only_where_both_are_heard() -> None:
    """Two packs at two doors, each too weak for the other's radio: both get through."""
    for lost, through in ((Loss.RANGE, [(1, 0), (2, 1)]), (None, [])):
        air = Air(Shared())
        air.send(0, TAU_NS, to_both(1, TAU_NS, None, lost))
        air.send(5, TAU_NS + 5, to_both(2, TAU_NS + 5, lost, None))
        air.settled(S)
        assert [(one.unit, one.base) for _, one in air.arrived(S)] == through


def test_a_frame_that_reaches_one_base_radio_disturbs_there_alone() -> None:
    air = Air(Shared())
    air.send(0, TAU_NS, to_both(1, TAU_NS, None, None))
    air.send(5, TAU_NS + 5, to_both(2, TAU_NS + 5, Loss.RANGE, None))
    air.settled(S)
    assert [(one.unit, one.base) for _, one in air.arrived(S)] == [(1, 0)]


def test_the_base_sends_on_the_same_channel() -> None:
    air = Air(Shared())
    start_ns, end_ns = air.slot(base_sender(0), 0, FRAME)
    shaded = passage(2, end_ns, Loss.SHADOW, Heading.DOWN)
    air.send(start_ns, end_ns, [passage(1, end_ns, None, Heading.DOWN), shaded])
    send(air, 1, 5)
    assert arrived(air, S) == []
    assert air.counts[Heading.DOWN] == {"sent": 2, "collision": 1, "shadow": 1}
    # Nobody there to hear it: it fills the channel all the same.
    air.send(*air.slot(base_sender(0), 2 * S, FRAME), [])
    send(air, 1, 2 * S)
    assert arrived(air, 3 * S) == []


def test_it_says_when_something_is_due_and_counts_under_every_name() -> None:
    air = Air(None)
    assert air.due_ns == FOREVER_NS
    send(air, 1, 7)
    assert air.due_ns == 7
    assert set(count_lines(air.counts)["up"]) == set(COUNTED)
    assert set(count_lines(air.counts)["up"].values()) == {0}


@pytest.mark.parametrize(
    ("packs", "tau_ms", "period_s", "delivered"),
    [
        (20, 10, 5, 0.927),
        (20, 50, 5, 0.681),
        (50, 20, 5, 0.675),
        (50, 10, 10, 0.907),
        (10, 10, 1, 0.834),
    ],
)
def test_delivery_with_random_phases_is_pure_aloha(
    packs: int, tau_ms: int, period_s: int, delivered: float
) -> None:
    """Pure ALOHA: (1 - 2 tau / P)^(N - 1), the values above by arithmetic; within 1 %."""
    assert (1 - 2 * tau_ms / 1000 / period_s) ** (packs - 1) == pytest.approx(delivered, abs=6e-4)
    air = Air(Shared())
    draw = child(1, "phases", packs, tau_ms).random
    period_ns = period_s * S
    count = 20_000 // packs
    for turn in range(count):
        # A turn is a circle, so that its edge is no edge: what runs over the end of the turn meets
        # what is sent at its beginning.
        phases = sorted(int(draw() * period_ns) for _ in range(packs))
        begin_ns = 3 * turn * period_ns
        for lap in range(3):
            for unit, phase in enumerate(phases):
                now_ns = begin_ns + lap * period_ns + phase
                air.settled(now_ns)
                lost = None if lap == 1 else Loss.NOISE
                end_ns = now_ns + tau_ms * 1_000_000
                air.send(now_ns, end_ns, [passage(unit, end_ns, lost)])
        air.settled(begin_ns + 4 * period_ns)
    got = len(air.arrived(FOREVER_NS)) / (count * packs)
    assert got == pytest.approx(delivered, rel=0.01)


def throughput(load: float, frames: int) -> float:
    """Share of the time that frames take which get through, of so many sent at random."""
    air, random = Air(Shared()), child(1, "load", str(load))
    now_ns = 0
    for unit in range(frames):
        now_ns += round(waiting(random, TAU_NS / load))
        air.settled(now_ns)
        end_ns = now_ns + TAU_NS
        air.send(now_ns, end_ns, [passage(unit, end_ns)])
    air.settled(now_ns + S)
    return len(air.arrived(FOREVER_NS)) * TAU_NS / now_ns


# G exp(-2 G) (Abramson, "The ALOHA system", AFIPS 37, 1970): its maximum is 1 / 2e = 0.1839 at 0.5.
@pytest.mark.parametrize(
    ("load", "expected"),
    [(0.1, 0.0819), (0.25, 0.1516), (0.5, 0.1839), (1.0, 0.1353), (2.0, 0.0366)],
)
def test_what_gets_through_of_a_shared_channel(load: float, expected: float) -> None:
    assert load * exp(-2 * load) == pytest.approx(expected, abs=5e-5)
    # Of 60,000 frames a share d gets through, of which neighbours share their fate: three standard
    # errors are at most 3 sqrt(2 x .25 / 60000) = 0.0087 of G.
    assert throughput(load, 60_000) == pytest.approx(expected, abs=0.0087 * load)


def test_half_the_time_is_where_most_gets_through() -> None:
    most = throughput(0.5, 60_000)
    assert most > max(throughput(load, 60_000) for load in (0.3, 0.8))
