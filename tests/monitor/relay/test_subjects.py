"""Texts as words of a subject, and back."""

import re

from hypothesis import given
from hypothesis import strategies as st

from monitor.relay import subjects
from monitor.relay.subjects import Place

INCIDENT = "0123456789abcdef" * 2
ALLOWED = re.compile(r"[A-Za-z0-9_-]+")
"""Of the characters that a broker takes in a word: none of its own signs, no blank."""


def test_a_subject_reads_as_it_was_written() -> None:
    # "Kiln Lane": a blank is 20 in ASCII.
    said = subjects.of_commits("Kiln Lane", INCIDENT)
    assert said == f"outby.1.Kiln_20Lane.{INCIDENT}.commits"
    assert subjects.place_of(said) == Place("Kiln Lane", INCIDENT)


@given(st.text(min_size=1, max_size=60))
def test_any_text_is_one_word_and_comes_back(text: str) -> None:
    if any("\ud800" <= char <= "\udfff" for char in text):
        return
    word = subjects.word(text)
    assert ALLOWED.fullmatch(word)
    assert subjects.text(word) == text


@given(st.text(alphabet="ab_02-.*> é4", max_size=30))
def test_a_word_that_no_text_has_is_none(word: str) -> None:
    """So no two words mean one operation."""
    said = subjects.text(word)
    assert said is None or subjects.word(said) == word


def test_what_is_no_subject_of_commits() -> None:
    for subject in (
        "", "outby", f"outby.2.a.{INCIDENT}.commits", f"other.1.a.{INCIDENT}.commits",
        f"outby.1.a.{INCIDENT}.asks", f"outby.1.a.{INCIDENT[:-1]}.commits",
        f"outby.1.a.{INCIDENT.upper()}.commits", f"outby.1.a.{INCIDENT}.commits.more",
        f"outby.1..{INCIDENT}.commits", f"outby.1._61.{INCIDENT}.commits",
        "outby.1.a.../../x.commits", f"outby.1.{'a' * 61}.{INCIDENT}.commits",
        f"outby.1._c3.{INCIDENT}.commits",
    ):  # fmt: skip
        assert subjects.place_of(subject) is None


def test_what_a_mirror_asks_for() -> None:
    assert subjects.of_operation("Kiln Lane") == "outby.1.Kiln_20Lane.*.commits"
    assert subjects.of_operation() == "outby.1.*.*.commits"
