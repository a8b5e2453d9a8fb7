"""Trouble by hand: everything an instructor can ask for is something that virtual packs do."""

import pytest

from monitor.incident.alarms.catalogue import Kind
from monitor.instructor.trouble import OF_ALL, OF_ONE, Hand, hands, to_come
from simulators.instructions import InjectNow, Sooner, Tick, read
from simulators.scenario_file import load

KILN_LANE = load("kiln-lane")


def by_code(found: list[Hand]) -> dict[str, Hand]:
    assert len({hand.code for hand in found}) == len(found)
    return {hand.code: hand for hand in found}


def test_every_instruction_is_understood_by_whoever_reads_it() -> None:
    for hand in hands(KILN_LANE, [], 4, 1):
        if hand.do is not None:
            assert read(hand.do.model_dump_json(exclude_none=True).encode()) == hand.do


@pytest.mark.parametrize("trouble", [*OF_ONE, *OF_ALL], ids=lambda t: t.words)
def test_what_the_board_must_show_is_an_alarm_of_the_catalogue(trouble: object) -> None:
    shows = str(getattr(trouble, "shows"))  # noqa: B009 - private of its module
    assert not shows or shows in set(Kind)


def test_names_are_of_their_own_so_that_a_score_tells_them_apart() -> None:
    first, second = (by_code(hands(None, [], 4, nth))["31"].do for nth in (1, 2))
    assert isinstance(first, InjectNow)
    assert isinstance(second, InjectNow)
    assert first.inject.name == "by hand 1: collapse of 4"
    assert first.inject.name != second.inject.name
    assert first.inject.wearers == (4,)


def test_without_a_wearer_only_what_befalls_everybody() -> None:
    found = by_code(hands(KILN_LANE, [], None, 1))
    assert found["31"].do is None
    assert found["11"].do is None
    assert isinstance(found["41"].do, InjectNow)
    everybody = by_code(hands(KILN_LANE, [], 4, 1))["41"].do
    assert isinstance(everybody, InjectNow)
    assert everybody.inject.name == "by hand 1: everybody's radio lost 2 min", "of nobody"
    assert isinstance(found["21"].do, Sooner)
    assert isinstance(by_code(hands(None, [], 4, 1))["11"].do, Tick)


def test_what_is_to_come_is_what_has_not_come_the_next_first() -> None:
    names = [inject.name for inject in to_come(KILN_LANE, [])]
    assert set(names) == {inject.name for inject in KILN_LANE.injects}
    times = [inject.at_s for inject in to_come(KILN_LANE, []) if inject.at_s is not None]
    assert times == sorted(times)
    left = to_come(KILN_LANE, [(1, names[0])])
    assert [inject.name for inject in left] == names[1:]
    assert to_come(None, []) == []
