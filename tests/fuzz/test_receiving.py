"""The receiving side as a whole: whatever the lines bring, verdicts and counts, in linear work."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from random import Random
from types import FrameType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.clock import Stamp
from monitor.incident.events import Heard
from monitor.links.chunk import Chunk
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from protocol import codec
from protocol.codec import encode
from protocol.framing import WIRE_BYTES_MAX, Splitter, wrap
from protocol.integrity import Keyring, checksum
from protocol.packets import CheckResult, Envelope, Kind, Motion, Report
from protocol.rejects import Reject

S = 1_000_000_000
UDP, WIRE = 1, 2
SOURCE = ("192.0.2.7", 5000)
KEYRING = Keyring({1: bytes(32), 9: bytes(range(32))}, "exercise", 1)
NAMES = {reason.name for reason in Reject}


def status(sequence: int, keyring: Keyring | None = KEYRING) -> bytes:
    report = Report(
        kind=Kind.STATUS, identity=101, boot=3, sequence=sequence, epoch=1 if keyring else 0,
        keyed=keyring is not None, pressure_dbar=2000, gas_temperature_c=None, battery_percent=80,
        motion=Motion.MOVING, distress=False, low_air=False, coming_out=False,
        self_test=CheckResult.PASSED, air_warning_test=CheckResult.PASSED,
        motion_warning_test=CheckResult.PASSED, interval_s=5, uptime_ms=sequence * 5_000,
        order_received=0, order_acknowledged=0, beacon_heard=0,
    )  # fmt: skip
    return encode(report, keyring.pack_key(101, 1, up=True) if keyring else None)


def intake(keyring: Keyring | None) -> Intake:
    made = Intake(keyring, BeaconSender(7, 1, keyring, Random(1)))
    made.set_link(WIRE, framed=True)
    return made


def admitted(made: Intake, link: int, data: bytes, now_ns: int = S) -> list[bytes]:
    """Give bytes to an intake; what it lets through, after a look at what it is."""
    found = made.admit(Chunk(link, Stamp(now_ns, 0), SOURCE if link == UDP else None, data))
    for frame, heard in found:
        assert isinstance(heard, Heard)
        assert heard.packet == codec.decode_trusted(frame)
    return [frame for frame, _ in found]


# ---------------------------------------------------------------- what comes is answered

frames = st.integers(1, 500).map(status) | st.integers(1, 500).map(lambda n: status(n, None))
enveloped = frames.map(lambda frame: encode(Envelope(9, -70, 1, frame), None))


@st.composite
def struck(draw: st.DrawFn) -> bytes:
    """A sound frame with a run of bytes replaced, cut or put in, its checksum put right or not."""
    frame = draw(frames | enveloped)
    at, cut = draw(st.integers(0, len(frame))), draw(st.integers(0, 6))
    damaged = frame[:at] + draw(st.binary(max_size=6)) + frame[at + cut :]
    return damaged[:-2] + checksum(damaged[:-2]) if draw(st.booleans()) else damaged


anything = st.binary(max_size=300) | frames | enveloped | struck()
pieces = st.lists(st.tuples(st.sampled_from([UDP, WIRE]), anything, st.booleans()), max_size=12)


@given(pieces, st.booleans())
@settings(max_examples=250)
def test_whatever_comes_is_let_through_or_counted(
    given_pieces: list[tuple[int, bytes, bool]], is_keyed: bool
) -> None:
    made = intake(KEYRING if is_keyed else None)
    for number, (link, data, wrapped) in enumerate(given_pieces):
        framed = wrap(data) if wrapped and 0 < len(data) < WIRE_BYTES_MAX else data
        for frame in admitted(made, link, framed, number * S):
            assert not isinstance(codec.decode(frame), Reject)
    for refused in made.refusals.due(1 << 60):
        assert set(refused.counts) <= NAMES
        assert all(count > 0 for count in refused.counts.values())


@given(st.lists(struck(), max_size=8))
@settings(max_examples=150)
def test_nothing_struck_is_let_through_by_a_keyed_base(damaged: list[bytes]) -> None:
    made = intake(KEYRING)
    for frame in damaged:
        for through in admitted(made, UDP, frame):
            # What was not really changed: a frame as its pack made it.
            sequence = int.from_bytes(through[12:16], "big")
            assert through == status(sequence)


# ---------------------------------------------------------------- the line finds its place


@given(st.binary(max_size=1_200), st.integers(1, 400), st.lists(st.integers(1, 90), max_size=9))
@settings(max_examples=250)
def test_after_any_noise_at_most_one_frame_is_lost(
    noise: bytes, first: int, sizes: list[int]
) -> None:
    made = intake(KEYRING)
    sent = [status(first + n) for n in range(3)]
    line, found, at = noise + b"".join(map(wrap, sent)), [], 0
    for size in [*sizes, len(line)]:
        found += admitted(made, WIRE, line[at : at + size])
        at += size
    assert found in (sent, sent[1:])


# ---------------------------------------------------------------- work, counted and not timed


@contextmanager
def counting() -> Iterator[list[int]]:
    """Count the lines of Python that run meanwhile. A clock would measure the machine."""
    done = [0]

    def trace(_frame: FrameType, event: str, _arg: Any) -> Any:
        done[0] += event == "line"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        yield done
    finally:
        sys.settrace(before)


def work(do: Callable[[], object]) -> int:
    with counting() as done:
        do()
    return done[0]


LINE_SHAPES: dict[str, Callable[[int], bytes]] = {
    "noise": lambda n: Random(1).randbytes(n),
    "no delimiter": lambda n: b"\x01" * n,
    "nothing but delimiters": lambda n: b"\x00" * n,
    "delimiters every other byte": lambda n: b"\x01\x00" * (n // 2),
    "frames": lambda n: b"".join(wrap(status(k + 1)) for k in range(n // 48)),
    "longest pieces": lambda n: (b"\xff" * WIRE_BYTES_MAX + b"\x00") * (n // (WIRE_BYTES_MAX + 1)),
}
LINES_A_BYTE = 44
"""The worst shape is a rejected piece every other byte; a frame of 46 bytes takes far less."""


@pytest.mark.parametrize("shape", LINE_SHAPES)
@pytest.mark.parametrize("piece", [1, 7, 100_000])
def test_work_on_a_line_grows_with_its_bytes_and_no_faster(shape: str, piece: int) -> None:
    def fed(size: int) -> int:
        data = LINE_SHAPES[shape](size)
        made = intake(KEYRING)
        chunks = [data[at : at + piece] for at in range(0, len(data), piece)]
        for chunk in chunks[:1]:
            admitted(made, WIRE, chunk)
        return work(lambda: [made.admit(Chunk(WIRE, Stamp(S, 0), None, c)) for c in chunks])

    short, long = fed(2_000), fed(8_000)
    assert long <= LINES_A_BYTE * 8_000
    # Four times the bytes: four times the work, give or take what a piece costs at the edges.
    assert long <= 4.6 * short + 200


def test_what_a_line_holds_back_is_bounded() -> None:
    splitter = Splitter()
    for _ in range(3_000):
        splitter.feed(b"\x01" * 7)
        assert len(splitter._held) <= WIRE_BYTES_MAX


@pytest.mark.parametrize("size", [0, 1, 14, 15, 46, 240, 254, 255, 1_000, 60_000])
@pytest.mark.parametrize("fill", [b"\x00", b"\x01", b"\xff"])
def test_one_frame_of_any_length_takes_bounded_work(size: int, fill: bytes) -> None:
    """Up to the longest frame in proportion to its bytes; beyond it, nothing more."""
    keys = KEYRING.pack_keys(101, 1)
    header = status(1)[:8]
    for content in (fill * size, header + fill * size, header[:2] + b"\x00\x00" + fill * size):
        frame = content + checksum(content)
        most = 120 + 10 * min(len(frame), 254)
        assert work(lambda f=frame: codec.decode(f)) <= most  # type: ignore[misc]
        assert work(lambda f=frame: codec.receive(f, KEYRING)) <= most  # type: ignore[misc]
        assert work(lambda f=frame: codec.receive(f, None)) <= most  # type: ignore[misc]
        assert work(lambda f=frame: codec.receive_down(f, 101, keys)) <= most  # type: ignore[misc]


def test_an_envelope_is_opened_once() -> None:
    """Envelopes do not nest, so a frame cannot make work out of wrappers."""
    inner = status(1)
    once = encode(Envelope(9, -70, 1, inner), None)
    with pytest.raises(ValueError, match="envelope"):
        encode(Envelope(9, -70, 1, once), None)
    made = intake(KEYRING)
    assert admitted(made, UDP, once) == [inner]


@pytest.mark.parametrize("is_keyed", [True, False])
def test_a_flood_costs_the_same_a_frame_from_first_to_last(is_keyed: bool) -> None:
    keyring = KEYRING if is_keyed else None
    random, made = Random(1), intake(keyring)

    def flood(count: int) -> int:
        junk = [random.randbytes(random.randrange(60)) for _ in range(count)]
        forged = [status(n + 1, Keyring({1: b"\x07" * 32}, "exercise", 1)) for n in range(count)]
        chunks = [Chunk(UDP, Stamp(S, 0), SOURCE, data) for data in junk + forged]
        return work(lambda: [made.admit(chunk) for chunk in chunks])

    early = flood(200)
    for _ in range(3):
        flood(500)
    assert flood(200) <= 1.1 * early
