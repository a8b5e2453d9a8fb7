"""Known packs first, and what "now" is while their frames wait."""

from monitor.clock import Stamp
from monitor.links.chunk import Chunk, LinkDown, Overflow
from monitor.recorder.waiting import OTHERS_MAX, Waiting


def chunk(at_ns: int, link: int = 1) -> Chunk:
    return Chunk(link, Stamp(at_ns, 0), ("192.0.2.7", 5000), b"")


NOW = Stamp(99, 0)


def test_known_packs_first_each_in_its_order() -> None:
    waiting = Waiting()
    waiting.add([chunk(2)], [chunk(1)])
    waiting.add([chunk(4)], [chunk(3)])
    assert waiting.others == 2
    taken = []
    while waiting:
        taken += waiting.next(1)
    assert [one.stamp.boot_ns for one in taken if isinstance(one, Chunk)] == [2, 4, 1, 3]
    assert waiting.next(5) == []


def test_now_is_when_the_first_of_a_known_pack_was_read() -> None:
    waiting = Waiting()
    waiting.add([LinkDown(1, Stamp(5, 0), "gone"), chunk(7), chunk(8)], [chunk(1)])
    assert waiting.now(NOW) == Stamp(7, 0)
    assert len(waiting.next(9)) == 3
    # What strangers send is not waited for.
    assert waiting.others == 1
    assert waiting.now(NOW) == NOW


def test_more_of_others_than_there_is_room_for_is_counted() -> None:
    waiting = Waiting()
    waiting.add([], [chunk(1)] * (OTHERS_MAX - 1))
    waiting.add([chunk(2)], [chunk(3), chunk(4), chunk(5, link=2)])
    assert waiting.others == OTHERS_MAX
    assert waiting.next(3) == [chunk(2), Overflow(1, 1), Overflow(2, 1)]
