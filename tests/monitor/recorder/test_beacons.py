"""When and to whom: every 5 s, at most four addresses a pack, heard within the last 60 s."""

from random import Random
from typing import Any

import pytest

from monitor.recorder.beacons import PACKS_MAX, BeaconSender
from protocol.codec import decode, receive_down
from protocol.integrity import Keyring
from protocol.packets import Beacon

S = 1_000_000_000
NOW = 1_000 * S
ADDRESS = ("192.0.2.7", 5000)


@pytest.fixture
def sender() -> BeaconSender:
    return BeaconSender(7, 5, None, Random(1))


def values(sends: list[Any]) -> list[int]:
    packets = [decode(send.frame) for send in sends]
    return [packet.value for packet in packets if isinstance(packet, Beacon)]


def test_nobody_heard_nobody_sent_to(sender: BeaconSender) -> None:
    assert sender.due(NOW) == []


def test_an_address_just_heard_gets_the_beacon_of_the_moment(sender: BeaconSender) -> None:
    sender.due(NOW)
    sender.heard_at(101, 1, ADDRESS, NOW + 1 * S)
    (send,) = sender.due(NOW + 1 * S)
    assert (send.link, send.address) == (1, ADDRESS)
    beacon = decode(send.frame)
    assert isinstance(beacon, Beacon)
    assert (beacon.base, beacon.boot, beacon.sequence, beacon.keyed) == (7, 5, 1, False)
    assert sender.recent.recent(beacon.value, NOW + 1 * S)
    assert sender.due(NOW + 2 * S) == []


def test_a_new_value_goes_out_every_five_seconds(sender: BeaconSender) -> None:
    sender.heard_at(101, 1, ADDRESS, NOW)
    (first,) = values(sender.due(NOW))
    assert sender.due(NOW + 5 * S - 1) == []
    (second,) = values(sender.due(NOW + 5 * S))
    assert first != second


def test_an_address_is_forgotten_after_a_minute(sender: BeaconSender) -> None:
    sender.heard_at(101, 1, ADDRESS, NOW)
    assert len(sender.due(NOW + 60 * S)) == 1
    assert sender.due(NOW + 66 * S) == []


def test_a_pack_has_four_addresses_at_most_the_newest(sender: BeaconSender) -> None:
    for port in range(6):
        sender.heard_at(101, 1, ("192.0.2.7", port), NOW + port)
    sends = sender.due(NOW + 5 * S)
    assert sorted(send.address[1] for send in sends if send.address) == [2, 3, 4, 5]


def test_made_up_identities_do_not_fill_the_memory(sender: BeaconSender) -> None:
    for identity in range(1, PACKS_MAX + 3):
        sender.heard_at(identity, 1, ("192.0.2.7", identity % 50_000), NOW)
    assert len(sender._at) == PACKS_MAX
    assert 2 not in sender._at


def test_packs_behind_one_gateway_get_one_beacon(sender: BeaconSender) -> None:
    for identity in range(1, 51):
        sender.heard_at(identity, 1, ADDRESS, NOW)
    assert len(sender.due(NOW)) == 1


def test_a_wire_gets_each_beacon_as_long_as_it_is_up(sender: BeaconSender) -> None:
    sender.due(NOW)
    sender.set_wire(2, up=True)
    assert [(s.link, s.address) for s in sender.due(NOW + 1 * S)] == [(2, None)]
    sender.heard_at(101, 2, None, NOW)
    assert [(s.link, s.address) for s in sender.due(NOW + 5 * S)] == [(2, None)]
    sender.set_wire(2, up=False)
    assert sender.due(NOW + 10 * S) == []


def test_a_beacon_goes_out_in_each_key_epoch_held() -> None:
    keyring = Keyring({1: bytes(32), 2: bytes(range(32))}, "exercise", 2)
    sender = BeaconSender(7, 5, keyring, Random(1))
    sender.heard_at(101, 1, ADDRESS, NOW)
    sends = sender.due(NOW)
    for epoch, send in zip((1, 2), sends, strict=True):
        beacon = receive_down(send.frame, 101, keyring.pack_keys(101, epoch))
        assert isinstance(beacon, Beacon)
        assert beacon.epoch == epoch
    assert len(set(values(sends))) == 1


@pytest.mark.parametrize("address", [ADDRESS, None])
def test_a_pack_that_began_anew_gets_the_beacon_of_the_moment(
    sender: BeaconSender, address: tuple[str, int] | None
) -> None:
    sender.heard_at(101, 1, ADDRESS, NOW)
    sender.due(NOW)
    sender.heard_at(101, 1, address, NOW + 1 * S)
    assert sender.due(NOW + 1 * S) == []
    sender.heard_at(101, 1, address, NOW + 2 * S, began=True)
    (send,) = sender.due(NOW + 2 * S)
    assert (send.link, send.address) == (1, address)


def test_made_up_packs_take_no_place_of_one_on_the_board(sender: BeaconSender) -> None:
    """At an open base: 5,000 packs that nobody has, each from a port of its own, came before."""
    for port in range(5_000):
        sender.heard_at(1_000 + port, 1, ("198.51.100.9", port), NOW)
    sender.heard_at(101, 1, ADDRESS, NOW)
    sender.heard_at(101, 2, ("192.0.2.8", 5000), NOW)
    found = sender.sources(1, frozenset({101, 102}), 2_000)
    assert (len(found), ADDRESS in found) == (2_000, True)
    assert sender.sources(2, frozenset(), 2_000) == {("192.0.2.8", 5000)}
