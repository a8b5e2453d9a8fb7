import pytest

from protocol import fields
from protocol.fields import FIELDS_BY_KIND, FIXED_BYTES, Field, layout
from protocol.packets import Kind
from protocol.rejects import Reject


@pytest.mark.parametrize("kind", Kind)
def test_fields_touch_and_fill_the_fixed_part(kind: Kind) -> None:
    end = 0
    for field in FIELDS_BY_KIND[kind]:
        assert field.offset == end
        end += field.size
    assert end == FIXED_BYTES[kind]


def test_a_hole_between_fields_is_refused() -> None:
    with pytest.raises(AssertionError, match="late"):
        layout((Field("early", 0, "B", "", 0, 1), Field("late", 2, "B", "", 0, 1)))


@pytest.mark.parametrize("kind", Kind)
def test_unknown_lies_outside_the_range_and_inside_the_type(kind: Kind) -> None:
    # Lowest and highest of the types: 2^8 - 1, 2^16 - 1, 2^32 - 1, and two's complement.
    spans = {"B": (0, 255), "H": (0, 65535), "I": (0, 4294967295), "b": (-128, 127)}
    for field in FIELDS_BY_KIND[kind]:
        low, high = spans[field.code]
        assert low <= field.low <= field.high <= high
        if field.unknown is not None:
            assert low <= field.unknown <= high
            assert not field.low <= field.unknown <= field.high
        assert (field.reject is None) <= ((field.low, field.high) == (low, high))


def test_sizes_the_radio_was_planned_with() -> None:
    # 16 header + 18 report + 8 tag + 2 checksum; the radio plan allows 48.
    assert fields.REPORT_BYTES + fields.TAG_BYTES + fields.CHECKSUM_BYTES == 46
    assert fields.STATUS_BYTES_MAX == 48
    # COBS spends one byte on up to 254.
    assert fields.FRAME_BYTES_MAX == 254
    assert fields.PACK_FRAME_BYTES_MAX + fields.ENVELOPE_BYTES == fields.FRAME_BYTES_MAX


def test_no_reason_stands_for_two_fields_of_a_kind() -> None:
    for kind in Kind:
        reasons = [field.reject for field in FIELDS_BY_KIND[kind] if field.reject]
        assert len(set(reasons)) == len(reasons)
        assert all(isinstance(reason, Reject) for reason in reasons)
