"""Masquerade: a frame that claims to be from somebody else. The keys stand against it.

Each pack has keys of its own, one for each direction, use and epoch.
"""

from collections.abc import Callable
from random import Random

import pytest

from protocol.codec import encode, receive_down
from protocol.integrity import PackKeys, checksum
from protocol.packets import Envelope, Kind, Order, ReceiptKind
from tests.threats.bench import KEY, MS, Base, Receiver, S, Sender, ring
from tests.threats.conftest import MakeBase

CASES = 300


def posing(base: Base, keys: PackKeys, identity: int = 101) -> Sender:
    """Somebody who knows all of a pack's numbers and the present beacon, but not its key."""
    real = base.senders[identity - 101]
    return Sender(keys, identity, real.boot, real.sequence, real.on_ns, real.beacon, dbar=999)


WRONG: dict[str, Callable[[], PackKeys]] = {
    "another fleet": lambda: ring(bytes(32)).pack_keys(101, 1),
    "another pack of the fleet": lambda: ring().pack_keys(102, 1),
    "a real set at an exercise": lambda: ring(use="real").pack_keys(101, 1),
}


@pytest.mark.parametrize("who", WRONG)
def test_a_key_that_is_not_this_packs(keyed: Base, who: str) -> None:
    sender = posing(keyed, WRONG[who]())
    with keyed.nothing_taken():
        for _ in range(CASES):
            keyed.hear(sender.frame(keyed.boot_ns))
            keyed.hear(sender.frame(keyed.boot_ns, distress=True))
            keyed.hear(sender.sign_on(keyed.boot_ns))
            keyed.hear(sender.receipt(keyed.boot_ns))
    assert keyed.refused() == {"TAG": 4 * CASES}
    # A call is shown whoever made it, as one that proves nothing.
    assert keyed.alarms() == {"foreign_frames", "unproven_distress"}


@pytest.mark.parametrize("answer", ReceiptKind)
def test_receipts_of_somebody_else_answer_no_order(keyed: Base, answer: ReceiptKind) -> None:
    keyed.evacuate()
    sender = posing(keyed, WRONG["another fleet"]())
    for number in range(1, 1 + CASES):
        keyed.hear(sender.receipt(keyed.boot_ns, answer, number))
        keyed.hear(sender.frame(keyed.boot_ns, order_received=number, order_acknowledged=number))
    (order,) = keyed.picture.orders
    assert (order.of, order.received, order.acknowledged, order.state) == (5, 0, 0, "open")
    assert all(line.coming_out_ns is None for line in keyed.picture.wearers)
    assert keyed.refused() == {"TAG": 2 * CASES}


def test_an_exercise_key_at_a_real_incident(make_base: MakeBase) -> None:
    real = make_base(ring(use="real"))
    real.begin()
    sender = posing(real, ring(use="exercise").pack_keys(101, 1))
    with real.nothing_taken():
        for _ in range(CASES):
            real.hear(sender.frame(real.boot_ns))
    assert real.refused() == {"TAG": CASES}


@pytest.mark.parametrize("which", ["down", "broadcast"])
def test_keys_of_the_other_direction(keyed: Base, which: str) -> None:
    """What a base's key for orders, or the key that all packs hold, can make: nothing upward."""
    keys = ring().pack_keys(101, 1)
    sender = posing(keyed, PackKeys(1, getattr(keys, which), keys.down, keys.broadcast))
    with keyed.nothing_taken():
        for _ in range(CASES):
            keyed.hear(sender.frame(keyed.boot_ns))
    assert keyed.refused() == {"TAG": CASES}


def test_an_epoch_that_has_been_dropped(keyed: Base) -> None:
    sender = posing(keyed, ring(epoch=9).pack_keys(101, 9))
    with keyed.nothing_taken():
        for _ in range(CASES):
            keyed.hear(sender.frame(keyed.boot_ns))
    assert keyed.refused() == {"EPOCH_UNKNOWN": CASES}


def test_a_frame_of_a_dropped_epoch_under_the_number_of_the_present_one(keyed: Base) -> None:
    old = ring(bytes(32)[:31] + b"\x07", epoch=1)
    sender = posing(keyed, old.pack_keys(101, 1))
    with keyed.nothing_taken():
        for _ in range(CASES):
            keyed.hear(sender.frame(keyed.boot_ns))
    assert keyed.refused() == {"TAG": CASES}


