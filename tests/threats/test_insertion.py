"""Insertion: frames that no pack of this fleet has sent. Keys stand against it, nothing else does.

An open base cannot tell a stranger from one of its own: that is shown as such, and a stranger
appears beside the board, never on a wearer's line.
"""

from collections.abc import Callable
from dataclasses import replace
from random import Random

from monitor.incident.picture import Priority
from monitor.recorder.intake import STRANGERS_A_SECOND, STRANGERS_BURST
from protocol.codec import encode
from protocol.framing import wrap
from protocol.integrity import checksum, tag
from protocol.packets import Beat, Motion
from protocol.rejects import Reject
from tests.threats.bench import WIRE, Base, Receiver, S, Sender, ring

CASES = 300


def strangers(random: Random, epoch: int, cases: int = CASES) -> list[bytes]:
    """Sound frames under a key that nobody here holds, of identities known and unknown."""
    other = ring(random.randbytes(32), epoch)
    made = []
    for _ in range(cases):
        identity = random.choice((101, 102, 103, random.randrange(1, 1 << 32)))
        sender = Sender(other.pack_keys(identity, epoch), identity, boot=random.randrange(1, 99))
        sender.sequence = random.randrange(1 << 20)
        make: Callable[[int], bytes] = random.choice((sender.frame, sender.sign_on, sender.receipt))
        made.append(make(sender.on_ns + random.randrange(1 << 40)))
    return made


def test_strangers_under_a_key_of_their_own(keyed: Base) -> None:
    with keyed.nothing_taken():
        for frame in strangers(Random(1), epoch=1):
            keyed.hear(frame)
    assert keyed.refused() == {"TAG": CASES}
    assert keyed.picture.unjoined == ()
    assert keyed.alarms() == {"foreign_frames"}


def test_strangers_of_another_epoch(keyed: Base) -> None:
    with keyed.nothing_taken():
        for epoch in range(2, 256):
            for frame in strangers(Random(epoch), epoch, cases=3):
                keyed.hear(frame)
    assert keyed.refused() == {"EPOCH_UNKNOWN": 3 * 254}
    assert keyed.picture.unjoined == ()


def test_open_frames_at_a_keyed_base(keyed: Base) -> None:
    random = Random(1)
    with keyed.nothing_taken():
        for _ in range(CASES):
            identity = random.choice((101, random.randrange(1, 1 << 32)))
            sender = Sender(None, identity, sequence=random.randrange(1 << 20))
            keyed.hear(sender.frame(keyed.boot_ns))
    assert keyed.refused() == {"NOT_KEYED": CASES}
    assert keyed.picture.unjoined == ()


def test_an_open_distress_is_shown_as_unproven_and_changes_no_reading(keyed: Base) -> None:
    with keyed.nothing_taken():
        for identity in (101, 102, 103):
            keyed.hear(Sender(None, identity, sequence=900).frame(keyed.boot_ns, distress=True))
    assert keyed.refused() == {"NOT_KEYED": 3}
    assert "unproven_distress" in keyed.alarms()
    assert "distress" not in keyed.alarms()
    assert keyed.picture.doubtful == (("UNPROVEN_DISTRESS", 3),)


def test_a_call_under_a_key_that_is_not_held_is_shown_at_once_as_unproven(keyed: Base) -> None:
    """An epoch that was changed without this pack, and a key of another fleet."""
    before = keyed.senders[0].keys
    assert before is not None
    changed = Sender(replace(before, epoch=9), 101, sequence=900)
    lent = Sender(ring(bytes(32)).pack_keys(102, 1), 102, sequence=900)
    with keyed.nothing_taken():
        keyed.hear(changed.frame(keyed.boot_ns), lent.frame(keyed.boot_ns))
        assert keyed.alarms() == {"foreign_frames"}
        keyed.hear(changed.frame(keyed.boot_ns, distress=True))
        keyed.hear(lent.frame(keyed.boot_ns, motion=Motion.ALARM))
        (alarm,) = [a for a in keyed.picture.alarms if a.kind == "unproven_distress"]
        assert (alarm.priority, alarm.subject) == (Priority.DANGER, "W1, W2")
    assert keyed.refused() == {"EPOCH_UNKNOWN": 2, "TAG": 2}


def test_a_keyed_call_at_an_open_base_is_shown_at_once_as_unproven(opened: Base) -> None:
    keys = ring().pack_keys(101, 1)
    with opened.nothing_taken():
        opened.hear(Sender(keys, 101, sequence=900).frame(opened.boot_ns, distress=True))
        assert "unproven_distress" in opened.alarms()


def test_open_distresses_of_strangers_crowd_out_no_wearer(keyed: Base) -> None:
    """A hundred made-up packs call, then one that somebody on the board wears."""
    for identity in range(9_000, 9_100):
        keyed.hear(Sender(None, identity).frame(keyed.boot_ns, distress=True))
    keyed.hear(Sender(None, 103).frame(keyed.boot_ns, distress=True))
    told = {(alarm.kind, alarm.subject) for alarm in keyed.picture.alarms}
    want = {("unproven_distress", "3 W3"), ("strangers", "8 packs"), ("foreign_frames", "base")}
    assert told == want
    assert keyed.line(3).state == "DISTRESS?"


