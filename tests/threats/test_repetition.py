"""Repetition: what was said once is said again, by an echo, a stuck gateway or a recording.

Upward the boot counter and the window of sequence numbers stand against it, downward the number
of the order. A copy sent on purpose is neither taken twice nor counted.
"""

from collections import Counter
from random import Random

from protocol.codec import encode
from protocol.framing import wrap
from protocol.freshness import COPIES_REMEMBERED, WINDOW_WIDTH
from protocol.packets import Envelope, Kind, Motion, ReceiptKind
from tests.threats.bench import BOOT_NS, WIRE, Base, Receiver, S, Sender, ring
from tests.threats.conftest import MakeBase

ROUNDS = 150


def verdict(back: int) -> str | None:
    """The name under which a frame is counted that lies so far behind the newest; None: a copy."""
    if back < COPIES_REMEMBERED:
        return None
    return "REPEATED" if back < WINDOW_WIDTH else "TOO_OLD"


def test_every_frame_played_again_to_the_same_base(base: Base) -> None:
    for _ in range(ROUNDS):
        base.round()
    recording = list(base.taken)
    assert len(recording) > 5 * ROUNDS
    numbers = {sender.identity: sender.sequence for sender in base.senders}
    want: Counter[str] = Counter()
    with base.nothing_taken():
        for frame in recording:
            identity, sequence = (int.from_bytes(frame[at : at + 4], "big") for at in (4, 12))
            name = verdict(numbers[identity] - sequence)
            want += Counter([name] if name else [])
            base.hear(frame)
    assert base.refused() == want
    assert min(want["REPEATED"], want["TOO_OLD"]) >= 5 * 50
    # Frames beyond the window are genuine: a base does not pass them over in silence.
    assert "same_identity" in base.alarms()


def test_frames_of_any_age_mixed_into_the_traffic(base: Base) -> None:
    random, played = Random(1), 0
    for _ in range(ROUNDS):
        base.round()
        with base.nothing_taken():
            for frame in random.sample(base.taken, 5):
                base.hear(frame)
                played += 1
    assert played == 5 * ROUNDS
    assert set(base.refused()) == {"REPEATED", "TOO_OLD"}
    assert [line.frames_taken for line in base.picture.wearers] == [1 + ROUNDS] * 5


def test_one_frame_over_two_radios_is_taken_once_and_counted_as_nothing(base: Base) -> None:
    for _ in range(100):
        for sender in base.senders:
            frame = sender.frame(base.boot_ns)
            base.hear(frame)
            with base.nothing_taken():
                base.hear(encode(Envelope(9, -80, 1, frame), None))
                base.hear(wrap(encode(Envelope(8, -90, 2, frame), None)), link=WIRE)
        base.wait(5 * S)
    assert base.refused() == {}
    assert base.picture.doubtful == ()


def test_a_recording_of_an_earlier_incident_where_the_base_remembers(make_base: MakeBase) -> None:
    earlier = make_base(None)
    earlier.begin()
    for _ in range(ROUNDS):
        earlier.round()
    later = make_base(None, seed=2, session=2)
    for identity, numbers in earlier.intake.freshness().items():
        later.intake.remember(identity, numbers)
    with later.nothing_taken():
        for frame in earlier.taken:
            later.hear(frame)
    # What lies within the window is known by its number, the rest lies before it.
    assert later.refused() == {
        "REPEATED": 5 * WINDOW_WIDTH,
        "TOO_OLD": 5 * (1 + ROUNDS - WINDOW_WIDTH),
    }
    assert {line.signal for line in later.picture.wearers} == {"never heard"}


