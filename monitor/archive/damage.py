"""How far a damaged journal can be told of, and what is left out then.

Everything up to the last commit that is right is told as of any journal. A row behind a fault may
be right too, but a fold that has missed one may be wrong in everything after, so nothing of it is.
"""

from dataclasses import dataclass
from pathlib import Path

from monitor.errors import BadJournal
from monitor.incident.decoding import NOT_UNDERSTOOD, event_of, why
from monitor.journal.connection import Damaged
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch
from monitor.journal.verify import examine


@dataclass(frozen=True, slots=True)
class Whole:
    """The part of a damaged journal that is right."""

    last: Batch
    """Its last commit."""
    left_out: str
    """What is not told and why, as half a sentence."""


def whole_part(path: Path, error: BadJournal) -> Whole:
    """Look how far a journal is right that could not be read, as ``error`` says.

    Raises ``error`` where nothing of it is right, or it is as it was written and still cannot be.
    """
    try:
        found = examine(path)
    except BadJournal:
        raise error from None
    last, fault = found.last, found.fault
    if fault is None or last is None or not last.last_row:
        raise error
    rows = rows_there(path)
    after = f"{rows - last.last_row:,} of {rows:,} rows" if rows > last.last_row else "the rest"
    return Whole(last, f"{after} from row {last.last_row + 1:,} on ({fault})")


def rows_there(path: Path) -> int:
    """How many rows are in the file; 0 where they cannot be counted."""
    try:
        with JournalReader(path, damaged=True) as reader:
            return reader.count()
    except BadJournal:
        return 0


def look_at(path: Path) -> Whole | None:
    """Look quickly, without folding, whether all rows are there; None: they are.

    It finds rows that are missing and pages that cannot be read. Raises BadJournal as
    ``whole_part`` does.
    """
    try:
        with JournalReader(path) as reader:
            last = reader.last_batch()
            missing = last.last_row - reader.count(last.last_row)
    except Damaged as error:
        return whole_part(path, error)
    if missing:
        return whole_part(path, BadJournal("rows are missing", str(path), "verify it"))
    return None


def look_through(path: Path) -> Whole | None:
    """Look at every row, without folding; None: each is what its kind says.

    Raises BadJournal as ``whole_part`` does.
    """
    try:
        with JournalReader(path) as reader:
            for step in reader.steps(reader.last_batch().last_row):
                for row in step:
                    event_of(row)
    except BadJournal as error:
        return whole_part(path, error)
    except NOT_UNDERSTOOD as error:
        what = f"a row is not to be understood ({why(error)})"
        return whole_part(path, BadJournal(what, str(path), "verify it"))
    return None
