"""The words that PACKET-FORMAT.md has for kinds, states and answers."""

from enum import IntEnum

_HYPHENED = frozenset({"SIGN_ON", "SIGN_OFF", "PRE_ALARM"})


def words(member: IntEnum) -> str:
    """The word or two for one value, in small letters: ``sign-on``, ``open circuit``."""
    joint = "-" if member.name in _HYPHENED else " "
    return member.name.lower().replace("_", joint)
