"""Keys that were lost and are back: what anybody may have sent counts no more."""

from typing import Any

import pytest

from monitor.clock import Stamp
from monitor.incident.events import Setup
from monitor.incident.rows import Standing
from monitor.links.chunk import Chunk
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.keyless import LostKeys
from monitor.recorder.keys_back import KeysBack
from monitor.recorder.taking_up import Keys
from protocol.codec import decode
from protocol.integrity import Keyring
from protocol.packets import Beacon

S = 1_000_000_000
SETUP = Setup(links=("udp:41901",), key="/keys/fleet.key", key_fault="there is no such file")


class Base:
    """A base that began without its keys, and what a pack with the right key sends to it."""

    def __init__(self, make: Any) -> None:
        self.make, self.now = make, 1_000 * S
        self.lost = LostKeys("exercise")
        _, self.beacons = make.parts(None)
        self.beacons = BeaconSender(7, 1, None, self.beacons.random)
        self.intake = Intake(self.lost, self.beacons)
        self.beacons.set_wire(1, up=True)
        self.pack = make.pack(make.keyring())
        self.back = KeysBack(Keys, self.intake, self.beacons, {}, SETUP)

    def hears(self, frame: bytes) -> list[Standing]:
        chunk = Chunk(1, Stamp(self.now, self.now), ("192.0.2.7", 5000), frame)
        return [heard.standing for _, heard in self.intake.admit(chunk)]

    def says(self) -> bytes:
        self.now += S
        frame: bytes = self.pack.frame(self.now)
        return frame

    def beacon(self) -> Beacon:
        sent = decode(self.beacons.due(self.now)[0].frame)
        assert isinstance(sent, Beacon)
        return sent


@pytest.fixture
def base(make: Any) -> Base:
    return Base(make)


def found(make: Any) -> Keys:
    keyring: Keyring = make.keyring()
    return Keys(keyring, b"j" * 32, file="/keys/fleet.key")


def test_the_fact_says_that_they_are_there(base: Base, make: Any) -> None:
    assert base.back.take(found(make)) == SETUP.model_copy(update={"key_fault": ""})
    assert base.intake.proves


def test_a_forged_frame_of_before_shuts_no_pack_out(base: Base, make: Any) -> None:
    """Without keys a frame with a far number is taken; it must not make genuine ones old."""
    assert not base.intake.proves
    forger = make.pack(make.keyring())
    forger.sequence = 9_000
    assert base.hears(forger.frame(base.now)) == [Standing.NOT_PROVEN]
    assert base.hears(base.says()) == [Standing.OLD]
    base.back.take(found(make))
    assert base.hears(base.says()) == [Standing.NOT_PROVEN]
    base.pack.beacon = base.beacon().value
    assert base.hears(base.says()) == [Standing.LIVE]


def test_beacons_go_out_at_once_under_the_key(base: Base, make: Any) -> None:
    assert not base.beacon().keyed
    base.back.take(found(make))
    assert base.beacon().keyed
