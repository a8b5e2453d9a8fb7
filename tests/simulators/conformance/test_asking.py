"""What a base asks and how it judges the answers, over a link that is not perfect."""

from collections import Counter

import pytest

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import Beacon, Kind, Order
from protocol.rejects import Reject
from simulators.pack import Outgoing
from tests.simulators.conformance.wearing import IDENTITY, Case, Unit, tried


def test_what_goes_out_to_a_pack(keyring: Keyring) -> None:
    keys = keyring.pack_keys(IDENTITY, 1)
    verdicts: Counter[str] = Counter()
    numbers: list[int] = []

    def listened(_unit: Unit, _t: int, frame: bytes) -> list[bytes]:
        got = codec.receive_down(frame, IDENTITY, keys)
        verdicts[got.name if isinstance(got, Reject) else type(got).__name__] += 1
        if isinstance(got, Order):
            numbers.append(got.order)
        return [frame]

    found = tried(Case(heard=listened), keyring)
    assert found.named("failed") == set()
    assert set(verdicts) == {
        "Order", "Beacon", "CHECKSUM", "VERSION", "KIND", "DIRECTION", "FLAGS", "LONG", "LENGTH",
        "EXTRAS", "OTHER_PACK", "NOT_KEYED", "EPOCH", "EPOCH_UNKNOWN", "TAG", "ORDER_KIND", "BASE",
        "BEACON", "IDENTITY",
    }  # fmt: skip
    # One each 5 s, and those on trial.
    assert found.took_s / 5 - 8 < verdicts[Beacon.__name__] < found.took_s / 5 + 10
    assert max(numbers) == 65535
    # After the restart they begin anew.
    assert numbers[-1] < 10


def lost(which: int, kind: Kind) -> tuple[Counter[str], object]:
    count: Counter[str] = Counter()

    def heard(_unit: Unit, _t: int, frame: bytes) -> list[bytes]:
        if frame[1] != kind:
            return [frame]
        count["all"] += 1
        return [] if count["all"] == which else [frame]

    return count, heard


@pytest.mark.parametrize("which", [1, 2, 5, 70, 100, 180])
@pytest.mark.parametrize("kind", [Kind.ORDER, Kind.BEACON])
def test_one_that_is_lost_is_no_fault_of_the_pack(keyring: Keyring, which: int, kind: Kind) -> None:
    _, heard = lost(which, kind)
    assert tried(Case(heard=heard), keyring).told() == {}  # type: ignore[arg-type]


@pytest.mark.parametrize("which", [1, 2, 5, 40, 90])
def test_a_receipt_that_is_lost_is_no_fault_of_the_pack(keyring: Keyring, which: int) -> None:
    count: Counter[str] = Counter()

    def sent(_unit: Unit, t: int, out: Outgoing) -> list[tuple[int, bytes]]:
        if out.kind is Kind.RECEIPT:
            count["all"] += 1
            if count["all"] == which:
                return []
        return [(t, out.frame)]

    assert tried(Case(sent=sent), keyring).told() == {}
