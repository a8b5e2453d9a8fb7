"""Cells of a table that spreadsheets open: a text never becomes a formula. Pure.

Spreadsheets take a cell that begins with ``=``, ``+``, ``-``, ``@`` or a control character for a
formula, which can run programs or send what stands beside it elsewhere. As OWASP advises ("CSV
Injection", owasp.org/www-community/attacks/CSV_Injection), such a text gets an apostrophe in front.
What reads it here takes it away again: ``plain(harmless(text)) == text`` for every text.

Numbers are no text: they stay as they are, and so does a sign in front of one.
"""

import re

_FORMULA = re.compile(r"'*\s*[=+\-@\x00-\x1f\x7f-\x9f\uff1d\uff0b\uff0d\uff20]")
"""The last four are the same signs in full width, which some spreadsheets take for them. Blanks in
front are passed over by some; apostrophes, so that one of the text's own is told from ours."""
APOSTROPHE = "'"


def harmless(text: str) -> str:
    """The text as a cell that no spreadsheet reckons with."""
    return APOSTROPHE + text if _FORMULA.match(text) else text


def plain(cell: str) -> str:
    """What ``harmless`` made the cell of."""
    if cell.startswith(APOSTROPHE) and _FORMULA.match(cell):
        return cell[1:]
    return cell
