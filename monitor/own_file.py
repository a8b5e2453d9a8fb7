"""Files that this program makes for itself: never by way of what somebody else has laid there.

A lock, a log, a reserve stand under names that anybody can guess. In a folder that others can write
(``/tmp``, a share) one of them could be waiting: a symbolic link, a second name of another file, a
pipe that blocks whoever opens it. None of these is opened; the fault is an ``OSError`` whose words
say what lies there.
"""

import contextlib
import errno
import os
import stat
from pathlib import Path

MODE = 0o600
"""Names, whereabouts and health of people: for the owner only."""
_SPECIAL = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | os.O_CLOEXEC
_EVERYBODY = 0o002
_NO_SECOND_NAMES = frozenset({errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS})
"""What a file system says whose files have one name each."""


def open_own(path: Path, flags: int) -> int:
    """Open, or with ``O_CREAT`` make, a plain file of one's own; give its descriptor.

    Raises OSError, also where what is there is no plain file, has another name too, or belongs to
    neither this user, the owner of its folder nor the system.
    """
    try:
        fd = os.open(path, flags | _SPECIAL, MODE)
    except OSError as error:
        # What O_NOFOLLOW meets; FreeBSD says EMLINK. A pipe nobody reads is ENXIO.
        if error.errno in {errno.ELOOP, errno.EMLINK, errno.ENXIO}:
            raise _not_own("it is no plain file", path) from None
        raise
    try:
        _check(os.fstat(fd), path)
    except BaseException:
        os.close(fd)
        raise
    return fd


def make_anew(path: Path, flags: int) -> int:
    """Make a file that was not there, in place of one that an earlier process left. OSError."""
    path.unlink(missing_ok=True)
    return open_own(path, flags | os.O_CREAT | os.O_EXCL)


def is_missing(path: Path) -> bool:
    """Whether the system says that nothing has this name. Raises OSError: it cannot say.

    ``exists`` calls what it could not look at missing.
    """
    try:
        path.lstat()
    except FileNotFoundError:
        return True
    return False


def give_name(made: Path, path: Path) -> None:
    """Give a file that is whole its name, unless something has it. Raises FileExistsError, OSError.

    Nothing is ever replaced, not even what a failing disk denies: the system itself sees to it.
    """
    try:
        os.link(made, path)
    except OSError as error:
        if error.errno not in _NO_SECOND_NAMES:
            raise
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, MODE))
        made.replace(path)
    else:
        with contextlib.suppress(OSError):
            made.unlink()


def is_own(path: Path) -> bool:
    """Whether a plain file of this very user is there; a link to one is not. Raises OSError."""
    found = path.lstat()
    return stat.S_ISREG(found.st_mode) and found.st_uid == os.geteuid()


def open_to_all(folder: Path) -> bool:
    """Whether anybody at all can rename and replace what is in a folder. Raises OSError."""
    mode = folder.stat().st_mode
    return bool(mode & _EVERYBODY) and not mode & stat.S_ISVTX


def _check(found: os.stat_result, path: Path) -> None:
    if not stat.S_ISREG(found.st_mode):
        raise _not_own("it is no plain file", path)
    if found.st_nlink > 1:
        raise _not_own("the same file has another name too", path)
    if found.st_uid not in {os.geteuid(), 0, path.parent.stat().st_uid}:
        raise _not_own("it is somebody else's", path)


def _not_own(why: str, path: Path) -> OSError:
    return OSError(errno.EPERM, f"{path.name} was not made by this program: {why}", str(path))
