from protocol.rejects import Reject
from simulators.conformance.frames import RULE_OF
from simulators.conformance.rules import RULES

ELSEWHERE = {
    Reject.OTHER_PACK,
    Reject.ORDER_KIND,
    Reject.BEACON,
    Reject.BASE,
    Reject.BUSY,
}
"""Reasons that only a pack gives, of what a base sends; and one that says nothing of the frame."""


def test_every_reason_that_a_base_gives_for_a_frame_has_its_rule() -> None:
    assert set(RULE_OF) == {one for one in Reject if one < Reject.COPY} - ELSEWHERE
    assert set(RULE_OF.values()) <= set(RULES)
