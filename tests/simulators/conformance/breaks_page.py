"""Writes BREAKS.md: every break with the rows that notice it, and how many each row notices.

.venv/bin/python -m tests.simulators.conformance.breaks_page
"""

from collections import Counter
from pathlib import Path

from protocol.integrity import Keyring
from simulators.conformance.rules import RULES
from tests.simulators.conformance.conforming import CONFORMING
from tests.simulators.conformance.table import BREAKS
from tests.simulators.conformance.unseen import UNSEEN
from tests.simulators.conformance.wearing import tried

PAGE = Path(__file__).parent / "BREAKS.md"


def listed() -> dict[str, str]:
    """Which rows the page says of each break, with a comma between."""
    found = {}
    for line in PAGE.read_text("utf-8").split("## Breaks\n")[1].splitlines():
        if line.startswith("| ") and not line.startswith("| break "):
            name, rows = (cell.strip() for cell in line.strip("|").split("|"))
            found[name] = rows
    return found


def written(rows_of: dict[str, str]) -> str:
    """The page."""
    named = {name: rows.split(", ") for name, rows in rows_of.items()}
    count = Counter(row for rows in named.values() for row in rows)
    alone = Counter(rows[0] for rows in named.values() if len(rows) == 1)
    lines = [
        "# What the conformance kit notices",
        "",
        f"{len(rows_of)} breaks, each a small change of a virtual pack, in virtual time, one seed;",
        f"all are noticed. {len(CONFORMING)} conforming packs, people and links fail no row.",
        "",
        "## Rows",
        "",
        "| row | notices | of those, alone |",
        "|---|---|---|",
        *(f"| {row} | {count[row]} | {alone[row]} |" for row in RULES),
        "",
        "## Not to be seen from outside",
        "",
        *(f"- {name}" for name in UNSEEN),
        "",
        "## Breaks",
        "",
        "| break | rows that notice it |",
        "|---|---|",
        *(f"| {name} | {rows} |" for name, rows in rows_of.items()),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    keyring = Keyring({1: bytes(range(32)), 2: bytes(range(32, 64))}, "exercise", 1)
    noticed = {
        row.name: ", ".join(sorted(tried(row.case, keyring).named("failed"))) for row in BREAKS
    }
    PAGE.write_text(written(noticed), "utf-8")
