from random import Random

from protocol import codec
from simulators.conformance.beacons import BEACON_NS, BeaconsSent
from simulators.conformance.down import Base, Whose
from simulators.conformance.rules import Findings
from tests.simulators.conformance.test_conduct import report

S = 1_000_000_000
WHOSE = Whose(101, 7, 300, 0)


def told(values: list[tuple[float, int]], began_ns: int = 0) -> str:
    """Four beacons, 1 to 4, sent at 5, 10, 15 and 20 s; what reports tell, and when."""
    findings = Findings(0)
    sent = BeaconsSent(findings, Base(None, Random(1)))
    waiting = [(5 * n * S, n) for n in range(1, 5)]
    for at_s, value in values:
        t = round(at_s * S)
        while waiting and waiting[0][0] <= t:
            sent.went(*waiting.pop(0))
        packet = report(t, 10)
        packet.beacon_heard = value
        sent.judge(t, packet, codec.encode(packet, None), began_ns)
    sent.end(30 * S)
    failed = [row.name for row in findings.rows() if row.verdict == "failed"]
    return ", ".join(failed)


def test_the_last_one_is_right_and_so_is_one_on_its_way() -> None:
    assert told([(1, 0), (6, 1), (10.1, 1), (10.2, 2), (16, 3), (21, 4)]) == ""


def test_one_behind_now_and_then_was_lost() -> None:
    assert told([(6, 1), (11, 1), (16, 3), (21, 3)]) == ""


def test_always_one_behind_is_the_pack() -> None:
    assert told([(11, 1), (16, 2), (19, 2), (21, 3), (24, 3)]) == "beacon"


def test_what_was_never_sent_and_what_is_long_ago() -> None:
    assert told([(6, 99)]) == "beacon"
    assert told([(21, 1)]) == "beacon"
    assert told([(21, 0)]) == "beacon"


def test_a_boot_has_heard_no_beacon_from_before_it() -> None:
    assert told([(17, 2)], began_ns=17 * S) == "restart"
    assert told([(17, 0)], began_ns=17 * S) == ""


def test_one_each_five_seconds() -> None:
    sent = BeaconsSent(Findings(0), Base(None, Random(1)))
    assert sent.due_ns == 0
    assert len(sent.due(3 * S, WHOSE)) == 1
    assert sent.due_ns == 3 * S + BEACON_NS
    assert sent.lately(3 * S)
    assert not sent.lately(4 * S)
