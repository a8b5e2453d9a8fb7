"""What is sent is itself of the format: it is read back by the codec a pack would use."""

from collections import Counter

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import Beacon, Order
from protocol.rejects import Reject
from tests.simulators.conformance.conftest import IDENTITY, Try


def test_every_frame_but_the_spoilt_ones_would_be_taken(tried: Try, keyring: Keyring) -> None:
    keys = keyring.pack_keys(IDENTITY, 1)
    verdicts: Counter[str] = Counter()

    def listened(_t: int, frame: bytes) -> list[bytes]:
        got = codec.receive_down(frame, IDENTITY, keys)
        verdicts[got.name if isinstance(got, Reject) else type(got).__name__] += 1
        return [frame]

    found = tried({0: "answers 1", 85: "quit"}, 95, keyed=True, heard=listened)
    assert found.trial.asking.done
    # Orders: received twice, again, other boot, ahead, passed, late; an order and a beacon spoilt.
    assert verdicts[Order.__name__] == 7
    assert (verdicts["TAG"], verdicts["OTHER_PACK"]) == (2, 1)
    # One each 5 s, but for the moment in which a false one is on trial.
    assert 15 <= verdicts[Beacon.__name__] <= 19
    assert set(verdicts) == {"Order", "Beacon", "TAG", "OTHER_PACK"}


def test_an_order_that_is_lost_is_sent_again(tried: Try) -> None:
    lost = 0

    def losing_the_first(_t: int, frame: bytes) -> list[bytes]:
        nonlocal lost
        if isinstance(codec.decode(frame), Order) and lost == 0:
            lost += 1
            return []
        return [frame]

    found = tried({0: "answers 1", 20: "quit"}, heard=losing_the_first)
    assert found.named("failed") == set()
