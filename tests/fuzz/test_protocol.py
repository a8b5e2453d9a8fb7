"""Whatever comes off a wire: a packet or a reason, never an exception, in linear work."""

from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from protocol import codec
from protocol.framing import Splitter, wrap
from protocol.integrity import Keyring, checksum, tag
from protocol.packets import (
    Apparatus,
    Beacon,
    Beat,
    CheckResult,
    Envelope,
    Equipment,
    Kind,
    Motion,
    Order,
    OrderKind,
    Receipt,
    ReceiptKind,
    Report,
)
from protocol.rejects import Reject

ANSWERS = (Reject, Report, Receipt, Beacon, Order, Envelope, Beat)
KEYRING = Keyring({1: bytes(32), 9: bytes(range(32))}, "exercise", 1)
KEYS = KEYRING.pack_keys(1, 1)

u8, u16, u32 = st.integers(0, 2**8 - 1), st.integers(0, 2**16 - 1), st.integers(0, 2**32 - 1)
some32 = st.integers(1, 2**32 - 1)
pressure = st.none() | st.integers(0, 4500)
results = st.sampled_from(CheckResult)


@st.composite
def reports(draw: st.DrawFn) -> Report:
    kind = draw(st.sampled_from([Kind.SIGN_ON, Kind.STATUS, Kind.EVENT, Kind.SIGN_OFF]))
    some_pressure = st.none() | st.integers(1, 4500)
    volume = st.none() | st.integers(1, 3000)
    equipment = st.builds(
        Equipment, st.sampled_from(Apparatus), some_pressure, volume, some_pressure
    )
    keyed = draw(st.booleans())
    return Report(
        kind, draw(some32), draw(some32), draw(some32), draw(st.sampled_from([1, 9])) * keyed,
        keyed, draw(pressure), draw(st.none() | st.integers(-60, 100)),
        draw(st.none() | st.integers(0, 100)), draw(st.sampled_from(Motion)),
        draw(st.booleans()), draw(st.booleans()), draw(st.booleans()),
        draw(results), draw(results), draw(results), draw(st.integers(1, 60)),
        draw(u32), draw(u16), draw(u16), draw(u16),
        draw(equipment) if kind is Kind.SIGN_ON else None,
        tuple(draw(st.lists(st.tuples(u8, st.binary(max_size=20)), max_size=4))),
    )  # fmt: skip


def keyed_or_open(kind: type, *rest: st.SearchStrategy[Any], names: int) -> st.SearchStrategy[Any]:
    """A packet that begins with ``names`` 32-bit numbers, then epoch and keyed."""

    def build(values: tuple[Any, ...]) -> Any:
        numbers, is_keyed, others = values
        return kind(*numbers, 9 if is_keyed else 0, is_keyed, *others)

    numbers = st.tuples(*[some32] * names)
    return st.tuples(numbers, st.booleans(), st.tuples(*rest)).map(build)


some16 = st.integers(1, 2**16 - 1)
receipts = keyed_or_open(Receipt, st.sampled_from(ReceiptKind), some16, u32, u16, names=3)
beacons = keyed_or_open(Beacon, some16, names=3)
orders = keyed_or_open(Order, some32, some16, st.sampled_from(OrderKind), names=3)
envelopes = st.builds(
    Envelope,
    some32,
    st.none() | st.integers(-127, 20),
    u32,
    st.binary(min_size=1, max_size=240).filter(lambda b: len(b) < 2 or b[1] not in {12, 13}),
)
beats = st.builds(Beat, some32, u32, u32)


def key_of(packet: Any) -> bytes | None:
    if not getattr(packet, "keyed", False):
        return None
    if isinstance(packet, Beacon):
        return KEYRING.broadcast_key(packet.epoch)
    up = not isinstance(packet, Order)
    return KEYRING.pack_key(packet.identity, packet.epoch, up=up)


@given(reports() | receipts | beacons | orders | envelopes | beats)
@settings(max_examples=200)
def test_what_is_written_is_read(packet: Any) -> None:
    frame = codec.encode(packet, key_of(packet))
    assert codec.decode(frame) == codec.decode_trusted(frame) == packet
    if not isinstance(packet, Beacon | Order):
        ring = KEYRING if getattr(packet, "keyed", True) else None
        assert codec.receive(frame, ring) == codec.receive(frame, ring) == packet


def is_answer(got: object) -> bool:
    return isinstance(got, ANSWERS)


@given(st.binary(max_size=300))
@settings(max_examples=300)
def test_any_bytes_are_answered(data: bytes) -> None:
    for frame in (data, data + checksum(data)):
        assert is_answer(codec.decode(frame))
        assert is_answer(codec.receive(frame, KEYRING))
        assert is_answer(codec.receive(frame, None))
        assert is_answer(codec.receive_down(frame, 1, KEYS))
        assert is_answer(codec.receive_down(frame, 1, None))


headers = st.tuples(
    st.sampled_from([1, 2]), st.integers(0, 14), st.sampled_from([0, 1, 2, 16]),
    st.sampled_from([0, 1, 9]),
)  # fmt: skip


@given(headers, some32, st.binary(max_size=80))
@settings(max_examples=400)
def test_bytes_that_begin_well_are_answered(
    header: tuple[int, ...], identity: int, rest: bytes
) -> None:
    content = bytes(header) + identity.to_bytes(4, "big") + rest
    for key in (None, KEYRING.pack_key(identity, 1, up=True)):
        tagged = content + (tag(key, content) if key else b"")
        frame = tagged + checksum(tagged)
        for got in (
            codec.decode(frame),
            codec.receive(frame, KEYRING),
            codec.receive(frame, None),
            codec.receive_down(frame, identity, KEYS),
        ):
            assert is_answer(got)


@given(reports(), st.integers(0, 400), st.binary(min_size=1, max_size=4))
@settings(max_examples=200)
def test_a_damaged_frame_is_never_taken_for_another(report: Report, at: int, put: bytes) -> None:
    # A CRC of 16 bits finds every burst of up to 16 bits; the tag finds longer ones.
    frame = codec.encode(report, key_of(report))
    at %= len(frame)
    damaged = frame[:at] + put + frame[at + len(put) :]
    if damaged == frame:
        return
    if report.keyed:
        assert isinstance(codec.receive(damaged, KEYRING), Reject)
    if len(put) <= 2 and len(damaged) == len(frame):
        assert codec.decode(damaged) is Reject.CHECKSUM


@given(st.binary(max_size=1500), st.lists(st.integers(1, 300), max_size=20))
@settings(max_examples=200)
def test_any_line_is_split_alike_whatever_its_pieces(line: bytes, sizes: list[int]) -> None:
    whole = Splitter().feed(line)
    splitter, pieces, at = Splitter(), [], 0
    for size in [*sizes, len(line)]:
        pieces += splitter.feed(line[at : at + size])
        at += size
    assert pieces == whole
    assert splitter.feed(b"\0" + wrap(b"next"))[-1] == b"next"
