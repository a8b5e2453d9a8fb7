"""Keys that were lost and are there again: picked up while recording goes on.

What was let through without them proves nothing and is forgotten; packs are judged anew from what
the base remembers of them. The running digest goes on with the key from the next start on: within a
session it is made in one way.
"""

from collections.abc import Callable
from dataclasses import dataclass

from monitor.incident.events import Setup
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.intake import Intake
from monitor.recorder.memory import Packs
from monitor.recorder.taking_up import Keys
from protocol.integrity import Keyring


@dataclass(frozen=True, slots=True)
class KeysBack:
    """Of one recorder that had to begin without its keys."""

    look: Callable[[], Keys]
    """Looks for them again, in any thread: the disk may hang. They have a fault while they are
    lost."""
    intake: Intake
    beacons: BeaconSender
    remembered: Packs
    setup: Setup
    """As it was recorded last."""

    def take(self, keys: Keys) -> Setup:
        """Go on with them, on the loop; give the fact to be recorded."""
        keyring = keys.keyring
        assert isinstance(keyring, Keyring), "found"
        assert not keys.fault, "found"
        self.intake.take_keys(keyring, self.remembered)
        self.beacons.take_keys(keyring)
        return self.setup.model_copy(update={"key": keys.file, "key_fault": ""})
