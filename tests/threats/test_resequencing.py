"""Re-sequencing: frames arrive in another order. An older state is never shown as the present.

A frame is taken whatever its place within the window of 64, but only the newest number is shown.
"""

import heapq
from itertools import permutations
from random import Random

import pytest

from protocol.codec import decode
from protocol.freshness import WINDOW_WIDTH
from protocol.packets import Kind, Motion, Order
from tests.threats.bench import MS, Base, Receiver, S


def test_every_order_of_five_frames(base: Base) -> None:
    sender, arrived, late = base.senders[0], 0, 0
    for order in permutations(range(5)):
        first = sender.sequence + 1
        frames = [sender.frame(base.boot_ns + n * MS) for n in range(5)]
        pressures = [sender.dbar + 4 - n for n in range(5)]
        newest = -1
        for number in order:
            late += number < newest
            newest = max(newest, number)
            base.hear(frames[number])
            base.commit()
            arrived += 1
            assert base.line().air.reading_bar == pressures[newest] / 10
        assert sender.sequence == first + 4
        base.wait(1 * S)
    line = base.line()
    assert arrived == 5 * 120
    assert (line.frames_lost, line.frames_late) == (0, late)
    assert late > 300
    assert base.refused() == {}


def test_random_delays_never_show_an_older_state(base: Base) -> None:
    """Each report up to 9 s late, at one a second: up to nine overtake it."""
    random = Random(1)
    way: list[tuple[int, int, int, int, bytes]] = []
    newest, late, step = [0] * 5, [0] * 5, 0
    for _ in range(200):
        for number, sender in enumerate(base.senders):
            frame = sender.frame(base.boot_ns, motion=random.choice((Motion.MOVING, Motion.STILL)))
            step += 1
            due = base.boot_ns + random.randrange(9_000) * MS
            heapq.heappush(way, (due, step, number, sender.sequence, frame))
        base.wait(1 * S)
        while way and way[0][0] <= base.boot_ns:
            _, _, number, sequence, frame = heapq.heappop(way)
            late[number] += sequence < newest[number]
            newest[number] = max(newest[number], sequence)
            base.hear(frame)
        base.commit()
        for number, line in enumerate(base.picture.wearers):
            if newest[number]:
                # A pack's pressure is the full one less a tenth of a bar for each frame.
                assert line.air.reading_bar == (3000 - newest[number]) / 10
    assert [line.frames_late for line in base.picture.wearers] == late
    assert sum(late) > 500
    assert base.standings["HELD"] == 0


def test_a_late_warning_is_not_the_present_state_but_an_alarm(base: Base) -> None:
    sender = base.senders[0]
    sender_alarm = sender.frame(base.boot_ns, kind=Kind.EVENT, distress=True)
    base.hear(sender.frame(base.boot_ns))
    base.commit()
    assert base.alarms() == set()
    shown = base.shows()
    base.hear(sender_alarm)
    base.commit()
    # That it was pressed did happen; nothing else of the older frame is shown.
    assert base.shows() == shown
    assert "distress" in base.alarms()


def test_frames_kept_back_beyond_the_window_are_old(base: Base) -> None:
    kept = [sender.frame(base.boot_ns) for sender in base.senders for _ in range(100)]
    for _ in range(WINDOW_WIDTH):
        base.round()
    with base.nothing_taken():
        for frame in kept:
            base.hear(frame)
    assert base.refused() == {"TOO_OLD": 500}
    assert "same_identity" in base.alarms()


def test_frames_of_an_earlier_boot_are_old(base: Base) -> None:
    kept = [sender.frame(base.boot_ns) for sender in base.senders for _ in range(100)]
    for sender in base.senders:
        sender.boot, sender.sequence, sender.on_ns = 4, 0, base.boot_ns
        base.hear(sender.frame(base.boot_ns))
    assert base.line().air.reading_bar == base.senders[0].dbar / 10
    with base.nothing_taken():
        for frame in kept:
            base.hear(frame)
    assert base.refused() == {"BOOT_BACK": 500}
    assert "same_identity" in base.alarms()


def test_orders_name_the_new_boot_from_its_first_frame_on(base: Base) -> None:
    """Whatever that is: a report, or a receipt while its sign-on was lost, within one burst."""
    base.evacuate()
    for n, sender in enumerate(base.senders):
        old = sender.frame(base.boot_ns)
        sender.boot, sender.sequence, sender.on_ns = 4, 0, base.boot_ns
        new = sender.receipt(base.boot_ns) if n % 2 else sender.frame(base.boot_ns)
        base.hear(old, new)
    base.sent.clear()
    base.wait(20 * S)
    orders = [order for frame in base.sent if isinstance(order := decode(frame), Order)]
    assert len({order.identity for order in orders}) == 5
    assert {(order.boot, order.sequence) for order in orders} == {(4, 1)}


@pytest.mark.parametrize("seed", range(5))
def test_orders_in_any_order_never_go_back(receiver: Receiver, seed: int) -> None:
    random, first = Random(seed), 1
    passed = 0
    for _ in range(20):
        orders = [(n, receiver.order(n)) for n in range(first, first + 6)]
        random.shuffle(orders)
        highest = 0
        for number, order in orders:
            passed += number < highest
            highest = max(highest, number)
            receiver.hear(order)
            assert receiver.pack._gate.highest == highest
        first += 6
        receiver.wait(5 * S)
    assert receiver.obeyed == sorted(set(receiver.obeyed))
    assert receiver.refused() == {"ORDER_PASSED": passed}
    assert passed > 40
