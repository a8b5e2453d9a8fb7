import pytest

from monitor.incident import wording
from monitor.incident.picture import Phase, Signal

STATE_WIDTH = 13


@pytest.mark.parametrize(
    ("phase", "signal", "state"),
    [
        (Phase.LISTED, Signal.NEVER, "listed"),
        (Phase.CHECKED_IN, Signal.LOST, "checked in"),
        (Phase.ON_AIR, Signal.HEARD, "ok"),
        (Phase.ENTERED, Signal.HEARD, "ok"),
        (Phase.ENTERED, Signal.LOST, "no signal"),
        (Phase.ENTERED, Signal.BY_VOICE, "by voice"),
        (Phase.OUT, Signal.HEARD, "out"),
        (Phase.OFF_AIR, Signal.SIGNED_OFF, "off air"),
    ],
)
def test_the_quiet_word(phase: Phase, signal: Signal, state: str) -> None:
    assert wording.quiet_state(phase, signal) == state


def test_under_air_only_a_signal_is_ok() -> None:
    for signal in Signal:
        word = wording.quiet_state(Phase.ENTERED, signal)
        assert (word == "ok") is (signal is Signal.HEARD)
        assert len(word) <= STATE_WIDTH


def test_spans_and_pressures_are_rounded_down() -> None:
    assert wording.seconds(46_999_999_999) == "46 s"
    assert wording.low_air_detail(105.9, None, flag=False) == "105 bar"
    assert wording.low_air_detail(None, None, flag=True) == "the pack's own warning"
