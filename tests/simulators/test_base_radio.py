from protocol import codec
from protocol.packets import Beat, Envelope
from simulators.base_radio import BaseRadio
from simulators.fleet import OnAir

S = 1_000_000_000
FRAME = bytes(range(46))


def test_it_wraps_what_it_hears() -> None:
    radio = BaseRadio(radio=3)
    other = OnAir(1_200_000_000, 101, -90, FRAME, base=1)
    wire = radio.frames([other, OnAir(1_500_000_000, 101, -71, FRAME, base=3)], 1_500_000_000)
    assert sum(isinstance(codec.decode(frame), Envelope) for frame in wire) == 1
    envelope = codec.decode(wire[-1])
    assert envelope == Envelope(3, -71, 1500, FRAME)


def test_it_beats_once_a_second_between_the_frames() -> None:
    radio = BaseRadio()
    air = [OnAir(2_500_000_000, 101, -71, FRAME)]
    packets = [codec.decode(frame) for frame in radio.frames(air, 4 * S)]
    assert [p.radio_ms for p in packets if isinstance(p, Beat)] == [0, 1000, 2000, 3000, 4000]
    assert isinstance(packets[3], Envelope)
    assert [p.frames_heard for p in packets if isinstance(p, Beat)] == [0, 0, 0, 1, 1]
    assert radio.due_ns == 5 * S
    assert radio.frames([], 5 * S - 1) == []


def test_off_its_line_it_does_not_beat() -> None:
    radio = BaseRadio(2, lambda number, t_ns: number == 2 and not 1 * S <= t_ns < 3 * S)
    packets = [codec.decode(frame) for frame in radio.frames([], 4 * S)]
    assert [p.radio_ms for p in packets if isinstance(p, Beat)] == [0, 3000, 4000]


def test_each_frame_is_told_with_its_time() -> None:
    air = [OnAir(2_500_000_000, 101, -71, FRAME)]
    assert [t_ns for t_ns, _ in BaseRadio().stamped(air, 3 * S)] == [
        0, 1 * S, 2 * S, 2_500_000_000, 3 * S,
    ]  # fmt: skip
