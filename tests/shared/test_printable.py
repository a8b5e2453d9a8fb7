"""Nothing that moves a cursor, turns words around or is not seen is ever shown as it is."""

import json
import unicodedata

import pytest

from shared.printable import as_json, escaped, escaped_json, escaped_lines, shortened


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("R. Harrow", "R. Harrow"),
        ("\x1b[2J", "\\x1b[2J"),  # clears a terminal: ECMA-48, ED
        ("\x9b2J", "\\x9b2J"),  # the same in one character: ECMA-48, CSI of eight bits
        ("a\rb\nc\td\x00", "a\\rb\\nc\\td\\x00"),
        ("\u202egnp.exe", "\\u202egnp.exe"),  # right-to-left override, Unicode UAX 9
        ("\u2066a\u2069", "\\u2066a\\u2069"),
        ("A\u200bB\ufeff", "A\\u200bB\\ufeff"),
        ("A\xadB", "A\\xadB"),
        ("\u2028", "\\u2028"),
        ("\udcff", "\\udcff"),  # how Python keeps a byte of a file name that is no UTF-8
        ("\U000e0041", "\\U000e0041"),  # a tag: not seen anywhere
        ("4\xa0bar\u2009x", "4 bar x"),
        ("Ærø, 東京, Zürich, שלום", "Ærø, 東京, Zürich, שלום"),
    ],
)
def test_each_kind(text: str, shown: str) -> None:
    assert escaped(text) == shown


def test_what_is_left_is_seen_and_stays_where_it_is() -> None:
    """Over all of Unicode; categories as in UAX 44, table 12."""
    every = "".join(map(chr, range(0x110000)))
    shown = set(escaped(every))
    assert not {unicodedata.category(c) for c in shown} & {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    assert {c for c in shown if unicodedata.category(c) == "Zs"} == {" "}


def test_lines_stay_lines() -> None:
    assert escaped_lines("a\nb\x1b\r\nc\rd\n") == "a\nb\\x1b\r\nc\\rd\n"
    assert escaped_lines("\r5 %") == "\r5 %"
    assert escaped_lines("\a14:02 DISTRESS\a") == "\a14:02 DISTRESS\\x07"


def test_a_long_text_keeps_both_ends() -> None:
    assert shortened("a" * 10, 10) == "a" * 10
    assert shortened("a" * 50 + "b" * 50, 20) == "a" * 10 + " ... " + "b" * 5


def test_json_says_the_same_as_before() -> None:
    said = {"name": "a\x7f\x9b\u202e\udcff\U000e0041é", "list": [1, "\x1b"]}
    text = json.dumps(said, ensure_ascii=False, indent=1)
    assert json.loads(escaped_json(text)) == said
    assert escaped_json(text).replace("\n", "").isprintable()


def test_fields_for_a_program_are_json_whatever_is_in_them() -> None:
    """Through the door for all that is printed: what does not print may not become no JSON."""
    fields = {"name": "a\x1b[2J\x7f\u202eb", "of": [1, None, "é"]}
    text = as_json(fields)
    assert escaped_lines(text) == text
    assert json.loads(text) == fields
