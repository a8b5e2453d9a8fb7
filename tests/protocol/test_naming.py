"""Words are those of the format's page."""

from enum import IntEnum
from pathlib import Path

import pytest

from protocol.naming import words
from protocol.packets import Apparatus, CheckResult, Kind, Motion, OrderKind, ReceiptKind

PAGE = Path(__file__).parents[2] / "protocol" / "PACKET-FORMAT.md"


@pytest.mark.parametrize("kind", [Apparatus, CheckResult, Motion, OrderKind, ReceiptKind])
def test_each_value_is_called_as_the_page_calls_it(kind: type[IntEnum]) -> None:
    """The page lists them as ``0 unknown, 1 moving``."""
    text = " ".join(PAGE.read_text("utf-8").split())
    assert [m.name for m in kind if f"{int(m)} {words(m)}" not in text] == []


def test_each_kind_is_a_row_of_the_first_table() -> None:
    text = PAGE.read_text("utf-8")
    assert [m.name for m in Kind if f"| {words(m)} | {int(m)} |" not in text] == []
