"""Every reader of journals on every kind of damaged and hostile ones: one line, no traceback.

A bounded sample each time; ``make hostile`` runs five thousand. A seed that failed once stays in
``FAILED``.
"""

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

import shared
from monitor.board.keys.hands import Hands
from monitor.board.lines.header import Desk
from monitor.board.pages.screen import Shown, screen
from monitor.board.plain.words import first_sentences
from monitor.board.words.marks import Look
from monitor.errors import BadJournal, Exit
from monitor.follower import Follower
from tests.fuzz.hostile import Ended, check, run
from tests.fuzz.hostile_journals import JOURNAL_KINDS

GOLDEN = shared.path("journals", "kiln-lane.journal")
RUNS = int(os.environ.get("HOSTILE", "0"))
"""Journals tried in all; 0: the sample of the gate."""
SAMPLE = 2
"""Of each kind."""
FAILED: tuple[tuple[str, int], ...] = ()
SEEDS = range(RUNS // len(JOURNAL_KINDS) + 1 if RUNS else SAMPLE)
CASES = [*FAILED, *((kind, seed) for kind in JOURNAL_KINDS for seed in SEEDS)]


def board(path: Path, _out: Path) -> Ended:
    """What a board does: it follows, draws and tells."""
    try:
        with Follower(path, checkpoints=False) as follower:
            while follower.poll() and follower.catching_up:
                pass
            picture = follower.picture()
    except BadJournal as error:
        return Ended(error.exit_code, "", f"outby: {error}\n")
    if follower.incident.opened is None:
        return Ended(Exit.OK, "", "")
    said = list(first_sentences(picture))
    for width, height in ((80, 24), (160, 50)):
        drawn = screen(picture, Look(width, height), Hands(), Shown(Desk()))
        said += ["".join(text for text, _ in line) for line in drawn.lines]
    return Ended(Exit.OK, "\n".join(said), "")


def _command(*argv: str) -> Callable[[Path, Path], Ended]:
    def call(path: Path, out: Path) -> Ended:
        places = {"J": str(path), "OUT": str(out)}
        return run([argv[0], *(places.get(word, word) for word in argv[1:])])

    return call


COMMANDS: dict[str, Callable[[Path, Path], Ended]] = {
    "board": board,
    "verify": _command("verify", "J"),
    "alarms": _command("report", "J", "--alarms"),
    "report": _command("report", "J", "-o", "OUT"),
    "replay": _command("replay", "J", "--plain"),
    "export": _command("export", "J", "OUT"),
    "json lines": _command("export", "J", "OUT", "--format", "jsonl"),
    "frames": _command("export", "J", "--frames", "OUT"),
    "orders": _command("orders", "J"),
    "orders as a table": _command("orders", "J", "--format", "csv"),
    "handover": _command("handover", "J"),
    "score": _command("score", "J"),
    "roster": _command("roster", "J"),
    "pack": _command("incidents", "pack", "J", "OUT"),
}  # fmt: skip
CODES = (Exit.OK, Exit.JOURNAL, Exit.CHANGED, Exit.FILE)
TRIED = tuple(name for name in COMMANDS if RUNS or name != "report")
"""The whole page takes some seconds to draw: not in the gate."""
A_FILE = 2
"""Commands tried on each journal."""


@pytest.fixture(autouse=True)
def _settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "settings.toml").touch()
    monkeypatch.setenv("OUTBY_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("OUTBY_CHECKPOINTS", "false")


@pytest.mark.parametrize(("kind", "seed"), CASES)
def test_one_line_whatever_it_holds(tmp_path: Path, kind: str, seed: int) -> None:
    rng = Random(f"{kind} {seed}")
    folder = tmp_path / "incidents"
    folder.mkdir()
    shutil.copy(GOLDEN, folder / "good.journal")
    bad = folder / "bad.journal"
    shutil.copy(GOLDEN, bad)
    bad.chmod(0o600)
    JOURNAL_KINDS[kind](rng, bad)
    listed = run(["incidents", "--incidents-folder", str(folder)])
    check(listed, [Exit.OK])
    assert "good.journal" in listed.out
    for number, name in enumerate(rng.sample(TRIED, A_FILE)):
        ended = COMMANDS[name](bad, tmp_path / f"out-{number}")
        try:
            check(ended, CODES)
        except AssertionError as failed:
            raise AssertionError(f"{name}: {ended.code} {ended.err[-2000:]}") from failed
