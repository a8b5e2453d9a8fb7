"""Which commits share a message, and when it goes."""

from monitor.incident.rows import RowKind
from monitor.journal.digest import NO_ROWS, Columns
from monitor.journal.schema import Batch
from monitor.journal.sealing import Sealed
from monitor.relay.bundling import BUNDLE_BYTES_MAX, BUNDLE_WAIT_NS, Bundle, is_urgent

BATCH = Batch(1, 1, 1, 0, 0, 0, b"")


def sealed(*kinds: int) -> Sealed:
    n = len(kinds)
    rows = Columns([0] * n, list(kinds), [0] * n, [0] * n, [None] * n, [b""] * n)
    return Sealed(BATCH, BATCH, rows if n else NO_ROWS)


def test_frames_wait_and_everything_else_does_not() -> None:
    assert not is_urgent(sealed())
    assert not is_urgent(sealed(RowKind.FRAME, RowKind.FRAME | 1 << 4))
    for kind in (RowKind.ACT, RowKind.FACT, RowKind.ANNOUNCED):
        assert is_urgent(sealed(RowKind.FRAME, kind))


def test_a_message_goes_after_its_time() -> None:
    bundle = Bundle()
    assert not bundle.is_due(0)
    bundle.add(7, b"x", 1_000, urgent=False)
    bundle.add(8, b"y", 2_000, urgent=False)
    assert not bundle.is_due(1_000 + BUNDLE_WAIT_NS - 1)
    assert bundle.is_due(1_000 + BUNDLE_WAIT_NS)
    assert (bundle.first, bundle.last, bundle.commits) == (7, 8, [b"x", b"y"])


def test_it_goes_at_once_with_what_is_urgent_or_when_it_is_full() -> None:
    bundle = Bundle()
    bundle.add(7, b"x", 0, urgent=False)
    bundle.add(8, b"y", 0, urgent=True)
    assert bundle.is_due(0)
    bundle = Bundle()
    bundle.add(1, bytes(BUNDLE_BYTES_MAX - 1), 0, urgent=False)
    assert not bundle.full
    bundle.add(2, b"x", 0, urgent=False)
    assert bundle.full
    assert bundle.is_due(0)
