"""A cell that a spreadsheet would take for a formula.

OWASP, "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection): cells that begin with
equals, plus, minus, at, tab (0x09), carriage return (0x0D) or line feed (0x0A), and the full-width
forms of the signs; the remedy is a single quote in front.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.csv_cells import harmless, plain

BEGINNINGS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@pytest.mark.parametrize("sign", BEGINNINGS)
def test_each_beginning_that_owasp_names(sign: str) -> None:
    text = f"{sign}HYPERLINK(1)"
    assert harmless(text) == f"'{text}"
    assert plain(harmless(text)) == text


@pytest.mark.parametrize("text", ["", "R. Harrow", "'Abbas", "''x", "a=b", "2-1", "4 bar", "é"])
def test_what_is_no_formula_stays(text: str) -> None:
    assert harmless(text) == text
    assert plain(text) == text


@given(st.text(alphabet="'=+-@\t\r\n a1\x00\x85\uff1d") | st.text())
def test_every_text_comes_back(text: str) -> None:
    cell = harmless(text)
    assert not cell.lstrip().startswith(BEGINNINGS)
    assert plain(cell) == text
