"""Whether a journal can live in a folder.

It cannot on a network file system: SQLite's write-ahead log needs memory that all its users share,
which they do not have over a network (SQLite documentation, "Write-Ahead Logging", section 2.2).
Where a file system cannot be told, as on systems without ``/proc``, it is taken for a local one.
"""

import contextlib
import os
import re
from pathlib import Path

from monitor.errors import BadJournal

MOUNTS = Path("/proc/self/mountinfo")
"""Linux: every mount that this process sees; proc(5)."""
MOUNTS_BYTES_MAX = 4 * 1024 * 1024
"""Tens of thousands of mounts."""
NETWORK_KINDS = frozenset(
    {
        "afs", "beegfs", "ceph", "cifs", "coda", "davfs", "fuse.ceph-fuse", "fuse.davfs",
        "fuse.davfs2", "fuse.glusterfs", "fuse.rclone", "fuse.s3fs", "fuse.sshfs", "glusterfs",
        "gpfs", "lustre", "ncpfs", "nfs", "nfs4", "pvfs2", "smb3", "smbfs",
    }
)  # fmt: skip
MEMORY_KINDS = frozenset({"tmpfs", "ramfs"})
"""What a loss of power takes."""
_ESCAPED = re.compile(r"\\([0-7]{3})")
_MOUNT_POINT = 4
"""Fields before " - ", counted from 0; after it come kind, source and options."""


def check_place(folder: Path, mounts: Path = MOUNTS) -> None:
    """Raise BadJournal if ``folder`` lies on a network file system."""
    kind = _kind_at(folder, mounts)
    if kind in NETWORK_KINDS:
        raise BadJournal(
            f"the folder is on a network file system ({kind})",
            str(folder),
            "choose a folder on a disk of this machine",
        )


def in_memory(folder: Path, mounts: Path = MOUNTS) -> bool:
    """Whether a loss of power takes what is in ``folder``; where it cannot be told, it does not."""
    return _kind_at(folder, mounts) in MEMORY_KINDS


def _kind_at(folder: Path, mounts: Path) -> str:
    text = ""
    with contextlib.suppress(OSError), mounts.open("rb") as file:
        text = file.read(MOUNTS_BYTES_MAX).decode("utf-8", "surrogateescape")
    # ``Path.resolve`` raises where links go round in a circle; this answers in any case.
    return kind_of(Path(os.path.realpath(folder)), text)


def kind_of(folder: Path, mountinfo: str) -> str:
    """Kind of the file system on which the absolute ``folder`` lies; empty if it is not told.

    ``mountinfo`` has the form of proc(5), a line a mount::

        36 35 98:0 /mnt1 /mnt2 rw,noatime master:1 - ext3 /dev/root rw,errors=continue

    Of several mounts over one another, or in one another, the last and deepest counts.
    """
    best, kind = -1, ""
    for line in mountinfo.splitlines():
        mount, _, what = line.partition(" - ")
        fields, said = mount.split(" "), what.split(" ")
        if len(fields) <= _MOUNT_POINT or not said[0]:
            continue
        point = Path(_ESCAPED.sub(lambda m: chr(int(m[1], 8)), fields[_MOUNT_POINT]))
        depth = len(point.parts)
        if depth >= best and folder.is_relative_to(point):
            best, kind = depth, said[0]
    return kind