def test_genuine_frames_under_another_identity(keyed: Base) -> None:
    """The identity rewritten and the checksum put right: for each pair of packs here."""
    cases = 0
    with keyed.nothing_taken():
        for real in keyed.senders:
            for number in range(CASES):
                other = 101 + number % 5
                if other != real.identity:
                    frame = bytearray(real.frame(keyed.boot_ns))
                    frame[4:8] = other.to_bytes(4, "big")
                    keyed.hear(bytes(frame[:-2]) + checksum(bytes(frame[:-2])))
                    cases += 1
    assert keyed.refused() == {"TAG": cases}
    assert cases == 5 * CASES * 4 // 5


def test_numbers_moved_on_in_a_recorded_frame(keyed: Base) -> None:
    """Boot, sequence, uptime and beacon of an old frame made present: the tag covers them all."""
    frame = keyed.senders[0].frame(keyed.boot_ns)
    random = Random(1)
    with keyed.nothing_taken():
        for _ in range(CASES):
            forged = bytearray(frame)
            for at in random.sample((8, 12, 20, 24), random.randrange(1, 5)):
                value = int.from_bytes(forged[at : at + 4], "big") + random.randrange(1, 99)
                forged[at : at + 4] = value.to_bytes(4, "big")
            keyed.hear(bytes(forged[:-2]) + checksum(bytes(forged[:-2])))
    assert keyed.refused() == {"TAG": CASES}


def test_guessed_tags(keyed: Base) -> None:
    random, frame = Random(1), keyed.senders[0].frame(keyed.boot_ns)
    with keyed.nothing_taken():
        for _ in range(5_000):
            content = frame[:-10] + random.randbytes(8)
            keyed.hear(content + checksum(content))
    assert keyed.refused() == {"TAG": 5_000}


def test_a_base_radio_that_wraps_forgeries(keyed: Base) -> None:
    sender = posing(keyed, ring(bytes(32)).pack_keys(101, 1))
    with keyed.nothing_taken():
        for number in range(CASES):
            inner = sender.frame(keyed.boot_ns)
            keyed.hear(encode(Envelope(number + 1, -40, 1, inner), None))
    assert keyed.refused() == {"TAG": CASES}


def test_what_comes_up_thrown_back_down(receiver: Receiver) -> None:
    frames = [out.frame for out in receiver.up]
    assert len(frames) > 100
    for frame in frames:
        receiver.hear(frame)
    assert (receiver.obeyed, receiver.pack.beacon_heard) == ([], 0)
    assert receiver.refused() == {"DIRECTION": len(frames)}


@pytest.mark.parametrize("who", WRONG)
def test_orders_and_beacons_under_a_key_that_is_not_the_bases(
    keyed_receiver: Receiver, who: str
) -> None:
    keys = WRONG[who]()
    for number in range(1, CASES + 1):
        keyed_receiver.hear(keyed_receiver.order(number, keys))
    want = {"TAG": CASES}
    # All packs of a fleet share the key of beacons: that is stated under "not defended".
    if who != "another pack of the fleet":
        for number in range(1, CASES + 1):
            keyed_receiver.hear(keyed_receiver.beacon(number, keys))
        want["TAG"] += CASES
        assert keyed_receiver.pack.beacon_heard == 0
    assert keyed_receiver.obeyed == []
    assert keyed_receiver.refused() == want


@pytest.mark.parametrize("which", ["up", "broadcast"])
def test_orders_under_a_key_that_a_pack_holds_for_something_else(
    keyed_receiver: Receiver, which: str
) -> None:
    keys = ring().pack_keys(101, 1)
    wrong = PackKeys(1, keys.up, getattr(keys, which), keys.broadcast)
    for number in range(1, CASES + 1):
        keyed_receiver.hear(keyed_receiver.order(number, wrong))
    assert keyed_receiver.obeyed == []
    assert keyed_receiver.refused() == {"TAG": CASES}


