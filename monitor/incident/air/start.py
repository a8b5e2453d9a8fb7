"""How the pressure at connecting was come by, in the words that are shown."""

from enum import StrEnum


class StartFrom(StrEnum):
    """How the pressure at connecting was come by."""

    READ = "read at connecting"
    HEARD = "the highest heard before connecting"
    RAISED = "raised by later readings"
    RECKONED = "reckoned back from a later reading, high"
    ASSUMED = "nobody told it: the least fill"
    AMENDED = "as the officer amended it"


START_SURE = frozenset({StartFrom.READ, StartFrom.AMENDED})
"""A start come by in another way is marked wherever it is shown."""