def test_made_up_identities_by_the_thousand_take_nothing_from_packs(keyed: Base) -> None:
    """Keyed frames that look right until a key is made for them: made for some, never for all."""
    strange = ring(bytes(32))
    flood = [Sender(strange.pack_keys(n, 1), n).frame(keyed.boot_ns) for n in range(10_000, 12_000)]
    with keyed.nothing_taken():
        for _ in range(6):
            keyed.hear(*flood)
    live = keyed.live()
    keyed.round()
    assert keyed.live() == live + 5
    counts = keyed.refused()
    assert counts["TAG"] + counts["BUSY"] == 12_000
    assert counts["BUSY"] >= 12_000 - STRANGERS_BURST - STRANGERS_A_SECOND
    assert "foreign_frames" in keyed.alarms()
    # A pack of this fleet that nobody has heard yet is taken once there is time again.
    keyed.wait(1 * S)
    keyed.hear(keyed.sender(900).frame(keyed.boot_ns))
    keyed.commit()
    assert 900 in {pack.pack for pack in keyed.picture.unjoined}


def test_keyed_frames_at_an_open_base(opened: Base) -> None:
    with opened.nothing_taken():
        for frame in strangers(Random(1), epoch=1):
            opened.hear(frame)
    assert opened.refused() == {"KEYED_UNREADABLE": CASES}
    assert opened.picture.unjoined == ()


def test_a_stranger_at_an_open_base_is_on_nobodys_line(opened: Base) -> None:
    shown = opened.shows()
    for identity in range(1_000, 1_000 + CASES):
        opened.hear(Sender(None, identity, beacon=opened.senders[0].beacon).frame(opened.boot_ns))
    assert opened.shows() == shown
    assert len(opened.picture.unjoined) == CASES
    assert not opened.picture.keyed


def test_what_only_a_base_sends(base: Base, receiver: Receiver) -> None:
    random, frames = Random(1), list(base.sent)
    if (base.keyring is None) is not (receiver.keyring is None):
        receiver = Receiver(base.keyring)
    frames += [receiver.order(random.randrange(1, 1 << 16)) for _ in range(CASES)]
    frames += [receiver.beacon(random.randrange(1, 1 << 16)) for _ in range(CASES)]
    with base.nothing_taken():
        for frame in frames:
            base.hear(frame)
    assert base.refused() == {"DIRECTION": len(frames)}


def test_a_base_radios_beat_is_no_pack(base: Base) -> None:
    with base.nothing_taken():
        for number in range(CASES):
            base.hear(encode(Beat(number + 1, number, number), None))
    assert base.refused() == {}
    assert base.picture.unjoined == ()


def dressed_up(random: Random, base: Base) -> bytes:
    """Random content between a header like that of a pack here and a right checksum."""
    size = random.randrange(0, 60)
    header = bytes((random.choice((1, 1, 1, 2)), random.randrange(16), random.choice((0, 1, 16))))
    rest = bytes((random.randrange(3),)) + (101).to_bytes(4, "big") + random.randbytes(size)
    content = header + rest + (tag(random.randbytes(32), rest) if base.keyring else b"")
    return content + checksum(content)


def test_rubbish_dressed_up_as_frames(keyed: Base) -> None:
    random, names = Random(1), {reason.name for reason in Reject}
    with keyed.nothing_taken():
        for _ in range(3_000):
            keyed.hear(dressed_up(random, keyed))
    counted = keyed.refused()
    # An envelope or beat by chance is sound and no frame of a pack: those are not refused.
    assert 2_500 <= sum(counted.values()) <= 3_000 + 200
    assert set(counted) <= names
    assert {"VERSION", "KIND", "FLAGS", "EPOCH", "LENGTH", "DIRECTION", "TAG"} <= set(counted)


def test_noise_on_the_line_between_frames(base: Base) -> None:
    """Bursts of rubbish between the frames of a line: at most the next frame is lost."""
    random, sent = Random(1), []
    sender = base.senders[0]
    before = base.live()
    for _ in range(CASES):
        base.hear(random.randbytes(random.randrange(1, 300)), link=WIRE)
        for _ in range(2):
            sent.append(sender.frame(base.boot_ns))
            base.hear(wrap(sent[-1]), link=WIRE)
    base.commit()
    arrived = base.taken[before:]
    assert set(arrived) <= set(sent)
    assert set(sent[1::2]) <= set(arrived)
    assert base.line().air.reading_bar == sender.dbar / 10
    assert set(base.refused()) <= {"SHORT", "LONG", "FRAMING", "CHECKSUM"}
    assert base.line().frames_lost == 2 * CASES - len(arrived)


def test_orders_of_strangers_move_no_pack(keyed_receiver: Receiver) -> None:
    random, pack = Random(1), keyed_receiver
    for _ in range(CASES):
        keys = ring(random.randbytes(32)).pack_keys(101, 1)
        pack.hear(pack.order(random.randrange(1, 1 << 16), keys))
        pack.hear(pack.beacon(random.randrange(1, 1 << 16), keys))
    assert pack.obeyed == []
    assert pack.pack.beacon_heard == 0
    assert pack.refused() == {"TAG": 2 * CASES}


def test_open_orders_move_no_keyed_pack_and_keyed_ones_no_open_pack() -> None:
    for one, two, name in (
        (Receiver(ring()), Receiver(None), "NOT_KEYED"),
        (Receiver(None), Receiver(ring()), "KEYED_UNREADABLE"),
    ):
        for number in range(1, CASES + 1):
            one.hear(two.order(number))
            one.hear(two.beacon(number))
        assert one.obeyed == []
        assert one.pack.beacon_heard == 0
        assert one.refused() == {name: 2 * CASES}


def test_orders_for_another_pack(receiver: Receiver) -> None:
    keyring = receiver.keyring
    for identity in range(102, 102 + CASES):
        keys = keyring.pack_keys(identity, 1) if keyring else None
        receiver.hear(receiver.order(7, keys, identity=identity))
    assert receiver.obeyed == []
    assert receiver.refused() == {"OTHER_PACK": CASES}
