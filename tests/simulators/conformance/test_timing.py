"""Limits of the page, and what lies just on either side of them."""

from pathlib import Path

import pytest

from protocol import codec
from protocol.delays import DRIFT_PPM
from protocol.packets import Kind
from simulators.conformance import conduct, timing
from simulators.conformance.rules import Findings
from simulators.conformance.timing import Timing
from tests.simulators.conformance.test_conduct import report

S = 1_000_000_000
MS = 1_000_000
PAGE = Path(__file__).parents[3] / "protocol" / "PACKET-FORMAT.md"


def test_the_limits_are_those_of_the_page() -> None:
    text = " ".join(PAGE.read_text("utf-8").split())
    assert timing.CLOCK_PPM == DRIFT_PPM == 500
    assert "keeps time within 500 parts in a million" in text
    assert tuple(ns // MS for ns in timing.COPY_GAP_NS) == (100, 400)
    assert "goes out a random 0.1 to 0.4 s after the one before it" in text
    assert tuple(ns // MS for ns in timing.SIGN_OFF_GAP_NS) == (100, 700)
    assert timing.SIGN_OFF_SPAN_NS == 100 * MS
    assert "from any span of 0.1 s or more within 0.1 to 0.7 s, and all are out within 3 s" in text
    assert timing.INTERVAL_SHARE == (0.9, 1.0)
    assert "a random 0.9 to 1.0 of the interval that it told" in text
    assert timing.MADE_BEFORE_S == 0.1
    assert "at most 0.1 s before it is first sent" in text
    assert conduct.SIGN_OFF_COPIES == (5, 6)
    assert "five or six times in all" in text
    assert 3 * S == conduct.FIRST_NS == conduct.SIGN_OFF_NS
    assert "within 3 s of its beginning" in text
    assert 60 * S == conduct.SIGN_ON_NS


def copied(gaps_ms: list[int], kind: Kind = Kind.EVENT, *, lossy: bool = False) -> set[str]:
    findings = Findings(0)
    watched = Timing(findings)
    packet = report(0, 1, kind)
    for gap_ms in gaps_ms:
        watched.copy(0, gap_ms * MS, packet, codec.encode(packet, None))
    watched.end(0, lossy=lossy)
    return {row.name for row in findings.rows() if row.verdict == "failed"}


# 60 ms of slack on either side.
@pytest.mark.parametrize(
    ("gap_ms", "failed"), [(39, {"gaps"}), (41, set()), (459, set()), (461, {"gaps"})]
)
def test_copies_of_events(gap_ms: int, failed: set[str]) -> None:
    assert copied([gap_ms, gap_ms]) == failed


def test_copies_of_a_sign_off_may_take_longer() -> None:
    assert copied([690, 120], Kind.SIGN_OFF) == set()
    assert copied([770, 770], Kind.SIGN_OFF) == {"gaps"}


def test_one_long_distance_is_a_copy_that_was_lost() -> None:
    assert copied([150, 650, 300]) == set()
    assert copied([150, 650, 650]) == {"gaps"}
    assert copied([150, 650, 650], lossy=True) == set()


def test_what_is_lost_makes_no_interval() -> None:
    findings = Findings(0)
    watched = Timing(findings)
    frame = codec.encode(report(0, 10), None)
    watched.report(0, report(0, 10), frame)
    watched.lost()
    watched.report(14 * S, report(14 * S, 13), frame)
    watched.report(19 * S, report(19 * S, 14), frame)
    rows = {row.name: row for row in findings.rows()}
    assert (rows["interval"].verdict, rows["interval"].seen) == ("passed", 1)


def test_an_event_restarts_nothing_and_does_not_stand_in_for_a_status() -> None:
    findings = Findings(0)
    watched = Timing(findings)
    frame = codec.encode(report(0, 10), None)
    watched.report(0, report(0, 10), frame)
    watched.report(4 * S, report(4 * S, 11, Kind.EVENT), frame)
    watched.report(9 * S, report(9 * S, 12), frame)
    (row,) = (row for row in findings.rows() if row.name == "interval")
    assert row.first is not None
    assert row.first.why == "9.0 s where 5 s was told"
