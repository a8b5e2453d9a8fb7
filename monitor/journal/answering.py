"""Which folders answer: one on a disk that hangs keeps nobody who only looks for a second place.

A disk that hangs keeps whoever asks it, and no signal ends a process with a call that it keeps: its
locks stand as long. So each folder is tried by a shell of its own, which is left to itself if
nothing comes of it, and tells by that it is still there that the folder still hangs.
"""

import contextlib
import subprocess
from collections.abc import Sequence
from pathlib import Path

from monitor.journal.spill import SHARED_MEMORY

ANSWER_S = 2.0
"""A disk that takes longer to write a name and to read what lies there is gone on without. A busy
machine takes some tenths for the shell."""
SHELL = "/bin/sh"
_TRY = """\
there=$1
while [ -n "$there" ] && [ ! -d "$there" ]; do there=${there%/*}; done
made=$(mktemp "$there/.outby-XXXXXX") && rm -f "$made"
for file in "$1"/*.spill*; do [ -e "$file" ] && tail -c 4096 "$file"; done
true"""
"""Writes a name, and reads the end of every spill: what the system remembers tells nothing."""
_kept: dict[Path, subprocess.Popen[bytes]] = {}
"""Shells that a disk keeps, by folder. They end when it lets them go."""


def answering(
    folders: Sequence[Path], within_s: float = ANSWER_S, tried: str = _TRY
) -> tuple[list[Path], list[Path]]:
    """Give those that answer, in their order, and those that do not. All are tried at once.

    ``tried`` is what a shell does with a folder. One that refuses has answered, and so has one that
    no shell can be started for.
    """
    before = {one: _kept.pop(one) for one in folders if one in _kept}
    hung = [one for one, shell in before.items() if shell.poll() is None]
    _kept.update((one, before[one]) for one in hung)
    asked = [one for one in folders if one not in before and not _in_memory(one)]
    left_s = within_s
    for one, shell in [(one, _started(tried, one)) for one in asked]:
        if shell is not None and not _ended(shell, left_s):
            hung.append(one)
            _kept[one] = shell
            # While it was waited for the others had as long.
            left_s = 0.0
    return [one for one in folders if one not in hung], [one for one in folders if one in hung]


def _in_memory(folder: Path) -> bool:
    """Whether it hangs with no disk."""
    return folder.is_relative_to(SHARED_MEMORY)


def _started(tried: str, folder: Path) -> subprocess.Popen[bytes] | None:
    nothing = subprocess.DEVNULL
    with contextlib.suppress(OSError):
        return subprocess.Popen(  # noqa: S603 - words of our own; the folder is an argument
            [SHELL, "-c", tried, SHELL, str(folder.absolute())],
            stdin=nothing, stdout=nothing, stderr=nothing, cwd="/", start_new_session=True,
        )  # fmt: skip
    return None


def _ended(shell: subprocess.Popen[bytes], within_s: float) -> bool:
    try:
        shell.wait(within_s)
    except subprocess.TimeoutExpired:
        return False
    return True