def test_orders_of_another_epoch(keyed_receiver: Receiver) -> None:
    for epoch in range(2, 256):
        keys = ring(KEY, epoch).pack_keys(101, epoch)
        keyed_receiver.hear(keyed_receiver.order(1, keys))
    assert keyed_receiver.obeyed == []
    assert keyed_receiver.refused() == {"EPOCH_UNKNOWN": 254}


def test_a_pack_that_lost_its_counter_is_told_from_a_recording_and_its_distress_shown(
    make_base: MakeBase,
) -> None:
    """In a later incident it has the boot and the numbers of the earlier one again."""
    earlier = make_base(ring())
    earlier.begin()
    for _ in range(39):
        earlier.round()
    later = make_base(ring(), seed=2, session=2)
    for identity, numbers in earlier.intake.freshness().items():
        later.intake.remember(identity, numbers)
    pack = later.senders[0]
    later.hear(pack.sign_on(later.boot_ns))
    assert later.alarms() == {"counter_lost"}
    assert later.line().state == "COUNTER LOST"
    later.wait(5 * S)
    later.hear(pack.frame(later.boot_ns))
    for _ in range(3):
        later.hear(pack.frame(later.boot_ns, kind=Kind.EVENT, distress=True))
    assert later.alarms() == {"counter_lost", "unproven_distress", "no_board"}
    # Frame by frame the same numbers from a recording: nothing but repetitions.
    for frame in earlier.taken:
        later.hear(frame)
    want = {"TWIN": 5, "REPEATED": 5 * 40}
    assert later.refused() == want
    # It answers a beacon, which no recording does: only the officer ends it, and it is live again.
    later.hear(pack.frame(later.boot_ns))
    later.wait(120 * S)
    assert dict(later.picture.doubtful)["OLD_NOW"] >= 1
    assert "counter_lost" in later.alarms()
    later.enrol(101)
    later.hear(pack.frame(later.boot_ns))
    assert later.line().signal == "signal"


def test_a_pack_that_lost_its_counter_is_heard_by_a_base_that_kept_numbers_alone(
    make_base: MakeBase,
) -> None:
    """A memory of before marks were kept: what may be a repetition may as well be this pack."""
    earlier = make_base(ring())
    earlier.begin()
    for _ in range(39):
        earlier.round()
    later = make_base(ring(), seed=2, session=2)
    for identity, (boot, highest, window, _) in earlier.intake.freshness().items():
        later.intake.remember(identity, (boot, highest, window, b""))
    pack = later.senders[0]
    later.hear(pack.frame(later.boot_ns, kind=Kind.EVENT, distress=True))
    assert {"counter_lost", "unproven_distress"} <= later.alarms()


def test_a_call_of_now_is_told_though_one_that_proves_nothing_was_taken(keyed: Base) -> None:
    """It has lost its counter and heard no beacon; then it hears one. Nobody can record that."""
    pack = keyed.senders[0]
    for _ in range(4):
        keyed.round()
    pack.boot, pack.sequence, pack.on_ns, pack.beacon = 2, 0, keyed.boot_ns, 0
    keyed.downlink = False
    keyed.hear(pack.frame(keyed.boot_ns, kind=Kind.EVENT, distress=True))
    keyed.take("unproven_distress")
    keyed.wait(5 * S)
    keyed.hear(pack.frame(keyed.boot_ns, distress=True))
    assert not keyed.waits("unproven_distress"), "the same call"
    keyed.downlink = True
    keyed.wait(5 * S)
    keyed.hear(pack.frame(keyed.boot_ns, distress=True))
    assert keyed.waits("unproven_distress")
    keyed.take("unproven_distress")
    # And so is another press, a minute after the line last asked.
    for _ in range(13):
        keyed.hear(pack.frame(keyed.boot_ns))
        keyed.wait(5 * S)
    keyed.hear(pack.frame(keyed.boot_ns, kind=Kind.EVENT, distress=True))
    assert keyed.waits("unproven_distress")