def test_twelve_recorded_frames_hide_no_distress(make_base: MakeBase) -> None:
    """One frame of an earlier boot of each of twelve packs, and then somebody calls."""
    base = make_base(ring(), packs=12)
    base.begin()
    for sender in base.senders:
        earlier = Sender(sender.keys, sender.identity, boot=2, on_ns=BOOT_NS - 3_600 * S)
        base.hear(earlier.frame(base.boot_ns))
    caller = base.senders[11]
    base.hear(caller.frame(base.boot_ns, kind=Kind.EVENT, distress=True))
    base.commit()
    first, second = base.picture.alarms
    assert (first.word, first.subject) == ("DISTRESS", "12 W12")
    assert (second.word, second.subject) == ("TWO PACKS AS ONE", "W1, W2, W3, W4 + 8 more")
    assert [base.line(n).state for n in range(1, 13)] == ["TWO PACKS"] * 11 + ["DISTRESS"]
    # Each row names the worst by what it means: a danger that is told later, not the first doubt.
    low = {"kind": Kind.EVENT, "low_air": True, "pressure_dbar": 600}
    base.hear(base.senders[3].frame(base.boot_ns, **low))
    base.hear(base.senders[4].frame(base.boot_ns, kind=Kind.EVENT, motion=Motion.ALARM))
    earlier = Sender(base.senders[5].keys, 106, boot=2, on_ns=BOOT_NS - 3_600 * S, sequence=9)
    base.hear(earlier.frame(base.boot_ns, distress=True))
    base.commit()
    states = ["LOW AIR", "MOTION ALARM", "DISTRESS?"]
    assert [base.line(n).state for n in (4, 5, 6)] == states
    # A recording ends by itself: its packs go on, and it answers no beacon of this base.
    for _ in range(13):
        base.round()
    assert {line.signal for line in base.picture.wearers} == {"signal"}


def test_a_recorded_distress_played_again_and_again_asks_once(keyed: Base) -> None:
    """One frame of an earlier boot, each second for half an hour, beside a pack that is well."""
    keys = keyed.senders[0].keys
    earlier = Sender(keys, 101, boot=2, on_ns=BOOT_NS - 3_600 * S, sequence=500)
    recorded = earlier.frame(keyed.boot_ns, kind=Kind.EVENT, distress=True)
    keyed.hear(recorded)
    keyed.take("unproven_distress")
    for _ in range(360):
        for sender in keyed.senders:
            keyed.hear(sender.frame(keyed.boot_ns))
        for _ in range(5):
            keyed.hear(recorded)
            keyed.wait(1 * S)
        assert not keyed.waits("unproven_distress")
    (alarm,) = [alarm for alarm in keyed.picture.alarms if alarm.kind == "unproven_distress"]
    assert alarm.latched, "nothing more was said, and nobody has ended it"


def test_receipts_played_again_answer_no_later_order(base: Base) -> None:
    base.evacuate()
    answers = [
        sender.receipt(base.boot_ns, answer, 1)
        for sender in base.senders
        for answer in (ReceiptKind.RECEIVED, ReceiptKind.ACKNOWLEDGED)
    ]
    base.hear(*answers)
    assert [order.acknowledged for order in base.picture.orders] == [5]
    base.evacuate("order-0002")
    for _ in range(20):
        base.hear(*answers)
        base.wait(1 * S)
    newer = next(order for order in base.picture.orders if order.number == 2)
    assert (newer.of, newer.received, newer.acknowledged) == (5, 0, 0)
    assert sum(base.refused().values()) == 0, "copies of the last eight count as nothing"
    base.wait(30 * S)
    for _ in range(10):
        base.round()
    base.hear(*answers)
    assert base.refused() == {"REPEATED": 10}


def test_an_order_said_many_times_is_obeyed_once(receiver: Receiver) -> None:
    order = receiver.order(1)
    random = Random(1)
    for _ in range(500):
        receiver.hear(order)
        receiver.wait(random.randrange(300) * S // 1_000)
    assert receiver.obeyed == [1]
    # Answering moves the pack's own numbers on, so that the order soon lies too far back.
    assert set(receiver.refused()) == {"ORDER_TOO_OLD", "ORDER_LATE"} & set(receiver.refused())
    # A receipt each 0.6 s, since copies meanwhile are answered by the one that waits, and a report
    # each 5 s: 64 frames in 34 s of the 75 s.
    assert sum(receiver.refused().values()) >= 200


def test_orders_of_the_last_hour_played_again(receiver: Receiver) -> None:
    orders = []
    for number in range(1, 201):
        orders.append(receiver.order(number))
        receiver.hear(orders[-1])
        receiver.wait(10 * S)
    assert receiver.obeyed == list(range(1, 201))
    sent, obeyed = receiver.pack.refused.copy(), list(receiver.obeyed)
    for order in orders[:-1]:
        receiver.hear(order)
    assert receiver.obeyed == obeyed
    # Four of the last 60 s are passed by later ones, older ones are late or out of the window.
    new = receiver.pack.refused - sent
    assert sum(new.values()) == 199
    assert {reason.name for reason in new} == {"ORDER_PASSED", "ORDER_LATE", "ORDER_TOO_OLD"}
