"""On which line of a TOML text a value stands, so that an error can say where.

The standard parser keeps no positions, so this looks for them again in the text, and only after
a fault was found. It knows the shapes that our files use: tables, arrays of tables, keys, and
inline tables one to a line. Anything else gives the nearest line above it that it does know.
"""

import re

Place = tuple[int | str, ...]
"""Keys and indices that lead to a value, as in ``("packs", 2, "fill_bar")``."""

_HEADER = re.compile(r"\s*(\[\[?)\s*([\w.\"'-]+)\s*\]")
_KEY = re.compile(r"\s*[\"']?([\w-]+)[\"']?\s*=")
_INLINE = re.compile(r"\s*\{")


def line_of(text: str, place: Place) -> int | None:
    """Line number, from 1, of the value at ``place`` or of the nearest thing around it."""
    best: tuple[int, int] | None = None
    for depth, number in _places(text, place):
        if best is None or depth > best[0]:
            best = (depth, number)
    return best[1] if best else None


def _places(text: str, place: Place) -> list[tuple[int, int]]:
    """Every line on the way to ``place``, with how many of its parts the line answers."""
    found: list[tuple[int, int]] = []
    table: Place = ()
    key: Place = ()
    counts: dict[Place, int] = {}
    for number, line in enumerate(text.splitlines(), start=1):
        if header := _HEADER.match(line):
            table = _opened(header[2].split("."), counts, many=header[1] == "[[")
            key = table
        elif match := _KEY.match(line):
            key = (*table, match[1])
        elif _INLINE.match(line):
            counts[key] = counts.get(key, -1) + 1
            here = (*key, counts[key])
            if place[: len(here)] == here:
                found.append((len(here), number))
            continue
        else:
            continue
        if key and place[: len(key)] == key:
            found.append((len(key), number))
    return found


def _opened(names: list[str], counts: dict[Place, int], *, many: bool) -> Place:
    """Give the full place of a table whose header names only the keys."""
    here: Place = ()
    for name in names[:-1]:
        here = (*here, name)
        if here in counts:
            here = (*here, counts[here])
    here = (*here, names[-1])
    if not many:
        return here
    counts[here] = counts.get(here, -1) + 1
    return (*here, counts[here])
