"""Files laid where a careless program would import them; each that is run tells of it."""

import os
import sys
from collections.abc import Sequence
from pathlib import Path

NAMES = (
    "monitor", "protocol", "shared", "simulators", "outby",
    "json", "runpy", "random", "sqlite3", "pydantic", "cobs", "sitecustomize", "usercustomize",
)  # fmt: skip
"""Our own packages, what the interpreter starts with, the standard library, what we depend on."""
RUN = "run-by-mistake"
_SITE = Path("lib", f"python{sys.version_info.major}.{sys.version_info.minor}", "site-packages")


def lay(folder: Path, names: Sequence[str] = NAMES) -> None:
    """Lay them into a folder, and into one that is the user's site-packages."""
    note = folder / RUN
    for place in (folder, folder / "site-packages", folder / _SITE):
        place.mkdir(parents=True, exist_ok=True)
        for name in names:
            code = f"open({str(note)!r}, 'a').write({name!r} + '\\n')\nraise SystemExit(99)\n"
            (place / f"{name}.py").write_text(code)
        (place / "hostile.pth").write_text(f"import sys; open({str(note)!r}, 'a').write('pth')\n")


def environ(folder: Path) -> dict[str, str]:
    """An environment in which Python looks there first."""
    return {
        "PATH": os.environ["PATH"],
        "PYTHONPATH": str(folder),
        "PYTHONUSERBASE": str(folder),
        "PYTHONSTARTUP": str(folder / "json.py"),
    }


def run_by_mistake(folder: Path) -> str:
    """Which of them were run."""
    note = folder / RUN
    return note.read_text() if note.exists() else ""
