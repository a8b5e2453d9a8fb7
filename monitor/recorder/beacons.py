"""Which beacons a base sends, when, and to whom.

A beacon carries a random value; a pack that sends it back is alive now and no recording. Wires
get each beacon whether or not anybody answers. Over UDP only addresses from which a genuine, new
frame came within the last minute get one, at most four a pack: a base cannot be made to shout at
strangers. An address just heard gets the beacon of the moment at once, so that its pack is proven
within its next report.
"""

from collections.abc import Collection, Sequence
from itertools import chain
from typing import TYPE_CHECKING

from monitor.recorder.batch import Send
from protocol.codec import encode
from protocol.freshness import BEACON_INTERVAL_NS, Beacons
from protocol.integrity import Keyring
from protocol.packets import Beacon

if TYPE_CHECKING:
    # For its type alone: the generator is handed in, seeded by a test or secret in earnest.
    from random import Random

    from monitor.links.chunk import Address

ADDRESS_NS_MAX = 60_000_000_000
"""An address from which nothing genuine came for so long gets no more beacons."""
ADDRESSES_MAX = 4
"""A pack's way to the base may change; more at once would be somebody multiplying our frames."""

PACKS_MAX = 16_384
"""Packs whose addresses are remembered. At an open base anybody can make up identities."""

Place = tuple[int, "Address | None"]


class BeaconSender:
    """One session of one base."""

    __slots__ = (
        "_at", "_boot", "_expected", "_fresh", "_keyring", "_keys", "_last_ns", "_now", "_sequence",
        "_wires", "base", "random", "recent",
    )  # fmt: skip

    def __init__(self, base: int, boot: int, keyring: Keyring | None, random: "Random") -> None:
        """``boot`` must be higher than in any earlier session of this base."""
        self.recent = Beacons()
        """The values sent lately; what an answer is compared with."""
        self.base = base
        self.random = random
        self._boot = boot
        self._keyring: Keyring | None = None
        self._keys: Sequence[tuple[int, bytes | None]] = ((0, None),)
        self._sequence = 0
        self._last_ns: int | None = None
        self._now: list[bytes] = []
        self._at: dict[int, dict[Place, int]] = {}
        self._fresh: set[Place] = set()
        self._expected: set[Place] = set()
        """From where something new came."""
        self._wires: set[int] = set()
        if keyring is not None:
            self.take_keys(keyring)

    def take_keys(self, keyring: Keyring) -> None:
        """Send with these keys from now on, and at once."""
        self._keyring = keyring
        self._keys = [(epoch, keyring.broadcast_key(epoch)) for epoch in keyring.epochs]
        self._last_ns = None

    def set_wire(self, link: int, *, up: bool) -> None:
        """A line opened or went: beacons go to whoever listens on it."""
        if up:
            self._wires.add(link)
            self._fresh.add((link, None))
        else:
            self._wires.discard(link)
            self._fresh.discard((link, None))

    def heard_at(
        self,
        identity: int,
        link: int,
        address: "Address | None",
        now_ns: int,
        *,
        began: bool = False,
        new: bool = True,
    ) -> None:
        """Note that a genuine frame of a pack came from there.

        ``began``: the first of its boot. Nothing proves it live yet, so it gets the beacon at once.
        ``new``: not one whose numbers went back, which anybody can have recorded.
        """
        if began:
            self._fresh.add((link, address))
        if address is None:
            return
        place = (link, address)
        if new:
            self._expected.add(place)
        places = self._at.get(identity)
        if places is None:
            if len(self._at) >= PACKS_MAX:
                del self._at[next(iter(self._at))]
            self._at[identity] = {place: now_ns}
            self._fresh.add(place)
            return
        if place not in places:
            self._fresh.add(place)
            if len(places) >= ADDRESSES_MAX:
                del places[min(places, key=places.__getitem__)]
        places[place] = now_ns

    def places_of(self, identity: int, now_ns: int) -> list[Place]:
        """Where one pack listens: every wire, and the addresses it was heard from lately."""
        oldest = now_ns - ADDRESS_NS_MAX
        heard = [at for at, last in self._at.get(identity, {}).items() if last >= oldest]
        return [(link, None) for link in sorted(self._wires)] + heard

    def sources(self, link: int, first: Collection[int], most: int) -> set["Address"]:
        """From where genuine, new frames have come by this link within the last minute.

        Those of the packs ``first`` before others, ``most`` in all: at an open base anybody can
        make up packs at any number of addresses.
        """
        at = self._at
        ordered = chain((at[one] for one in first if one in at), at.values())
        found: set[Address] = set()
        for by, address in chain.from_iterable(ordered):
            if by == link and address is not None and (by, address) in self._expected:
                found.add(address)
                if len(found) >= most:
                    break
        return found

    def pack_key(self, identity: int, epoch: int) -> bytes | None:
        """The key of orders to one pack; None if this base does not hold that epoch."""
        keyring = self._keyring
        if keyring is None or not keyring.holds(epoch):
            return None
        return keyring.pack_key(identity, epoch, up=False)

    def due(self, now_ns: int) -> list[Send]:
        """Give the frames to send now: to all every 5 s, to new addresses at once."""
        if self._last_ns is None or now_ns - self._last_ns >= BEACON_INTERVAL_NS:
            self._make(now_ns)
            places = self._listening(now_ns)
        else:
            places = sorted(self._fresh, key=repr)
        self._fresh.clear()
        return [Send(link, address, frame) for link, address in places for frame in self._now]

    def _make(self, now_ns: int) -> None:
        """One value; a frame of it for each fleet key held, since packs change over by and by."""
        value = self.recent.next_value(self.random)
        self.recent.sent(value, now_ns)
        self._sequence += 1
        self._last_ns = now_ns
        self._now = [
            encode(
                Beacon(self.base, self._boot, self._sequence, epoch, key is not None, value), key
            )
            for epoch, key in self._keys
        ]

    def _listening(self, now_ns: int) -> list[Place]:
        oldest = now_ns - ADDRESS_NS_MAX
        for identity, places in list(self._at.items()):
            kept = {place: last for place, last in places.items() if last >= oldest}
            if kept:
                self._at[identity] = kept
            else:
                del self._at[identity]
        heard = {place: None for places in self._at.values() for place in places}
        self._expected.intersection_update(heard)
        return [(link, None) for link in sorted(self._wires)] + list(heard)
