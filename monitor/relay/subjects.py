"""On which subject of the broker the commits of an incident are. Pure.

A subject is words with dots between; a word of ours holds any text. Letters, digits and ``-`` stand
for themselves, everything else for its bytes in UTF-8, each ``_`` and two hexadecimal digits: so no
dot, blank or wildcard of the broker (``*`` and ``>``) ever stands in one, and none is ambiguous.
"""

import re
from typing import NamedTuple

VERSION = "1"
"""Of RELAY-FORMAT.md; another one has subjects of its own."""
ROOT = "outby"
COMMITS = "commits"
STREAM = "OUTBY"
"""Name of the stream that keeps them."""
TEXT_MAX = 60
"""Characters of an operation's name, as settings have it."""
_PLAIN = re.compile(r"[A-Za-z0-9-]")
_WORD = re.compile(r"(?:[A-Za-z0-9-]|_[0-9a-f]{2})+")
_INCIDENT = re.compile(r"[0-9a-f]{32}")
"""A UUID in hex, as headers have it; a replica has it in its name, so nothing else is one."""


class Place(NamedTuple):
    """What a subject says."""

    operation: str
    incident: str


def word(text: str) -> str:
    """A text as one word of a subject. It is never empty, and no two texts have the same."""
    return "".join(
        char if _PLAIN.fullmatch(char) else "".join(f"_{byte:02x}" for byte in char.encode())
        for char in text
    )


def text(word: str) -> str | None:
    """The text of such a word; None where no text has it."""
    if not _WORD.fullmatch(word):
        return None
    raw = re.sub(r"_([0-9a-f]{2})", lambda found: chr(int(found[1], 16)), word)
    try:
        said = raw.encode("latin-1").decode()
    except UnicodeDecodeError:
        return None
    return said if globals()["word"](said) == word else None


def is_incident(text: str) -> bool:
    """Whether that is how incidents are named: 32 hexadecimal digits."""
    return _INCIDENT.fullmatch(text) is not None


def of_commits(operation: str, incident: str) -> str:
    """The subject of one incident's commits."""
    return f"{ROOT}.{VERSION}.{word(operation)}.{incident}.{COMMITS}"


def of_operation(operation: str = "") -> str:
    """What all incidents of an operation are asked for by; of every operation without a name."""
    return f"{ROOT}.{VERSION}.{word(operation) or '*'}.*.{COMMITS}"


def place_of(subject: str) -> Place | None:
    """Whose commits are on a subject; None: it is none of these."""
    words = subject.split(".")
    if len(words) != 5 or words[:2] != [ROOT, VERSION] or words[4] != COMMITS:  # noqa: PLR2004
        return None
    operation = text(words[2])
    if operation is None or len(operation) > TEXT_MAX or not is_incident(words[3]):
        return None
    return Place(operation, words[3])
