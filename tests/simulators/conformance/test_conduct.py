"""What takes long, or a sender that our own pack cannot be made into, is fed by hand."""

from itertools import pairwise

import pytest

from protocol import codec
from protocol.packets import CheckResult, Kind, Motion, Report
from simulators.conformance.conduct import Conduct
from simulators.conformance.rules import Findings

S = 1_000_000_000


def report(t: int, sequence: int, kind: Kind = Kind.STATUS, interval_s: int = 5) -> Report:
    passed = CheckResult.PASSED
    return Report(
        kind=kind, identity=101, boot=7, sequence=sequence, epoch=0, keyed=False,
        pressure_dbar=3000, gas_temperature_c=15, battery_percent=90, motion=Motion.MOVING,
        distress=False, low_air=False, coming_out=False, self_test=passed,
        air_warning_test=passed, motion_warning_test=passed, interval_s=interval_s,
        uptime_ms=t // 1_000_000, order_received=0, order_acknowledged=0, beacon_heard=0,
    )  # fmt: skip


def verdicts(times_s: list[float], sequences: list[int] | None = None) -> dict[str, str]:
    """Statuses at those times."""
    findings = Findings(0)
    conduct = Conduct(findings)
    numbers = sequences or list(range(10, 10 + len(times_s)))
    for at_s, sequence in zip(times_s, numbers, strict=True):
        packet = report(round(at_s * S), sequence)
        conduct.take(round(at_s * S), packet, codec.encode(packet, None))
    conduct.end(round(times_s[-1] * S) + 4 * S)
    return {row.name: row.verdict for row in findings.rows()}


def test_the_share_of_frames_that_never_came() -> None:
    """Of 1 to 20 three are missing; one of them comes late, over a gateway that overtakes."""
    conduct = Conduct(Findings(0))
    for sequence in (1, 2, 3, 5, 6, 9, 4, *range(10, 21)):
        packet = report(sequence * S, sequence)
        conduct.take(sequence * S, packet, codec.encode(packet, None))
    # 7 and 8 never came.
    assert conduct.lost_share == 2 / 20


def at(*gaps_s: float) -> list[float]:
    times = [0.0]
    for gap in gaps_s:
        times.append(times[-1] + gap)
    return times


def test_a_metronome_is_no_random_spread() -> None:
    found = verdicts(at(*[5.0] * 8))
    assert (found["spread"], found["interval"]) == ("failed", "passed")


def test_eight_intervals_are_needed_to_say_so() -> None:
    assert verdicts(at(*[5.0] * 7))["spread"] == "not seen"


def test_a_spread_of_a_tenth_is_right() -> None:
    found = verdicts(at(4.5, 5.0, 4.6, 4.9, 4.7, 4.8, 4.95, 5.0))
    assert (found["spread"], found["interval"]) == ("passed", "passed")


# 0.9 to 1.0 of 5 s, and 0.3 s for the machine: 4.2 s and 5.3 s.
@pytest.mark.parametrize(
    ("gap_s", "verdict"), [(4.25, "passed"), (4.15, "failed"), (5.25, "passed"), (5.35, "failed")]
)
def test_the_interval_has_a_tenth_and_some_slack(gap_s: float, verdict: str) -> None:
    assert verdicts(at(gap_s))["interval"] == verdict


def test_what_is_missing_explains_a_long_interval() -> None:
    found = verdicts([0, 5, 15], [10, 11, 13])
    assert found["interval"] == "passed"


def test_a_sender_that_counts_by_two_is_no_radio_that_loses() -> None:
    times = at(*[5.0] * 19)
    assert verdicts(times, [10 + 2 * n for n in range(20)])["sequence"] == "failed"
    # Every fourth lost: 10 11 12 14 15 16 18 ...
    some = [10 + n + n // 3 for n in range(20)]
    assert {b - a for a, b in pairwise(some)} == {1, 2}
    assert verdicts(times, some)["sequence"] == "passed"


def test_a_number_from_long_before_is_a_fault() -> None:
    assert verdicts([0, 5, 10], [10, 11, 9])["sequence"] == "failed"
