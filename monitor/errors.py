"""Everything that can go wrong for a person at the keyboard, one class a cause.

Each error says three things: what is wrong, where (file, key, port), and what to do about it.
On the command line it is one line on stderr, ``outby: WHAT: WHERE: TO DO``, and an exit code::

    OutbyError          1  a fault of the program itself
    ├── BadUsage        2  an option or a setting asks for something that cannot be
    ├── BadFile         3  a roster, scenario, procedure, key or settings file is not right
    ├── LinkFailed      4  a radio link or port cannot be opened
    ├── BadJournal      5  a journal cannot be read or is of another kind
    ├── Busy            6  another recorder already records that incident
    ├── NotAnswered     7  the recorder's desk did not answer
    ├── NotAsWritten    8  a journal is not as it was written
    ├── NotKept         9  a pack under trial breaks a rule of the packet format
    ├── AlreadyThere   10  what is to be written is there already
    └── PoorLink       12  the link of a trial loses too much to judge the pack

What the system refuses in the midst of work (a full disk, a right that is missing) is 11.

Wire bytes never raise any of these: a frame that is not right is data, with a reason.
"""

from enum import IntEnum
from typing import ClassVar

from shared.printable import escaped, shortened

PART_MAX = 1_200
"""Characters of each part: a list of all that could have been said, or the path to a deep place."""


class Exit(IntEnum):
    """What the shell gets back. The numbers are part of the command line; they never move."""

    OK = 0
    INTERNAL = 1
    USAGE = 2
    FILE = 3
    LINK = 4
    JOURNAL = 5
    BUSY = 6
    NOT_ANSWERED = 7
    CHANGED = 8
    NOT_KEPT = 9
    ALREADY_THERE = 10
    SYSTEM = 11
    POOR_LINK = 12

    @property
    def words(self) -> str:
        """One line for the manual page."""
        return _WORDS[self]


_WORDS = {
    Exit.OK: "done as asked",
    Exit.INTERNAL: "a fault of the program itself; please report it with the log",
    Exit.USAGE: "an option or a setting asks for something that cannot be",
    Exit.FILE: "a roster, scenario, procedure, key or settings file is not right",
    Exit.LINK: "a radio link or port cannot be opened",
    Exit.JOURNAL: "a journal cannot be read, or is of another kind or a newer version",
    Exit.BUSY: "another recorder already records that incident",
    Exit.NOT_ANSWERED: "no recorder answered, no pack was heard, or what was looked at is not well",
    Exit.CHANGED: "a journal is not as it was written: damaged or changed",
    Exit.NOT_KEPT: "a pack under trial breaks a rule of the packet format",
    Exit.ALREADY_THERE: "what is to be written is there already; nothing is written over",
    Exit.SYSTEM: "the system refuses: a disk, a folder, a right or a limit",
    Exit.POOR_LINK: "the link of a trial loses too much to judge the pack",
}


class OutbyError(Exception):
    """An error with a plain line for a person. Subclasses fix the exit code."""

    exit_code: ClassVar[Exit] = Exit.INTERNAL

    def __init__(self, what: str, where: str = "", to_do: str = "") -> None:
        """Hold the three parts; ``where`` and ``to_do`` may be empty."""
        self.what = what
        self.where = where
        self.to_do = to_do
        super().__init__(what, where, to_do)

    def __str__(self) -> str:
        """Give the parts that are there, in order, as one line that prints as it is."""
        parts = (self.what, self.where, self.to_do)
        lines = (shortened(" ".join(part.split()), PART_MAX) for part in parts if part)
        return escaped(": ".join(lines))


class BadUsage(OutbyError):
    """An option or a setting asks for something that cannot be, wherever it is said."""

    exit_code = Exit.USAGE


class BadFile(OutbyError):
    """A roster, scenario, procedure, key or settings file is not right."""

    exit_code = Exit.FILE


class AlreadyThere(BadFile):
    """What is to be written is there already; nothing is written over."""

    exit_code = Exit.ALREADY_THERE


class LinkFailed(OutbyError):
    """A radio link or port cannot be opened."""

    exit_code = Exit.LINK


class BadJournal(OutbyError):
    """A journal cannot be read, or is of another kind or a newer version."""

    exit_code = Exit.JOURNAL


class Busy(OutbyError):
    """Another recorder already records that incident."""

    exit_code = Exit.BUSY


class NotAnswered(OutbyError):
    """The recorder's desk did not answer; or the pack under trial was not heard."""

    exit_code = Exit.NOT_ANSWERED


class NotAsWritten(OutbyError):
    """A journal is not as it was written: damaged or changed."""

    exit_code = Exit.CHANGED


class NotKept(OutbyError):
    """A pack under trial breaks a rule of the packet format."""

    exit_code = Exit.NOT_KEPT


class PoorLink(OutbyError):
    """The link of a trial loses too much to judge the pack."""

    exit_code = Exit.POOR_LINK
