"""The hand-over from reading threads to the one loop."""

import threading

from monitor.clock import Stamp
from monitor.links.chunk import Chunk, LinkDown, Overflow
from monitor.links.inbox import Inbox

STAMP = Stamp(1, 2)


def _burst(count: int, link: int = 1, data: bytes = b"12345678") -> list[Chunk]:
    return [Chunk(link, STAMP, None, data) for _ in range(count)]


class _Counter:
    def __init__(self) -> None:
        self.wakes = 0

    def __call__(self) -> None:
        self.wakes += 1


def test_many_bursts_wake_the_owner_once_until_they_are_taken() -> None:
    wake = _Counter()
    inbox = Inbox(wake)
    for _ in range(10):
        inbox.put(1, _burst(3))
    assert wake.wakes == 1
    assert len(inbox.take()) == 30
    inbox.put(1, _burst(1))
    assert wake.wakes == 2


def test_order_is_kept() -> None:
    inbox = Inbox(_Counter())
    first, second, down = _burst(1), _burst(1, link=2), LinkDown(1, STAMP, "gone")
    inbox.put(1, first)
    inbox.put_down(down)
    inbox.put(2, second)
    assert inbox.take() == [*first, down, *second]
    assert inbox.take() == []


def test_what_does_not_fit_is_counted_by_link_and_told_first() -> None:
    inbox = Inbox(_Counter(), chunks_max=5)
    inbox.put(1, _burst(4))
    inbox.put(1, _burst(2))
    inbox.put(2, _burst(3))
    inbox.put(2, _burst(1))
    assert inbox.take()[:2] == [Overflow(1, 2), Overflow(2, 3)]
    assert inbox.overflow_total == {1: 2, 2: 3}
    # With room again nothing is said again.
    inbox.put(1, _burst(5))
    assert inbox.take() == _burst(5)
    assert inbox.overflow_total == {1: 2, 2: 3}


def test_bytes_are_limited_too() -> None:
    inbox = Inbox(_Counter(), bytes_max=20)
    inbox.put(1, _burst(2))
    inbox.put(1, _burst(1))
    assert inbox.take() == [Overflow(1, 1), *_burst(2)]


def test_a_failed_link_is_told_even_when_all_is_full() -> None:
    inbox = Inbox(_Counter(), chunks_max=1)
    inbox.put(1, _burst(1))
    inbox.put_down(LinkDown(1, STAMP, "gone"))
    assert inbox.take()[-1] == LinkDown(1, STAMP, "gone")


def test_nothing_is_lost_or_doubled_between_threads() -> None:
    inbox = Inbox(_Counter())
    done = threading.Event()

    def put() -> None:
        for n in range(2_000):
            inbox.put(1, [Chunk(1, Stamp(n, 0), None, b"")])
        done.set()

    thread = threading.Thread(target=put)
    thread.start()
    taken = []
    while not done.is_set():
        taken += inbox.take()
    thread.join()
    taken += inbox.take()
    assert [item.stamp.boot_ns for item in taken if isinstance(item, Chunk)] == list(range(2_000))


def _from_air(identity: int, count: int = 1) -> list[Chunk]:
    data = b"\x01\x02\x01\x01" + identity.to_bytes(4, "big") + bytes(38)
    return [Chunk(1, STAMP, ("192.0.2.7", 5000), data) for _ in range(count)]


def test_known_packs_come_first_whatever_others_send() -> None:
    inbox = Inbox(_Counter(), chunks_max=10)
    inbox.known = {bytes((0, 0, 0, 7))}
    for _ in range(3):
        inbox.put(1, [*_from_air(9, 4), *_from_air(7)])
    first, others = inbox.take_both()
    # The flood has filled its own queue, twice four of ten; none of the known pack's is lost.
    assert first == [Overflow(1, 4), *_from_air(7, 3)]
    assert others == _from_air(9, 8)


def test_a_known_pack_is_seen_in_a_base_radios_envelope() -> None:
    inbox = Inbox(_Counter())
    inbox.known = {bytes((0, 0, 0, 7))}
    wrapped = b"\x01\x0c" + bytes(10) + _from_air(7)[0].data
    one = Chunk(1, STAMP, ("192.0.2.7", 5000), wrapped)
    inbox.put(1, [*_from_air(9), one])
    assert inbox.take() == [one, *_from_air(9)]


def test_what_comes_by_a_line_comes_first() -> None:
    inbox = Inbox(_Counter())
    inbox.put(1, [*_from_air(9), *_burst(1)])
    assert inbox.take() == [*_burst(1), *_from_air(9)]
