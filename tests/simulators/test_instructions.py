"""Lines that an instructor adds to a file, read as they come."""

import stat
from pathlib import Path

import pytest

from simulators.injects import Inject
from simulators.instructions import (
    LINE_BYTES_MAX,
    Bookmark,
    InjectNow,
    Instruction,
    Instructions,
    Sooner,
    Stand,
    Tick,
    add,
    note_of,
    read,
)

COLLAPSE = Inject.model_validate(
    {"name": "by hand", "at_s": 0, "wearers": [4], "deed": {"does": "collapse"}, "shows": "x"}
)
ALL: tuple[Instruction, ...] = (
    InjectNow(inject=COLLAPSE),
    Sooner(name="stuck gauge"),
    Stand(still=True),
    Tick(told="called", wearers=(4,)),
    Bookmark(text="look at this again"),
)


def test_what_is_added_is_read_in_order_and_once(tmp_path: Path) -> None:
    path = tmp_path / "run.instructor.jsonl"
    reader = Instructions(path)
    assert reader.take() == []
    for one in ALL[:3]:
        add(path, one)
    assert reader.take() == list(ALL[:3])
    assert reader.take() == []
    for one in ALL[3:]:
        add(path, one)
    assert reader.take() == list(ALL[3:])
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_half_a_line_waits_for_the_rest(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_bytes(b'{"do":"stand",')
    reader = Instructions(path)
    assert reader.take() == []
    with path.open("ab") as file:
        file.write(b'"still":false}\n{"do"')
    assert reader.take() == [Stand(still=False)]


@pytest.mark.parametrize(
    "line", [b"", b"x", b"[]", b'{"do":"fly"}', b'{"do":"tick","told":"sung"}', b"\xff\xfe"]
)
def test_what_is_not_understood_is_a_word_not_a_fault(line: bytes) -> None:
    assert isinstance(read(line), str)


def test_a_line_that_never_ends_is_let_go(tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    path.write_bytes(b"x" * (LINE_BYTES_MAX + 1))
    reader = Instructions(path)
    assert reader.take() == ["a line that does not end"]
    with path.open("ab") as file:
        file.write(b'\n{"do":"stand"}\n')
    assert Stand() in reader.take()


def test_the_truth_keeps_what_was_asked_and_what_was_refused() -> None:
    assert note_of(5, ALL[3]) == {
        "what": "instructor", "t_ns": 5, "do": "tick", "told": "called", "wearers": [4],
    }  # fmt: skip
    assert note_of(6, "no") == {"what": "instructor", "t_ns": 6, "refused": "no"}
