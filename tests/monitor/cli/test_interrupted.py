"""After a loss of power: which incident it was, and one key to go on with it."""

from pathlib import Path

import pytest

import shared
from monitor.archive.survey import Entry, State
from monitor.cli.interrupted import LATELY_NS, OFFERED_MAX, Choice, asked, chosen, interrupted, told
from monitor.errors import BadUsage
from monitor.journal.lock import lock_path

GOLDEN = shared.path("journals", "kiln-lane.journal")
S = 1_000_000_000
ENDED_NS = (1_700_000_000 + 610) * S
"""The golden journal's last commit, or up to a second later."""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("OUTBY_INCIDENTS_FOLDER", str(tmp_path))
    return tmp_path


def left_behind(folder: Path, name: str) -> Path:
    """A journal whose recorder was killed: its lock file is still there."""
    path = folder / f"{name}.journal"
    path.write_bytes(GOLDEN.read_bytes())
    lock_path(path).touch()
    return path


def entry(name: str = "Kiln Lane", ago_ns: int = 0) -> Entry:
    path = Path(f"{name.lower().replace(' ', '-')}.journal")
    return Entry(path, State.INTERRUPTED, 1, name, "real", 0, 0, ENDED_NS - ago_ns)


def test_those_whose_recorder_died_are_found(folder: Path) -> None:
    one = left_behind(folder, "one")
    assert [found.path for found in interrupted(folder, ENDED_NS + S)] == [one]


def test_one_that_a_machine_stopped_as_it_shut_down_is_found_for_a_day(folder: Path) -> None:
    """The recorder then ends in good order and takes its lock away; the incident is not over."""
    stopped = folder / "stopped.journal"
    stopped.write_bytes(GOLDEN.read_bytes())
    assert [found.path for found in interrupted(folder, ENDED_NS + S)] == [stopped]
    assert not interrupted(folder, ENDED_NS + 24 * 3_600 * S + S)


def test_what_lies_long_back_is_not_offered(folder: Path) -> None:
    left_behind(folder, "one")
    assert interrupted(folder, ENDED_NS + LATELY_NS)
    assert not interrupted(folder, ENDED_NS + LATELY_NS + S)


def test_no_more_than_one_digit_can_tell(folder: Path) -> None:
    for number in range(OFFERED_MAX + 2):
        left_behind(folder, f"number-{number}")
    assert len(interrupted(folder, ENDED_NS)) == OFFERED_MAX


@pytest.mark.parametrize("keys", [True, False])
def test_it_is_named_in_no_more_than_eighty_columns(*, keys: bool) -> None:
    lines = told([entry("K" * 60), entry()], ENDED_NS + 724 * S, keys=keys)
    text = "\n".join(lines)
    assert "1  " + "K" * 60 + ", REAL" in text
    assert "12 min 4 s ago" in text
    assert max(map(len, lines)) <= 80
    assert len(lines) < 24


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("\r", 0), ("\n", 0), ("go", 0), ("1", 0), ("2", 1), ("3", None), ("0", None),
        ("n", Choice.NEW), ("New", Choice.NEW), ("\x1b", Choice.LEAVE), ("cancel", Choice.LEAVE),
        ("\x04", Choice.LEAVE), ("\x1b[A", None), ("x", None), (" ", None), ("²", None),
    ],
)  # fmt: skip
def test_each_answer(said: str, meant: int | Choice | None) -> None:
    """An arrow is no Esc, and an empty line, where words are typed, no consent."""
    assert chosen(said, 2) is meant or chosen(said, 2) == meant


def test_where_nobody_can_be_asked_it_says_how_to_go_on() -> None:
    with pytest.raises(BadUsage, match=r"Kiln Lane, REAL.*outby watch kiln-lane"):
        asked([entry()], ENDED_NS, draws=False, typed=False)


def test_a_word_goes_on_at_a_plain_board(capsys: pytest.CaptureFixture[str]) -> None:
    said = iter(["what", "", "go"])
    found = asked([entry()], ENDED_NS, draws=False, typed=True, read=lambda: next(said))
    assert found == Path("kiln-lane.journal")
    assert capsys.readouterr().out.count("Type go") == 2
