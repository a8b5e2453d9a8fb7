"""Which of several incidents is meant by what a person calls it. Pure.

``outby incidents`` shows a name and a file of each; both are names, and so is a part that fits one
only, and ``last``. Case, blanks, hyphens and underscores make no difference: the file
``2026-03-14-1530-kiln-lane.journal`` holds the incident "Kiln Lane".
"""

from collections.abc import Sequence

from monitor.archive.survey import ENDING, Entry, State

LAST = "last"
"""The incident that was changed last."""
_NOT_MEANT = {State.HALF_MADE, State.UNREADABLE}
"""``last`` passes over these; by its name each is found, and then told what is wrong with it."""


def meant(said: str, entries: Sequence[Entry], *, whole: bool = False) -> list[Entry]:
    """Those that ``said`` fits, of ``entries``, which come last changed first.

    One: that is the one. Several: nobody can tell. Whole names come before parts of names; with
    ``whole`` a part fits nothing.
    """
    wanted = _plain(said.removesuffix(ENDING))
    if not wanted:
        return []
    if wanted == LAST:
        there = [entry for entry in entries if entry.state not in _NOT_MEANT]
        named = [entry for entry in entries if wanted in _names(entry)]
        return named or there[:1]
    exact = [entry for entry in entries if wanted in _names(entry)]
    if exact or whole:
        return exact
    return [entry for entry in entries if any(wanted in name for name in _names(entry))]


def _names(entry: Entry) -> tuple[str, ...]:
    names = (_plain(entry.name), _plain(entry.path.name.removesuffix(ENDING)))
    return tuple(name for name in names if name)


def _plain(name: str) -> str:
    return " ".join(name.casefold().replace("-", " ").replace("_", " ").split())
