"""Corruption: bits change on the way. The checksum tells noise, the tag whatever it lets pass.

How much 16 bits of checksum let through is worked out in ``codes`` and stated in SAFETY.md.
"""

from binascii import crc_hqx
from collections.abc import Callable
from itertools import combinations
from random import Random

import pytest

from protocol import codec
from protocol.codec import encode
from protocol.fields import FRAME_BYTES_MAX
from protocol.framing import wrap
from protocol.integrity import CRC_START, checksum
from protocol.packets import Beat, Envelope, Kind, Report
from protocol.rejects import Reject
from tests.threats import codes
from tests.threats.bench import WIRE, Base, Receiver

DAMAGE_MAX = 40
"""Bytes that one case of random damage may strike."""


def every_kind(base: Base) -> list[bytes]:
    """A frame of every kind that comes up to a base, not yet heard."""
    sender, now_ns = base.senders[0], base.boot_ns
    frames = [sender.frame(now_ns, kind=k) for k in (Kind.STATUS, Kind.EVENT, Kind.SIGN_OFF)]
    frames += [sender.sign_on(now_ns), sender.receipt(now_ns)]
    frames.append(encode(Envelope(9, -80, 1, sender.frame(now_ns)), None))
    return [*frames, encode(Beat(9, 1, 1), None)]


