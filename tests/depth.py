"""How deep the searches go: a few seeds each time, many more by ``make search``.

A search that finds something has its seed kept beside it for good, so that nothing found once
depends on how deep anybody looks.
"""

import os

DEPTH = max(1, int(os.environ.get("DEPTH", "1")))
"""So many times as much as in the gate is searched."""


def seeds(few: int, first: int = 0) -> range:
    """As many seeds as the gate looks through, or DEPTH times as many."""
    return range(first, first + few * DEPTH)


def examples(few: int) -> int:
    """The same for what the property library draws."""
    return few * DEPTH
