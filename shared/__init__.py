"""Data that more than one part uses, found the same way from a checkout and from a wheel.

One folder a kind: ``procedures``, ``rosters``, ``scenarios``, ``vectors``, ``journals``.
"""

import importlib.resources
from pathlib import Path


def path(kind: str, name: str) -> Path:
    """Path of one file of a kind, as ``path("scenarios", "kiln-lane.toml")``.

    The package is always installed as plain files, so the path can be opened as it is. The file
    need not exist; opening it says so.
    """
    return Path(str(importlib.resources.files(__name__) / kind / name))


def names(kind: str) -> tuple[str, ...]:
    """Names of the TOML files of a kind, without their ending, in order."""
    folder = path(kind, "")
    return tuple(sorted(entry.stem for entry in folder.glob("*.toml")))
