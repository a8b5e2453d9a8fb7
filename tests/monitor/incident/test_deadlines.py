import pytest

from monitor.incident.deadlines import NEVER_NS, Deadlines, Due


@pytest.fixture
def deadlines() -> Deadlines:
    return Deadlines()


def drained(deadlines: Deadlines, until: int) -> list[tuple[int, Due, int]]:
    entries = []
    while (entry := deadlines.pop(until)) is not None:
        entries.append(entry)
    return entries


def test_in_order_of_time_kind_and_subject(deadlines: Deadlines) -> None:
    deadlines.put(20, Due.SILENT, 2)
    deadlines.put(20, Due.SILENT, 1)
    deadlines.put(20, Due.STILL_AND_SILENT, 9)
    deadlines.put(10, Due.INSIST, 5)
    assert deadlines.next_ns == 10
    assert drained(deadlines, 20) == [
        (10, Due.INSIST, 5),
        (20, Due.STILL_AND_SILENT, 9),
        (20, Due.SILENT, 1),
        (20, Due.SILENT, 2),
    ]
    assert deadlines.next_ns == NEVER_NS


def test_nothing_comes_before_its_time(deadlines: Deadlines) -> None:
    deadlines.put(20, Due.SILENT, 1)
    assert deadlines.pop(19) is None
    assert deadlines.pop(20) == (20, Due.SILENT, 1)
    assert deadlines.pop(99) is None


def test_later_changes_nothing_and_earlier_replaces(deadlines: Deadlines) -> None:
    deadlines.put(20, Due.SILENT, 1)
    deadlines.put(30, Due.SILENT, 1)
    deadlines.put(10, Due.SILENT, 1)
    assert drained(deadlines, 99) == [(10, Due.SILENT, 1)]
    deadlines.put(40, Due.SILENT, 1)
    assert drained(deadlines, 99) == [(40, Due.SILENT, 1)]


def test_many_puttings_off_do_not_fill_the_heap(deadlines: Deadlines) -> None:
    for t in range(1000):
        deadlines.put(100 + t, Due.SILENT, 1)
    assert len(deadlines._heap) == 1
