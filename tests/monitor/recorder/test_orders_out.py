"""When orders go out: at once, after hearing, at random distances, and within the budget of air."""

from collections.abc import Sequence
from itertools import pairwise
from random import Random
from statistics import mean, pvariance

import pytest

from monitor.incident.orders.order import Outstanding, Reach
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.orders_out import (
    COPIES_A_BATCH_MAX,
    HEARD_GAP_NS,
    REPEATS_A_SECOND,
    OrderSender,
)
from protocol.codec import decode, receive_down
from protocol.integrity import Keyring
from protocol.packets import Order, OrderKind

S = 1_000_000_000
MS = 1_000_000
NOW = 1_000 * S
ADDRESS = ("192.0.2.7", 5000)
BEAT = 50 * MS


def one(
    pack: int = 101, sequence: int = 40, epoch: int = 0, *, keyed: bool = False, **changes: object
) -> Outstanding:
    usual: dict[str, object] = {
        "order": 1, "pack": pack, "reach": Reach(0, 3, sequence, epoch, keyed), "number": 6,
        "what": OrderKind.EVACUATE, "received": False,
    }  # fmt: skip
    return Outstanding(**(usual | changes))  # type: ignore[arg-type]


def sender(keyring: Keyring | None = None, seed: int = 1) -> OrderSender:
    """At a base with one wire."""
    beacons = BeaconSender(7, 1, keyring, Random(seed))
    beacons.set_wire(1, up=True)
    return OrderSender(beacons)


def times(made: OrderSender, what: Sequence[Outstanding], until_ns: int) -> dict[int, list[int]]:
    """When each pack was sent to, in beats, from ``NOW`` on."""
    found: dict[int, list[int]] = {}
    for now_ns in range(NOW, NOW + until_ns, BEAT):
        for sent in made.due(what, now_ns)[1]:
            found.setdefault(sent.pack, []).append(now_ns - NOW)
    return found


def gaps(found: list[int]) -> list[float]:
    return [(b - a) / S for a, b in pairwise(found)]


def test_nothing_outstanding_nothing_sent() -> None:
    assert sender().due([], NOW) == ([], [])


def test_the_first_copy_goes_at_once_and_says_what_is_ordered() -> None:
    sends, sent = sender().due([one()], NOW)
    assert [(send.link, send.address) for send in sends] == [(1, None)]
    assert decode(sends[0].frame) == Order(101, 3, 40, 0, False, 7, 6, OrderKind.EVACUATE)
    assert sent == [(1, 101, 6)]


def test_repeats_until_received_are_not_periodic_and_two_seconds_apart_on_average() -> None:
    """Uniform from 1 to 3 s: mean 2, variance 4 / 12; BS 8608:2014 asks for random intervals."""
    found = gaps(times(sender(), [one()], 600 * S)[101])
    assert min(found) >= 1.0
    assert max(found) <= 3.0 + BEAT / S
    assert 1.9 < mean(found) < 2.15
    assert 0.2 < pvariance(found) < 0.5


def test_repeats_until_answered_are_seldom() -> None:
    """Uniform from 5 to 15 s: mean 10, variance 100 / 12."""
    found = gaps(times(sender(), [one(received=True)], 3_000 * S)[101])
    assert min(found) >= 5.0
    assert max(found) <= 15.0 + BEAT / S
    assert 9 < mean(found) < 11
    assert pvariance(found) > 4


def test_two_packs_do_not_stay_in_step() -> None:
    found = times(sender(), [one(101), one(102)], 60 * S)
    assert found[101][0] == found[102][0]
    assert len(set(found[101]) & set(found[102])) < len(found[101]) / 2


def test_again_just_after_the_pack_was_heard_but_not_within_half_a_second() -> None:
    made = sender()
    made.due([one()], NOW)
    assert made.due([one(sequence=41)], NOW + HEARD_GAP_NS - 1) == ([], [])
    sends, _ = made.due([one(sequence=41)], NOW + HEARD_GAP_NS)
    packet = decode(sends[0].frame)
    assert isinstance(packet, Order)
    assert packet.sequence == 41
    assert made.due([one(sequence=41)], NOW + 2 * HEARD_GAP_NS - 1) == ([], [])


