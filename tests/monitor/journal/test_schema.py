"""The numbers that stand in files for ever."""

import pytest
from pydantic import ValidationError

from monitor.incident.rows import RowKind, Standing
from monitor.journal import schema
from monitor.journal.schema import Header

HEADER = {
    "fold": "1",
    "software": "outby test",
    "incident": "0" * 32,
    "use": "real",
    "opened_wall_ns": "12",
}


def test_the_mark_is_readable_in_the_file() -> None:
    assert schema.APPLICATION_ID.to_bytes(4, "big") == b"OutB"


def test_kind_and_standing_share_a_number_and_come_apart_again() -> None:
    both = {kind + 16 * standing: (kind, standing) for kind in RowKind for standing in Standing}
    assert len(both) == len(RowKind) * len(Standing)
    for number, (kind, standing) in both.items():
        assert (schema.KIND_OF[number], schema.STANDING_OF[number]) == (kind, standing)
    assert set(schema.KIND_OF) == set(schema.STANDING_OF) == set(both)
    # A live frame is 1, which SQLite stores in no byte beyond its type.
    assert schema.KIND_OF[1] is RowKind.FRAME
    assert schema.STANDING_OF[1] is Standing.LIVE


def test_a_header_is_read_from_its_texts() -> None:
    header = Header.model_validate({**HEADER, "later": "key of another version"})
    assert (header.fold, header.opened_wall_ns, header.digest) == (1, 12, "open")


@pytest.mark.parametrize("missing", sorted(HEADER))
def test_a_header_without_a_field_is_refused(missing: str) -> None:
    with pytest.raises(ValidationError, match=missing):
        Header.model_validate({k: v for k, v in HEADER.items() if k != missing})
