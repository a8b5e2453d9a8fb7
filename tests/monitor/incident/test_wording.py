import pytest

from monitor.incident import wording
from monitor.incident.link_rule import LinkRule
from monitor.incident.picture import Phase, Signal

STATE_WIDTH = 13
S = 1_000_000_000


@pytest.mark.parametrize(
    ("phase", "signal", "state"),
    [
        (Phase.LISTED, Signal.NEVER, "not here yet"),
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
    assert wording.low_air_detail(105.9, None, "bar", flag=False) == "105 bar"
    assert wording.low_air_detail(None, None, "bar", flag=True) == "the pack's own warning"
    # 14.5038 psi a bar: 100 bar are 1450.4, 105 bar 1522.9.
    words = wording.low_air_detail(100, 105, "psi", flag=False)
    assert words == "1450 psi, low at 1523 psi"


def test_the_link_rule_says_where_its_limit_comes_from() -> None:
    rule = LinkRule(46 * S, 9, 5, 0.1165, 3.44, 21.6, 6, known=True)
    assert wording.link_rule(rule, 47 * S) == (
        "silent 47 s, limit 46 s: 9 reports of 5 s; loss 12 %; 3.4 gaps an hour of about 22 s; "
        "shared by 6 wearers"
    )


def test_the_link_rule_says_when_it_is_held() -> None:
    short = LinkRule(31 * S, 3, 5, 0.0, 0.02, 22.5, 1, known=True)
    assert wording.link_rule(short, 0) == (
        "silent 0 s, limit 31 s: 30 s at least; loss 0 %; 0.0 gaps an hour of about 22 s"
    )
    long = LinkRule(91 * S, 19, 5, 0.2, 18.4, 35.0, 4, known=True)
    assert wording.link_rule(long, 12 * S) == (
        "silent 12 s, limit 91 s: 90 s at most; loss 20 %; 18.4 gaps an hour of about 35 s; "
        "shared by 4 wearers"
    )


def test_the_link_rule_of_a_pack_never_heard() -> None:
    rule = LinkRule(46 * S, 9, 5, 0.2, 2.7, 22.5, 1, known=False)
    assert wording.link_rule(rule, 5 * S) == (
        "silent 5 s, limit 46 s: 9 reports of 5 s; nothing heard yet"
    )