def test_once_received_hearing_the_pack_sends_nothing() -> None:
    made = sender()
    made.due([one()], NOW)
    found = [
        n
        for n in range(1, 100)
        if made.due([one(received=True, sequence=40 + n)], NOW + n * BEAT)[1]
    ]
    assert found == [], "5 s after the receipt at the earliest"


def test_another_number_or_kind_goes_at_once() -> None:
    made = sender()
    made.due([one()], NOW)
    assert len(made.due([one(number=7)], NOW + 1)[1]) == 1
    assert len(made.due([one(number=7, what=OrderKind.TEST)], NOW + 2)[1]) == 1


def test_after_a_break_everything_is_due_under_the_same_number() -> None:
    made = sender()
    made.due([one()], NOW)
    assert sender().due([one()], NOW + 1)[1] == [(1, 101, 6)]
    made.due([], NOW + 2)
    assert made.due([one()], NOW + 3)[1] == [(1, 101, 6)]


def test_to_every_address_heard_within_a_minute_and_only_the_packs_own() -> None:
    beacons = BeaconSender(7, 1, None, Random(1))
    beacons.heard_at(101, 2, ADDRESS, NOW)
    beacons.heard_at(101, 2, ("192.0.2.8", 5001), NOW - 61 * S)
    beacons.heard_at(102, 2, ("192.0.2.9", 5002), NOW)
    made = OrderSender(beacons)
    sends, sent = made.due([one()], NOW)
    assert [(send.link, send.address) for send in sends] == [(2, ADDRESS)]
    assert len(sent) == 1


def test_a_pack_with_no_way_to_it_costs_nothing_and_is_sent_to_once_there_is_one() -> None:
    beacons = BeaconSender(7, 1, None, Random(1))
    made = OrderSender(beacons)
    assert made.due([one()], NOW) == ([], [])
    beacons.heard_at(101, 2, ADDRESS, NOW + S)
    assert len(made.due([one()], NOW + S)[0]) == 1


def test_a_way_that_has_gone_takes_no_repeats() -> None:
    beacons = BeaconSender(7, 1, None, Random(1))
    beacons.set_wire(1, up=True)
    made = OrderSender(beacons)
    made.due([one()], NOW)
    beacons.set_wire(1, up=False)
    assert made.due([one()], NOW + 4 * S) == ([], [])


def test_keyed_with_the_packs_own_key_of_its_epoch() -> None:
    keyring = Keyring({3: bytes(range(32)), 4: bytes(32)}, "exercise", 4)
    sends, _ = sender(keyring).due([one(epoch=3, keyed=True)], NOW)
    packet = receive_down(sends[0].frame, 101, keyring.pack_keys(101, 3))
    assert isinstance(packet, Order)
    assert packet.order == 6


@pytest.mark.parametrize("keyring", [None, Keyring({4: bytes(32)}, "exercise", 4)])
def test_a_pack_whose_key_is_not_held_gets_nothing(keyring: Keyring | None) -> None:
    assert sender(keyring).due([one(epoch=3, keyed=True)], NOW) == ([], [])


# ---------------------------------------------------------------- bounds


def test_more_than_a_line_can_take_go_in_several_batches_each_once() -> None:
    made = sender()
    many = [one(pack) for pack in range(1, 101)]
    found: list[int] = []
    batches = 0
    while made.more or not batches:
        sent = made.due(many, NOW + batches * 20 * MS)[1]
        assert len(sent) <= COPIES_A_BATCH_MAX
        found += [s.pack for s in sent]
        batches += 1
    assert sorted(found) == list(range(1, 101))
    assert batches == 4, "100 / 32, rounded up"


def test_repeats_keep_to_their_budget_and_leave_nobody_out() -> None:
    """200 packs that never answer want 100 repeats a second; they get 25, in turn."""
    many = [one(pack) for pack in range(1, 201)]
    found = times(sender(), many, 60 * S)
    repeats = sum(len(at) - 1 for at in found.values())
    assert 0.95 * 60 * REPEATS_A_SECOND < repeats <= 61 * REPEATS_A_SECOND
    counts = [len(at) for at in found.values()]
    assert max(counts) - min(counts) <= 2


def test_those_that_have_not_received_go_before_those_that_have() -> None:
    waiting = [one(pack, received=pack > 100) for pack in range(1, 201)]
    found = times(sender(), waiting, 60 * S)
    told = sum(len(found[pack]) for pack in range(1, 101))
    asked = sum(len(found[pack]) for pack in range(101, 201))
    assert told > 10 * asked
