"""The catalogue's plain words, said as this service says them: crew or team, turn-back or whatever.

A procedure names its own words (``procedure.Words``); wherever a text of the catalogue has one of
the plain ones, the service's word stands instead.
"""

import re
from functools import lru_cache

from monitor.incident.procedure import Words

ROW_WORD_MAX = 13
"""Columns of the state word on a wearer's line at 80 columns."""
_PLAIN = Words()


@lru_cache(maxsize=1_000)
def said(text: str, words: Words) -> str:
    """The text in the words of a service, with capitals where there were any."""
    if words == _PLAIN:
        return text
    theirs = words.model_dump()
    instead = {plain: theirs[name] for name, plain in _PLAIN.model_dump().items()}
    longest_first = sorted(instead, key=len, reverse=True)
    found = re.compile(rf"\b({'|'.join(map(re.escape, longest_first))})\b", re.IGNORECASE)

    def other(match: "re.Match[str]") -> str:
        word: str = instead[match[0].lower()]
        if match[0].isupper():
            return word.upper()
        return word[0].upper() + word[1:] if match[0][0].isupper() else word

    return found.sub(other, text)


def row_said(text: str, words: Words) -> str:
    """The same for a wearer's line: without a "due" where it is too long, else left as it is."""
    word = said(text, words)
    if len(word) > ROW_WORD_MAX and word.casefold().endswith(" due"):
        word = word[: -len(" due")]
    return word if len(word) <= ROW_WORD_MAX else text
