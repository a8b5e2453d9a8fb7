"""Bookmarks of a file beside a journal: where each lies, what of them is none."""

from datetime import UTC
from pathlib import Path

import pytest

import shared
from monitor.archive.wall_clock import WallClock
from monitor.cli import main
from monitor.errors import BadFile, Exit
from monitor.replay.bookmarks import COUNT_MAX, WORDS_MAX, beside, line_of, read
from monitor.replay.marks import MarkKind, after, before, words_at

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
"""2023-11-14 22:13:20 UTC."""
END_NS = 600 * S
GOLDEN = shared.path("journals", "kiln-lane.journal")


@pytest.fixture
def clock() -> WallClock:
    made = WallClock()
    made.note(0, WALL_NS)
    return made


def test_a_bookmark_lies_at_its_time_whichever_way_it_is_named(clock: WallClock) -> None:
    """22:15:00 is 100 s after the opening at 22:13:20."""
    text = "# mine\n\n22:15:00 the  call\n40 goes in\n221640 six digits\n"
    found = read(text, "x.bookmarks", clock, END_NS, UTC)
    assert [(mark.t, mark.kind, mark.words) for mark in found] == [
        (40 * S, MarkKind.BOOKMARK, "goes in"),
        (100 * S, MarkKind.BOOKMARK, "the call"),
        (200 * S, MarkKind.BOOKMARK, "six digits"),
    ]
    assert after(found, MarkKind.BOOKMARK, 40 * S) == 100 * S
    assert before(found, MarkKind.BOOKMARK, 100 * S) == 40 * S
    assert words_at(found, 101 * S) == "the call"
    assert words_at(found, 120 * S) == ""


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("noon lunch", "no bookmark"),
        ("40", "no bookmark"),
        ("-1 before", "no bookmark"),
        ("601 late", "it is after the end"),
        ("23:59:00 late", "it is not in the recording"),
        (f"40 {'x' * (WORDS_MAX + 1)}", "no bookmark"),
    ],
)
def test_what_is_none_is_told_with_its_line(line: str, said: str, clock: WallClock) -> None:
    with pytest.raises(BadFile, match=said) as fault:
        read(f"40 right\n{line}\n", "x.bookmarks", clock, END_NS, UTC)
    assert "x.bookmarks:2" in str(fault.value)


def test_a_time_that_was_twice_is_asked_back(clock: WallClock) -> None:
    clock.note(300 * S, WALL_NS + 50 * S)
    with pytest.raises(BadFile, match="the clock showed it 2 times"):
        read("22:15:00 which\n", "x", clock, END_NS, UTC)


def test_there_are_only_so_many(clock: WallClock) -> None:
    with pytest.raises(BadFile, match="more than"):
        read("1 a\n" * (COUNT_MAX + 1), "x", clock, END_NS, UTC)


def test_a_line_is_what_is_read_back(clock: WallClock) -> None:
    (mark,) = read(line_of("40", " goes   in "), "x", clock, END_NS, UTC)
    assert (mark.t, mark.words) == (40 * S, "goes in")
    for when, said in (("x", "a"), ("4", " "), ("4", "a\x1b[2J"), ("4", "x" * (WORDS_MAX + 1))):
        with pytest.raises(ValueError):  # noqa: PT011 - any reason will do
            line_of(when, said)


def test_by_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal = tmp_path / "mine.journal"
    journal.write_bytes(GOLDEN.read_bytes())
    assert main(["replay", str(journal), "--bookmark", "605", "out by now"]) == Exit.OK
    assert main(["replay", str(journal), "--bookmark", "604", "nearly"]) == Exit.OK
    assert beside(journal).read_text() == "605 out by now\n604 nearly\n"
    assert beside(journal).stat().st_mode & 0o777 == 0o600
    capsys.readouterr()
    assert main(["replay", str(journal), "--plain", "--at", "600"]) == Exit.OK
    said = [line for line in capsys.readouterr().out.splitlines() if "Bookmark" in line]
    assert [line.partition(" ")[2] for line in said] == [
        "Bookmark: nearly", "Bookmark: out by now",
    ]  # fmt: skip
    assert main(["replay", str(journal), "--bookmark", "noon", "x"]) == Exit.USAGE
    beside(journal).write_text("noon x\n")
    assert main(["replay", str(journal), "--plain"]) == Exit.FILE
