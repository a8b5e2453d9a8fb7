"""Limits are this program's own: one row a second and link, eight samples."""

from monitor.recorder.refusals import SAMPLE_BYTES_MAX, SAMPLES_MAX, Refusals
from protocol.rejects import Reject

S = 1_000_000_000


def test_nothing_refused_is_no_row() -> None:
    assert Refusals().due(0) == []


def test_a_second_passes_between_two_rows_of_a_link() -> None:
    refusals = Refusals()
    refusals.count(1, Reject.CHECKSUM, b"\x01\x02")
    (first,) = refusals.due(5 * S)
    assert (first.link, first.counts, first.samples) == (1, {"CHECKSUM": 1}, ("0102",))
    refusals.count(1, Reject.TAG, b"\x03")
    refusals.count(1, Reject.CHECKSUM, b"\x04")
    assert refusals.due(6 * S - 1) == []
    (second,) = refusals.due(6 * S)
    assert second.counts == {"TAG": 1, "CHECKSUM": 1}
    assert second.samples == ("03", "04")
    assert refusals.due(60 * S) == []


def test_links_are_counted_apart() -> None:
    refusals = Refusals()
    refusals.count(2, Reject.SHORT, b"")
    refusals.count(1, Reject.LONG, b"")
    assert [(r.link, r.counts) for r in refusals.due(0)] == [(1, {"LONG": 1}), (2, {"SHORT": 1})]


def test_a_flood_is_counted_whole_and_kept_in_samples() -> None:
    refusals = Refusals()
    for _ in range(10_000):
        refusals.count(1, Reject.TAG, bytes(200))
    (row,) = refusals.due(0)
    assert row.counts == {"TAG": 10_000}
    assert len(row.samples) == SAMPLES_MAX == 8
    assert all(len(sample) == 2 * SAMPLE_BYTES_MAX for sample in row.samples)


def test_copies_are_sent_on_purpose_and_not_counted() -> None:
    refusals = Refusals()
    refusals.count(1, Reject.COPY, b"\x01")
    assert refusals.due(0) == []
