import pytest

from monitor.recorder.receivers import JUNK_MIN, NO_BEAT, NO_FRAMES, QUIET_NS, Receivers

S = 1_000_000_000
WIRE, UDP = 1, 2


@pytest.fixture
def receivers() -> Receivers:
    made = Receivers()
    made.open(WIRE, wire=True)
    made.open(UDP, wire=False)
    return made


def test_a_link_that_never_beat_has_no_radio_to_miss(receivers: Receivers) -> None:
    receivers.frame(UDP, 1 * S)
    assert receivers.look(3_600 * S) == []


def test_a_radio_is_missed_within_two_seconds_of_its_first_missing_beat_and_said_once(
    receivers: Receivers,
) -> None:
    """It beats once a second: after the beat at 10 s the next is missing from 11 s on."""
    receivers.beat(UDP, 10 * S)
    assert receivers.look(10 * S + QUIET_NS - 1) == []
    assert QUIET_NS <= 1 * S + 2 * S
    assert receivers.look(10 * S + QUIET_NS) == [(UDP, NO_BEAT)]
    assert receivers.look(16 * S) == []
    receivers.beat(UDP, 17 * S)
    assert receivers.look(17 * S) == [(UDP, "")]


def test_one_beat_lost_to_noise_is_nothing(receivers: Receivers) -> None:
    for t in range(0, 3_600, 2):
        late_ns = S // 4 if t % 4 else 0
        assert receivers.look(t * S + late_ns - 1) == []
        receivers.beat(UDP, t * S + late_ns)


def test_packs_that_are_heard_show_that_the_radio_lives(receivers: Receivers) -> None:
    receivers.beat(UDP, 10 * S)
    receivers.frame(UDP, 12 * S)
    assert receivers.look(12 * S + QUIET_NS - 1) == []
    assert receivers.look(12 * S + QUIET_NS) == [(UDP, NO_BEAT)]


def test_packs_that_are_heard_without_a_beat_have_no_radio_to_miss(receivers: Receivers) -> None:
    """A forged beat on a link by which packs come of themselves."""
    receivers.beat(UDP, 10 * S)
    assert receivers.look(13 * S) == [(UDP, NO_BEAT)]
    receivers.frame(UDP, 14 * S)
    assert receivers.look(14 * S) == [(UDP, "")]
    assert receivers.look(3_600 * S) == []
    receivers.beat(UDP, 3_601 * S)
    assert receivers.look(3_604 * S) == [(UDP, NO_BEAT)]


def test_the_recorders_own_stall_is_not_counted(receivers: Receivers) -> None:
    receivers.beat(WIRE, 10 * S)
    receivers.stalled(60 * S)
    receivers.frame(WIRE, 71 * S)
    assert receivers.look(71 * S + QUIET_NS - 1) == []
    assert receivers.look(71 * S + QUIET_NS) == [(WIRE, NO_BEAT)]


def test_bytes_without_frames_on_a_wire(receivers: Receivers) -> None:
    for n in range(JUNK_MIN):
        receivers.junk(WIRE, 10 * S + n)
    assert receivers.look(15 * S - 1) == []
    assert receivers.look(15 * S) == [(WIRE, NO_FRAMES)]
    receivers.frame(WIRE, 16 * S)
    assert receivers.look(16 * S) == [(WIRE, "")]


def test_one_good_frame_between_is_enough(receivers: Receivers) -> None:
    for n in range(100):
        receivers.junk(WIRE, n * S)
        if n % (JUNK_MIN - 1) == 0:
            receivers.frame(WIRE, n * S)
        assert receivers.look(n * S) == []


def test_junk_by_udp_says_nothing_of_the_link(receivers: Receivers) -> None:
    for n in range(1_000):
        receivers.junk(UDP, n * S)
    assert receivers.look(1_000 * S) == []


def test_a_link_that_failed_is_forgotten_and_begins_anew(receivers: Receivers) -> None:
    receivers.beat(WIRE, 10 * S)
    receivers.gone(WIRE)
    receivers.beat(WIRE, 11 * S)
    receivers.junk(WIRE, 11 * S)
    receivers.frame(WIRE, 11 * S)
    assert receivers.look(60 * S) == []
    receivers.open(WIRE, wire=True)
    assert receivers.look(60 * S) == []


def test_opening_an_open_link_changes_nothing(receivers: Receivers) -> None:
    receivers.beat(WIRE, 10 * S)
    receivers.open(WIRE, wire=True)
    assert receivers.look(15 * S) == [(WIRE, NO_BEAT)]
