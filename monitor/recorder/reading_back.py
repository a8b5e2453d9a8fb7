"""An incident that is taken up: its journal folded again, as far as it goes."""

import gc
from pathlib import Path

from monitor.checkpoint.keeping import Checkpoints
from monitor.checkpoint.recalled import Recalled
from monitor.errors import BadJournal
from monitor.incident.decoding import NOT_UNDERSTOOD, why
from monitor.journal.reader import JournalReader


def unfoldable(path: Path, error: Exception) -> BadJournal:
    """What is said of a journal whose rows are not to be understood."""
    return BadJournal(f"the journal cannot be folded: {why(error)}", str(path), "keep the file")


def recalled(reader: JournalReader, checkpoints: Checkpoints | None) -> Recalled:
    """Fold the journal, from the newest checkpoint if there is one. Raises BadJournal.

    Without the garbage collector: nothing of it is garbage.
    """
    gc.disable()
    try:
        found = checkpoints.newest(reader.batch) if checkpoints else None
        rows = found.state if found else Recalled()
        complete = False
        while not complete:
            step = reader.read(rows.row)
            rows.take(step.rows)
            complete = step.complete
    except NOT_UNDERSTOOD as error:
        raise unfoldable(reader.path, error) from error
    finally:
        gc.enable()
    if rows.opened is None:
        raise BadJournal("no row says what incident this is", str(reader.path), "keep the file")
    return rows
