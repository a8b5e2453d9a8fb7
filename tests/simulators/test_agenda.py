from simulators.agenda import Agenda, seconds
from simulators.deeds import Simple
from simulators.movement import FOREVER_NS

S = 1_000_000_000


def deed(at_s: float, does: str) -> Simple:
    return Simple.model_validate({"at_s": at_s, "does": does})


def test_deeds_come_in_order_and_at_one_instant_as_put_down() -> None:
    agenda = Agenda([deed(9, "move"), deed(2, "switch_on"), deed(9, "distress")])
    agenda.put(9 * S, deed(0, "collapse"))
    agenda.put(1 * S, deed(0, "off_air"))
    found = []
    while agenda.next_ns < FOREVER_NS:
        at_ns = agenda.next_ns
        one, planned = agenda.take()
        assert isinstance(one, Simple)
        found.append((at_ns // S, one.does, planned))
    assert found == [
        (1, "off_air", False), (2, "switch_on", True), (9, "move", True), (9, "distress", True),
        (9, "collapse", False),
    ]  # fmt: skip


def test_seconds_are_whole_ns() -> None:
    assert seconds(0.0000000015) == 2
    assert seconds(12.5) == 12_500_000_000