def flipped(frame: bytes, *bits: int) -> bytes:
    """The frame with these bits the other way; bit 0 is the first on the wire."""
    damaged = bytearray(frame)
    for bit in bits:
        damaged[bit // 8] ^= 0x80 >> bit % 8
    return bytes(damaged)


def test_every_single_bit_of_every_kind_of_frame(base: Base) -> None:
    cases = 0
    with base.nothing_taken():
        for frame in every_kind(base):
            for bit in range(len(frame) * 8):
                base.hear(flipped(frame, bit))
                cases += 1
    assert base.refused() == {"CHECKSUM": cases}
    assert cases > 2_000


def test_every_single_bit_of_what_comes_down(receiver: Receiver) -> None:
    cases = 0
    for frame in (receiver.order(1), receiver.beacon(4711)):
        for bit in range(len(frame) * 8):
            receiver.hear(flipped(frame, bit))
            cases += 1
    assert (receiver.obeyed, receiver.pack.beacon_heard) == ([], 0)
    assert receiver.refused() == {"CHECKSUM": cases}
    assert cases > 350


def test_bursts_of_up_to_sixteen_bits_at_every_place(base: Base) -> None:
    """Any flips within 16 bits that follow one another: at every place, random between."""
    random, cases = Random(1), 0
    with base.nothing_taken():
        for frame in every_kind(base):
            bits = len(frame) * 8
            for first in range(bits - 1):
                last = min(bits - 1, first + random.randrange(1, 16))
                inside = [bit for bit in range(first + 1, last) if random.random() < 0.5]
                base.hear(flipped(frame, first, last, *inside))
                cases += 1
    assert base.refused() == {"CHECKSUM": cases}
    assert cases > 2_000


def test_no_burst_of_up_to_sixteen_bits_passes_by_theory() -> None:
    # A burst is x^n times a pattern of less than 17 bits. No such pattern but 0 has remainder 0,
    # and x is never a divisor of the polynomial, whose last term is 1: so no multiple has.
    assert codes.POLYNOMIAL & 1
    single = codes.syndromes(16)
    assert sorted(single) == [1 << n for n in range(16)]
    # The check that the frames carry is this one: flips of real frames leave these remainders.
    frame = bytes(44)
    whole = frame + checksum(frame)
    # (A CRC as it is computed is the remainder times x^16.)
    lefts = codes.syndromes(len(whole) * 8 + 16)[16:]
    for bit, left in enumerate(reversed(lefts)):
        assert crc_hqx(flipped(whole, bit), CRC_START) == left


def test_no_three_flipped_bits_pass_in_the_longest_frame() -> None:
    bits = FRAME_BYTES_MAX * 8
    single = codes.syndromes(bits)
    known = set(single)
    # One: never 0. Two: never equal. Three: no sum of two is a third.
    assert 0 not in known
    assert len(known) == bits
    for at, one in enumerate(single):
        assert known.isdisjoint({one ^ other for other in single[:at]})


def test_two_and_three_flipped_bits_at_the_base(keyed: Base) -> None:
    random, frame = Random(1), keyed.senders[0].frame(keyed.boot_ns)
    pairs = list(combinations(range(len(frame) * 8), 2))
    with keyed.nothing_taken():
        for pair in random.sample(pairs, 2_000):
            keyed.hear(flipped(frame, *pair))
        for _ in range(2_000):
            keyed.hear(flipped(frame, *random.sample(range(len(frame) * 8), 3)))
    assert keyed.refused() == {"CHECKSUM": 4_000}


def test_random_damage_of_any_kind(base: Base) -> None:
    """Runs of bytes replaced, from one to all of a frame: thousands, none taken."""
    random, cases = Random(1), 0
    with base.nothing_taken():
        for frame in every_kind(base) * 500:
            size = random.randrange(3, min(len(frame), DAMAGE_MAX))
            at = random.randrange(len(frame) - size + 1)
            damaged = frame[:at] + random.randbytes(size) + frame[at + size :]
            if damaged != frame:
                base.hear(damaged)
                cases += 1
    assert base.refused() == {"CHECKSUM": cases}
    assert cases >= 3_499


def test_damage_whose_checksum_holds_meets_the_tag(keyed: Base) -> None:
    """Every single bit of every kind of keyed frame, under a checksum put right."""
    frames = every_kind(keyed)[:5]
    cases = 0
    with keyed.nothing_taken():
        for frame in frames:
            for bit in range(len(frame) * 8 - 16):
                content = flipped(frame, bit)[:-2]
                keyed.hear(content + checksum(content))
                cases += 1
    counted = keyed.refused()
    # A flip in the header may make another kind or version of it; the rest is the tag's.
    names = {"TAG", "VERSION", "KIND", "FLAGS", "EPOCH", "EPOCH_UNKNOWN", "LENGTH", "DIRECTION"}
    assert set(counted) <= names | {"NOT_KEYED", "RADIO", "SIGNAL", "NESTED"}
    assert sum(counted.values()) == cases
    assert counted["TAG"] > cases * 9 // 10


@pytest.mark.parametrize("make", [lambda r: r.order(1), lambda r: r.beacon(4711)])
def test_damage_downward_whose_checksum_holds(
    keyed_receiver: Receiver, make: Callable[[Receiver], bytes]
) -> None:
    frame = make(keyed_receiver)
    for bit in range(len(frame) * 8 - 16):
        content = flipped(frame, bit)[:-2]
        keyed_receiver.hear(content + checksum(content))
    assert (keyed_receiver.obeyed, keyed_receiver.pack.beacon_heard) == ([], 0)
    counted = keyed_receiver.refused()
    assert sum(counted.values()) == len(frame) * 8 - 16
    assert counted["TAG"] > 100


def test_every_length_but_its_own(base: Base) -> None:
    random, frames = Random(1), every_kind(base)
    with base.nothing_taken():
        for frame in frames:
            for size in range(len(frame)):
                base.hear(frame[:size])
            for more in range(1, 300 - len(frame)):
                base.hear(frame + random.randbytes(more))
    counted = base.refused()
    assert sum(counted.values()) == len(frames) * 299
    assert set(counted) == {"SHORT", "LONG", "CHECKSUM"}


def test_zeros_after_a_frame_never_change_what_it_says(base: Base) -> None:
    """A checksum of 0 stays 0 over more zeros: the one damage that it cannot see."""
    for frame in every_kind(base)[:5]:
        whole = codec.decode(frame)
        for more in range(1, 8):
            got = codec.receive(frame + bytes(more), base.keyring)
            if base.keyring is not None:
                assert got in {Reject.TAG, Reject.LENGTH}
            elif isinstance(got, Report):
                got.extras = ()
                assert got == whole
            elif not isinstance(got, Reject):
                assert got == whole


def test_every_single_bit_on_a_serial_line(base: Base) -> None:
    """Line framing makes more of one flip: a delimiter lost or won. Never another frame."""
    cases = 0
    for _ in range(2):
        for bit in range(len(wrap(base.senders[0].frame(base.boot_ns))) * 8):
            sender = base.senders[cases % 5]
            before, struck, after = (sender.frame(base.boot_ns) for _ in range(3))
            line = wrap(struck)
            taken = len(base.taken)
            base.hear(wrap(before) + flipped(line, min(bit, len(line) * 8 - 1)), link=WIRE)
            base.hear(wrap(after), link=WIRE)
            base.commit()
            arrived = base.taken[taken:]
            cases += 1
            # Only a flip of the delimiter runs into the next frame.
            assert arrived in ([before, after], [before])
            assert arrived == [before, after] or bit // 8 >= len(line) - 1
    assert cases > 600
    assert set(base.refused()) <= {"SHORT", "FRAMING", "CHECKSUM", "LONG"}


def test_share_of_random_frames_whose_checksum_holds() -> None:
    # One in 65,536. Of 400,000 about 6.1 +- 2.5; more than 17 has a probability below 1e-4.
    random = Random(1)
    held = sum(crc_hqx(random.randbytes(46), CRC_START) == 0 for _ in range(400_000))
    assert 0 < held <= 17
