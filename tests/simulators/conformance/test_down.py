"""What is sent is read by the codec that a pack would use: right where it is right."""

from random import Random

import pytest

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import Beacon, Order, OrderKind
from protocol.rejects import Reject
from simulators.conformance.down import RIGHT, Base, Spoil, Whose, tag_byte
from simulators.conformance.questions import BEACONS, FORMS, REFUSED

WHOSE = Whose(101, 7, 300, 1)
OPEN = Whose(101, 7, 300, 0)


@pytest.fixture
def keyed(keyring: Keyring) -> Base:
    return Base(keyring, Random(1))


def test_a_right_order_is_one(keyed: Base, keyring: Keyring) -> None:
    keys = keyring.pack_keys(101, 1)
    packet = codec.receive_down(keyed.order(WHOSE, 5, OrderKind.COME_OUT), 101, keys)
    assert packet == Order(101, 7, 300, 1, True, keyed.identity, 5, OrderKind.COME_OUT)
    assert isinstance(codec.receive_down(keyed.beacon(WHOSE, 9), 101, keys), Beacon)
    base = Base(None, Random(1))
    assert isinstance(codec.receive_down(base.order(OPEN, 5), 101, None), Order)
    assert isinstance(codec.receive_down(base.beacon(OPEN, 5), 101, None), Beacon)


FRESHNESS = {"other boot", "ahead", "passed"}
"""Only a pack that remembers can refuse these."""
WANT = {
    "forged": {"TAG"}, "other key": {"TAG"}, "open": {"NOT_KEYED", "KEYED_UNREADABLE"},
    "epoch": {"EPOCH_UNKNOWN", "EPOCH"}, "noise": {"CHECKSUM"}, "version down": {"VERSION"},
    "flags down": {"FLAGS"}, "kind down": {"KIND", "DIRECTION"},
    "length down": {"LENGTH", "EXTRAS", "LONG"}, "values down": {"ORDER_KIND", "BASE"},
    "other pack": {"OTHER_PACK"},
}  # fmt: skip


@pytest.mark.parametrize("has_keys", [True, False])
def test_each_wrong_order_is_wrong_in_that_alone(keyring: Keyring, has_keys: bool) -> None:
    base = Base(keyring if has_keys else None, Random(1))
    keys = keyring.pack_keys(101, 1) if has_keys else None
    whose = WHOSE if has_keys else OPEN
    for question in REFUSED:
        if question.keyed not in (None, has_keys):
            continue
        frame = base.order(question.named(whose), 9, question.what, question.spoil)
        got = codec.receive_down(frame, 101, keys)
        if question.rule in FRESHNESS:
            assert isinstance(got, Order), question
        else:
            assert isinstance(got, Reject), question
            assert got.name in WANT[question.rule], (question, got)


@pytest.mark.parametrize("has_keys", [True, False])
def test_every_odd_form_of_an_order_is_right(keyring: Keyring, has_keys: bool) -> None:
    base = Base(keyring if has_keys else None, Random(1))
    keys = keyring.pack_keys(101, 1) if has_keys else None
    whose = WHOSE if has_keys else OPEN
    sizes = set()
    for question in FORMS:
        if question.keyed in (None, has_keys):
            frame = base.order(whose, 9, question.what, question.spoil)
            assert isinstance(codec.receive_down(frame, 101, keys), Order), question
            sizes.add(len(frame))
    assert max(sizes) == 240


@pytest.mark.parametrize("has_keys", [True, False])
def test_beacons_are_right_and_wrong_as_they_are_said_to_be(
    keyring: Keyring, has_keys: bool
) -> None:
    base = Base(keyring if has_keys else None, Random(1))
    keys = keyring.pack_keys(101, 1) if has_keys else None
    whose = WHOSE if has_keys else OPEN
    for question in BEACONS:
        if question.keyed not in (None, has_keys):
            continue
        assert question.beacon is not None
        got = codec.receive_down(base.beacon(whose, 77, question.beacon), 101, keys)
        assert isinstance(got, Beacon if question.expect == "obeyed" else Reject), question


def test_a_wrong_tag_still_has_a_right_checksum(keyed: Base) -> None:
    for at in range(8):
        frame, right = keyed.order(WHOSE, 5, spoil=tag_byte(at)), keyed.order(WHOSE, 5)
        differ = (n for n, (a, b) in enumerate(zip(frame, right, strict=True)) if a != b)
        assert next(differ) == 23 + at
        assert not isinstance(codec.decode(frame), Reject)
    assert keyed.order(WHOSE, 5, spoil=Spoil(checksum=1))[-1] == keyed.order(WHOSE, 5)[-1] ^ 1
    assert Spoil() == RIGHT
