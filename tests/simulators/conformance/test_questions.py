from simulators.conformance.down import Whose
from simulators.conformance.questions import (
    AFTER_RESTART,
    BEACONS,
    EARLIER,
    FORMS,
    KINDS,
    LATE,
    OLD,
    REFUSED,
    WIDE,
)
from simulators.conformance.rules import RULES

ALL = (
    *KINDS.values(), *REFUSED, *FORMS, *BEACONS, *EARLIER, OLD, LATE, *WIDE, *AFTER_RESTART,
)  # fmt: skip


def test_every_rule_of_a_question_has_a_row() -> None:
    assert {question.rule for question in ALL} <= set(RULES)


def test_no_wrong_order_names_the_pack_as_it_is() -> None:
    """However its numbers lie: all of them, bit by bit."""
    for number in (1, 2, 3, 0x100, 0x10000, 0x8000_0000, 0xFFFF_FFFF):
        whose = Whose(number, number, 1, 0)
        for question in REFUSED:
            named = question.named(whose)
            if question.rule == "other pack" and question.spoil.content is None:
                assert named.identity != whose.identity
            if question.rule == "other boot":
                assert named.boot != whose.boot
            assert 0 < named.identity < 2**32
            assert 0 < named.boot < 2**32
            assert 0 < named.sequence < 2**32


def test_numbers_cross_every_width() -> None:
    numbers = [question.number for question in WIDE if question.number > 0]
    assert numbers == sorted(numbers)
    for low, high in ((0x1FF, 0x200), (0x7FFF, 0x8000)):
        assert {low, high} <= set(numbers)
    assert max(numbers) == 65535
