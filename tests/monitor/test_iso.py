"""ISO 8601, from Python's own reader of it and from an instant that is known."""

from datetime import UTC, datetime

import pytest

from monitor.iso import iso_ns, iso_s

BILLENNIUM = 1_000_000_000_000_000_000
"""A thousand million seconds after 1970 began: 2001-09-09 01:46:40 UTC."""


def test_an_instant_that_is_known() -> None:
    assert iso_s(BILLENNIUM) == "2001-09-09T01:46:40Z"
    assert iso_ns(BILLENNIUM) == "2001-09-09T01:46:40.000000000Z"


@pytest.mark.parametrize("more", [0, 1, 999_999_999, 1_000_000_001, 86_400_000_000_001])
def test_every_nanosecond_is_there(more: int) -> None:
    text = iso_ns(BILLENNIUM + more)
    whole, _, part = text.removesuffix("Z").partition(".")
    read = datetime.fromisoformat(whole).replace(tzinfo=UTC)
    assert int(read.timestamp()) * 1_000_000_000 + int(part) == BILLENNIUM + more
    assert iso_s(BILLENNIUM + more) == whole + "Z"