def test_a_pack_that_loses_its_counter_while_inside_gets_its_orders(keyed: Base) -> None:
    """At first it may be a second pack; a minute later nobody else is there who could obey."""
    pack = keyed.senders[0]
    keyed.round()
    pack.boot, pack.sequence, pack.on_ns, pack.beacon = 2, 0, keyed.boot_ns, 0
    keyed.round()
    assert "same_identity" in keyed.alarms()
    for _ in range(14):
        keyed.round()
    assert "counter_lost" in keyed.alarms()
    before = len(keyed.sent)
    keyed.evacuate()
    keyed.wait(3 * S)
    down = [receive_down(frame, 101, pack.keys) for frame in keyed.sent[before:]]
    assert {order.boot for order in down if isinstance(order, Order)} == {2}


def test_of_two_packs_that_answer_both_get_an_order_and_neither_has_it_for_its_wearer(
    keyed: Base,
) -> None:
    """A set left at the door has the later boot: what it says is no word of who is inside."""
    inside = keyed.senders[0]
    keyed.go_in(1)
    keyed.round()
    door = Sender(inside.keys, 101, inside.boot + 1, on_ns=keyed.boot_ns, beacon=inside.beacon)
    keyed.senders.append(door)
    for _ in range(3):
        keyed.round()
    assert "same_identity" in keyed.alarms()
    keyed.evacuate()
    number = 0
    for sender in (inside, door) * 3:
        sent, number = len(keyed.sent), 0 if sender is inside else number
        keyed.hear(sender.frame(keyed.boot_ns, order_received=number))
        keyed.wait(2_500 * MS)
        down = [receive_down(frame, 101, inside.keys) for frame in keyed.sent[sent:]]
        orders = [order for order in down if isinstance(order, Order)]
        # Whoever has just been heard gets it at once, though the other has said that it has it.
        assert {order.boot for order in orders} == {sender.boot}
        number = max(order.order for order in orders)
    for answer in (ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED):
        keyed.hear(door.receipt(keyed.boot_ns, answer, number))
    told = {"order_received": number, "order_acknowledged": number}
    keyed.hear(door.receipt(keyed.boot_ns, ReceiptKind.COMING_OUT, number))
    keyed.hear(door.frame(keyed.boot_ns, **told, coming_out=True))
    (order,) = keyed.picture.orders
    assert (order.received, order.acknowledged) == (0, 0)
    assert keyed.line().coming_out_ns is None
    # Once the officer has said which it is, its next report tells all of it.
    keyed.senders.remove(door)
    keyed.enrol(101)
    keyed.hear(door.frame(keyed.boot_ns, **told, coming_out=True))
    (order,) = keyed.picture.orders
    assert (order.received, order.acknowledged) == (1, 1)
    assert keyed.line().coming_out_ns is not None


@pytest.mark.parametrize("apart", [1, 5, 9, 20, 40, 63, 64, 100])
def test_two_packs_of_one_identity(base: Base, apart: int) -> None:
    """The second was switched on ``apart`` reports after the first, in the same boot number."""
    for _ in range(110):
        base.round()
    first = base.senders[0]
    second = Sender(first.keys, 101, first.boot, first.sequence - apart, first.on_ns + apart * S)
    second.beacon, second.dbar = first.beacon, 1_500
    with base.nothing_taken():
        for _ in range(apart):
            base.hear(second.frame(base.boot_ns))
    # The window holds the last 64 numbers; what lies before it is too old to be looked up.
    inside, before = min(64, apart), max(0, apart - 64)
    assert base.refused() == {"TWIN": inside} | ({"TOO_OLD": before} if before else {})
    assert "same_identity" in base.alarms()
    assert base.line().air.reading_bar == first.dbar / 10


def test_a_second_pack_further_on_is_seen_when_the_numbers_meet(base: Base) -> None:
    """The later numbers win until the first set comes to one that is taken."""
    first = base.senders[0]
    second = Sender(first.keys, 101, first.boot, first.sequence + 30, first.on_ns)
    second.beacon, second.dbar = first.beacon, 1_500
    seen = None
    for number in range(64):
        base.hear(second.frame(base.boot_ns))
        base.hear(first.frame(base.boot_ns))
        base.wait(5 * S)
        if seen is None and "same_identity" in base.alarms():
            seen = number
    # After 30 reports of its own the first set says a number that the second has said.
    assert seen == 30
    assert base.refused() == {"TWIN": 64 - 30}
