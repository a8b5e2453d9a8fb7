"""Text from outside made safe to show: on a terminal, on a page, in a file that people open.

A control character can redraw a screen, a mark of direction can turn words around, one of no width
can make two names look alike. Whatever prints as it is stays; everything else is shown by its code.
"""

import json
import re
import unicodedata

_STREAM_MAY = re.compile(r"\A[\r\a]|\r?\n")
"""In what goes to a stream: ends of lines; what begins a line anew, or with the bell."""


CUT = " ... "
"""Stands where something was left out."""


def escaped(text: str, keep: str = "") -> str:
    r"""``text`` with ``\x1b`` and the like for each character that does not print as it is.

    Those are the categories Cc, Cf, Cs, Co, Cn, Zl and Zp of Unicode: controls, marks of direction
    and of no width, halves of pairs. Blanks of every kind become a blank. ``keep``: left alone.
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c in keep else _shown(c) for c in text)


def _shown(character: str) -> str:
    if unicodedata.category(character) == "Zs":
        return " "
    return character.encode("unicode_escape").decode("ascii")


def shortened(text: str, most: int) -> str:
    """At most ``most`` characters: of a longer text the beginning and the end."""
    if len(text) <= most:
        return text
    begins = (most - len(CUT)) * 2 // 3
    return text[:begins] + CUT + text[len(text) - (most - len(CUT) - begins) :]


def escaped_lines(text: str) -> str:
    """The same for what goes to a stream in lines: their ends stay."""
    if text.isprintable():
        return text
    whole: list[str] = []
    begins = 0
    for end in _STREAM_MAY.finditer(text):
        whole += escaped(text[begins : end.start()], keep="\t"), end[0]
        begins = end.end()
    return "".join(whole) + escaped(text[begins:], keep="\t")


def as_json(value: object) -> str:
    """Give fields for a program as JSON that prints, and says what the fields say."""
    return escaped_json(json.dumps(value, indent=2, ensure_ascii=False))


def escaped_json(text: str) -> str:
    r"""The same for JSON, with ``\u001b`` and the like: what reads it gets what was written.

    ``text`` is JSON already; what does not print then stands within its strings.
    """
    if text.isprintable():
        return text
    return "".join(c if c.isprintable() or c == "\n" else _as_json(c) for c in text)


def _as_json(character: str) -> str:
    raw = character.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{raw[at : at + 4]}" for at in range(0, len(raw), 4))
