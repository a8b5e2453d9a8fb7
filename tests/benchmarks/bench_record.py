"""What is told of an incident of eight hours and fifty packs, by what was gathered meanwhile."""

import contextlib
import gc
import io
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from monitor.checkpoint.keeper import Follow, Keeper
from monitor.checkpoint.shelf import Folder
from monitor.cli import main
from monitor.journal.reader import JournalReader
from monitor.report.gathered_before import ENDING, gatherings_of
from monitor.report.gathering import Gathering
from tests.benchmarks import long_incident
from tests.benchmarks.measuring import Figure

BARE = "a bare cursor over its rows"
REPORT_S, REPORT_GOAL_S = 10.0, 5.0
OTHERS_S, OTHERS_GOAL_S = 3.0, 1.5
PAGE_MB, PAGE_GOAL_MB = 3.0, 1.5
EXPORT_S = {"csv": (20.0, 10.0), "parquet": (12.0, 6.0)}


def figures() -> Iterator[Figure]:
    """Processor time of each command, as somebody calls it; then the least that is read for it."""
    path = long_incident.kept()
    before = Folder(path, ending=ENDING)
    for name in before.sizes():
        before.drop(name)
    Keeper(path).look()
    bare_s = _took_s(lambda: _cursor(path))
    with JournalReader(path) as reader:
        gathered = gatherings_of(path, reader.header())
    made_s = _took_s(lambda: Follow(path, gathered, Gathering).look())
    yield Figure("gathering 8 h, 50 packs, while recording", made_s, "s", None, None, bare_s, BARE)
    folder = path.parent / "told"
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir()
    page = folder / "page.html"
    for what, words, bars in (
        ("report of 8 h", ["report", str(path), "-o", str(page)], (REPORT_S, REPORT_GOAL_S)),
        ("  its alarms", ["report", str(path), "--alarms"], (OTHERS_S, OTHERS_GOAL_S)),
        ("  its orders", ["orders", str(path)], (OTHERS_S, OTHERS_GOAL_S)),
        ("  page for the next officer", ["handover", str(path)], (OTHERS_S, OTHERS_GOAL_S)),
        *(
            (f"  export, {name}", ["export", str(path), str(folder / name), "--format", name], bars)
            for name, bars in EXPORT_S.items()
        ),
    ):
        yield Figure(what, _command_s(words), "s", *bars, bare_s, BARE)
    yield Figure(
        "  the page", page.stat().st_size / 1e6, "MB", PAGE_MB, PAGE_GOAL_MB,
        path.stat().st_size / 1e6, "the journal",
    )  # fmt: skip
    shutil.rmtree(folder)


def _took_s(work: Callable[[], object]) -> float:
    gc.collect()
    start = time.process_time()
    work()
    return time.process_time() - start


def _command_s(words: list[str]) -> float:
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        return _took_s(lambda: main(words))


def _cursor(path: Path) -> None:
    with JournalReader(path) as reader:
        for _ in reader.steps(reader.last_batch().last_row):
            pass
