"""Orders on their way out: with the next batch, repeated, whatever the disk does."""

from typing import Any

import pytest

from monitor.incident.events import Close
from protocol.codec import decode
from protocol.packets import Beacon

MS = 1_000_000
S = 1_000_000_000


@pytest.fixture
def evacuated(make: Any, base: Any, pack: Any) -> Any:
    """A base at which one pack is live and everybody was told to get out 10 ms ago."""
    base.hold()
    make.live(base, pack)
    base.hear(pack.frame(base.boot_ns))
    base.beat(50 * MS)
    base.ask(1, make.evacuate())
    return base


def test_an_order_goes_out_with_the_next_batch_and_is_on_record(make: Any, evacuated: Any) -> None:
    due_ns = evacuated.sequencer.due_boot_ns()
    assert due_ns - evacuated.boot_ns <= 20 * MS
    batch = evacuated.beat(20 * MS)
    (order,) = make.orders(batch)
    assert (order.identity, order.boot, order.sequence, order.order) == (101, 3, 1, 1)
    (sent,) = evacuated.facts("orders_sent")
    assert sent.what.sent == ((1, 101, 1),)
    assert evacuated.sequencer.incident.picture().orders[0].lines[0].copies == 1


def test_it_is_repeated_until_the_pack_says_that_it_has_it(
    make: Any, evacuated: Any, pack: Any
) -> None:
    evacuated.beat(20 * MS)
    evacuated.beat(10 * S)
    sent = evacuated.facts("orders_sent")
    # Every 1 to 3 s: at least three within 10 s, at most ten.
    assert 3 <= len(sent) - 1 <= 10
    evacuated.hear(pack.frame(evacuated.boot_ns, order_received=1, order_acknowledged=1))
    evacuated.beat(20 * MS)
    count = len(evacuated.facts("orders_sent"))
    evacuated.beat(30 * S)
    assert len(evacuated.facts("orders_sent")) == count


def test_a_disk_that_takes_nothing_keeps_no_order_back(make: Any, evacuated: Any) -> None:
    evacuated.wait(20 * MS)
    sequencer = evacuated.sequencer
    batch = sequencer.next_batch(evacuated.stamp)
    assert len(make.orders(batch)) == 1
    assert [b"give_order" in row.data for row in batch.rows].count(True) == 1
    assert any(b"orders_sent" in row.data for row in batch.rows)
    # Nothing is answered by the disk, and the copies after the first go out all the same.
    sends = []
    for _ in range(40):
        evacuated.wait(250 * MS)
        sends += make.orders(sequencer.next_batch(evacuated.stamp))
    assert 3 <= len(sends) <= 10


def test_more_packs_than_one_batch_takes_are_told_within_a_few_beats(make: Any) -> None:
    base = make.base(packs=range(101, 201))
    base.hold()
    packs = [make.pack(None, identity) for identity in range(101, 201)]
    make.live(base, packs[0])
    for one in packs:
        one.beacon = packs[0].beacon
    base.hear(*(one.frame(base.boot_ns) for one in packs))
    base.beat(50 * MS)
    base.ask(1, make.evacuate())
    told: list[int] = []
    while len(told) < 100:
        assert base.sequencer.due_boot_ns() - base.boot_ns <= 20 * MS
        told += [order.identity for order in make.orders(base.beat(20 * MS))]
    assert sorted(told) == list(range(101, 201))


def test_a_pack_that_starts_anew_is_proven_with_its_next_report(make: Any, base: Any) -> None:
    """The beacon goes to it at once, not within five seconds."""
    pack = make.pack(None)
    make.live(base, pack)
    base.hear(pack.frame(base.boot_ns))
    base.beat(1 * S)
    pack.boot, pack.sequence, pack.beacon = pack.boot + 1, 0, 0
    base.hear(pack.sign_on(base.boot_ns))
    sends = base.beat(50 * MS).sends
    (beacon,) = [decode(send.frame) for send in sends]
    assert isinstance(beacon, Beacon)
    pack.beacon = beacon.value
    base.hear(pack.frame(base.boot_ns))
    base.beat()
    assert base.standings()[-2:] == ["NOT_PROVEN", "LIVE"]


def test_a_closed_incident_gives_no_orders(make: Any, evacuated: Any) -> None:
    evacuated.ask(1, Close(id="close-001", by="R. Harrow", override="handed over"))
    assert make.orders(evacuated.beat(20 * MS)) == []
