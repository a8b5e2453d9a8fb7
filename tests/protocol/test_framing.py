import pytest
from cobs import cobs
from hypothesis import given, settings
from hypothesis import strategies as st

from protocol.framing import WIRE_BYTES_MAX, Splitter, wrap
from protocol.rejects import Reject

ZERO = b"\x00"


def count(first: int, last: int) -> bytes:
    return bytes(range(first, last + 1))


# Worked after S. Cheshire and M. Baker, IEEE/ACM Trans. Netw. 7 (1999): each run of bytes that
# are not zero is told by its length plus one. Only frames of at most 254 bytes are ours.
WORKED = [
    ("00", "01 01"),
    ("00 00", "01 01 01"),
    ("00 11 00", "01 02 11 01"),
    ("11 22 33 00 44", "04 11 22 33 02 44"),
    ("11 00 00 00", "02 11 01 01 01"),
    # The paper's own example, the beginning of an IP packet.
    ("45 00 00 2C 4C 79 00 00 40 06 4F 37", "02 45 01 04 2C 4C 79 01 05 40 06 4F 37"),
    (count(1, 254).hex(), "FF" + count(1, 254).hex()),
]


@pytest.mark.parametrize(("frame", "line"), WORKED)
def test_worked_examples_both_ways(frame: str, line: str) -> None:
    assert wrap(bytes.fromhex(frame)) == bytes.fromhex(line) + ZERO
    assert Splitter().feed(bytes.fromhex(line) + ZERO) == [bytes.fromhex(frame)]


@pytest.mark.parametrize(
    ("frame", "line"),
    [
        # Longer than ours may be: the splitter tells them as too long, whatever they hold.
        (ZERO + count(1, 254), b"\x01\xff" + count(1, 254)),
        (count(1, 255), b"\xff" + count(1, 254) + b"\x02\xff"),
        (count(2, 255) + ZERO, b"\xff" + count(2, 255) + b"\x01\x01"),
        (count(3, 255) + ZERO + b"\x01", b"\xfe" + count(3, 255) + b"\x02\x01"),
    ],
)
def test_the_package_codes_long_ones_as_the_paper_does(frame: bytes, line: bytes) -> None:
    assert cobs.encode(frame) == line
    assert Splitter().feed(line + ZERO) == [Reject.LONG]


frames = st.binary(min_size=1, max_size=254)


@given(st.lists(frames, max_size=8), st.data())
@settings(max_examples=60)
def test_pieces_of_any_size_give_the_frames_in_order(
    sent: list[bytes], data: st.DataObject
) -> None:
    line = b"".join(wrap(frame) for frame in sent)
    splitter = Splitter()
    found = []
    while line:
        size = data.draw(st.integers(1, len(line)))
        found += splitter.feed(line[:size])
        line = line[size:]
    assert found == sent


def test_byte_by_byte_with_rubbish_before_and_after(good: dict[str, bytes]) -> None:
    for frame in good.values():
        splitter = Splitter()
        found = [
            item
            for byte in ZERO + wrap(frame) + b"\x05rubbish"
            for item in splitter.feed(bytes((byte,)))
        ]
        assert found == [frame]


@given(st.binary(max_size=2000), frames, frames)
@settings(max_examples=100)
def test_after_any_noise_at_most_one_frame_is_lost(noise: bytes, lost: bytes, kept: bytes) -> None:
    found = Splitter().feed(noise + wrap(lost) + wrap(kept))
    assert found[-1] == kept


@given(st.binary(max_size=2000), frames)
@settings(max_examples=50)
def test_a_delimiter_first_saves_even_that_one(noise: bytes, frame: bytes) -> None:
    assert Splitter().feed(noise + ZERO + wrap(frame))[-1] == frame


def test_idle_delimiters_are_nothing() -> None:
    assert Splitter().feed(ZERO * 100) == []


@pytest.mark.parametrize("line", ["05 11 22", "FF 01", "02 11 03 22"])
def test_damage_is_told_and_does_not_spread(line: str) -> None:
    # A run that is longer than what is there.
    assert Splitter().feed(bytes.fromhex(line) + ZERO + wrap(b"next")) == [
        Reject.FRAMING,
        b"next",
    ]


@pytest.mark.parametrize("size", [WIRE_BYTES_MAX, WIRE_BYTES_MAX + 1, 100_000])
@pytest.mark.parametrize("step", [1, 7, 100_000])
def test_an_endless_run_is_told_once_and_never_stored(size: int, step: int) -> None:
    splitter = Splitter()
    found = []
    run = b"\x01" * size
    for start in range(0, size, step):
        found += splitter.feed(run[start : start + step])
        assert len(splitter._held) <= WIRE_BYTES_MAX
    found += splitter.feed(ZERO)
    # 255 bytes of 01 are 254 zeros and an end: a frame of this length may be.
    assert found == ([bytes(254)] if size == WIRE_BYTES_MAX else [Reject.LONG])
    assert splitter.feed(wrap(b"next")) == [b"next"]


def test_work_grows_with_the_bytes_and_not_with_their_square() -> None:
    # Counted, not timed: what is held is at most one line, so each byte is copied at most twice.
    splitter = Splitter()
    copied = 0
    for piece in (b"\x02",) * 5000:
        copied += len(splitter._held)
        splitter.feed(piece)
    assert copied <= WIRE_BYTES_MAX * (WIRE_BYTES_MAX + 1) // 2


def test_wrap_refuses_what_would_take_two_bytes_more() -> None:
    with pytest.raises(AssertionError):
        wrap(bytes(255))
    with pytest.raises(AssertionError):
        wrap(b"")


def test_overhead_is_two_bytes_for_every_length() -> None:
    for size in range(1, 255):
        assert len(wrap(b"\x55" * size)) == len(wrap(bytes(size))) == size + 2
        assert ZERO not in wrap(bytes(size))[:-1]
