"""The folder for sockets and other things that live as long as a process: this user's alone.

The session's own where there is one (XDG Base Directory Specification, ``XDG_RUNTIME_DIR``: it must
belong to the user; after a plain ``su`` it is still the other user's). Else the one that a session
of this user would have, else one in the folder for temporary files, else one in the user's own
cache. One that somebody else has made, or can open, is passed over. Recorder and boards may be
started from different places, so a board looks into each of them.
"""

import contextlib
import os
import stat
import tempfile
from collections.abc import Sequence
from pathlib import Path

import platformdirs

from monitor.errors import NotAnswered

NAME_BYTES_MAX = len("/0123456789abcdef.desk")
"""The longest name in it."""
SESSIONS = Path("/run/user")
"""Where the folders of sessions are, by number of the user (pam_systemd(8))."""
SOCKET_PATH_BYTES_MAX = 100
"""Unix sockets end at 104 bytes on some systems, 108 on others."""


def folder(sessions: Path = SESSIONS, path_bytes_max: int = SOCKET_PATH_BYTES_MAX) -> Path:
    """Give the first that can be used; it is made if need be.

    Raises NotAnswered where there is none: it says what is wrong with the last.
    """
    found = candidates(os.getuid(), sessions, path_bytes_max)
    why = ""
    for one in found:
        try:
            one.mkdir(mode=0o700, parents=True, exist_ok=True)
            why = _fault(one)
        except OSError as error:
            why = error.strerror or "cannot be made"
        if not why:
            return one
    to_do = "free its name, or set XDG_RUNTIME_DIR to a folder of this user alone"
    where = found[-1] if found else Path(tempfile.gettempdir())
    raise NotAnswered(f"no folder for the desk: {why or 'its path is too long'}", str(where), to_do)


def there(sessions: Path = SESSIONS, path_bytes_max: int = SOCKET_PATH_BYTES_MAX) -> Sequence[Path]:
    """Give every one that is there and can be used, best first. Makes none."""
    usable = []
    for one in candidates(os.getuid(), sessions, path_bytes_max):
        with contextlib.suppress(OSError):
            if not _fault(one):
                usable.append(one)
    return usable


def candidates(uid: int, sessions: Path, path_bytes_max: int) -> list[Path]:
    """Where this user's may be, best first, whatever is there."""
    given = os.environ.get("XDG_RUNTIME_DIR", "")
    found = [Path(given) / "outby"] if given and _is_of(uid, Path(given), absent=True) else []
    if _is_of(uid, sessions / str(uid), absent=False):
        found.append(sessions / str(uid) / "outby")
    found.append(Path(os.environ.get("TMPDIR") or tempfile.gettempdir()) / f"outby-{uid}")
    found.append(platformdirs.user_cache_path("outby", appauthor=False) / "run")
    longest = path_bytes_max - NAME_BYTES_MAX
    return list(dict.fromkeys(one for one in found if len(os.fsencode(one)) <= longest))


def _is_of(uid: int, place: Path, *, absent: bool) -> bool:
    """Whether it is this user's: what is made in another's would stand in that one's way.

    ``absent``: what to say of one that is not there.
    """
    try:
        return place.stat().st_uid == uid
    except FileNotFoundError:
        return absent
    except OSError:
        return False


def _fault(one: Path) -> str:
    """Why a folder cannot be used; empty: it can. Raises OSError."""
    found = one.lstat()
    if not stat.S_ISDIR(found.st_mode):
        return f"{one.name} is no folder"
    if found.st_uid != os.getuid():
        return f"{one.name} is somebody else's"
    if found.st_mode & 0o077:
        return f"{one.name} can be opened by others"
    return "" if os.access(one, os.W_OK | os.X_OK) else f"{one.name} cannot be written"
