"""What incidents are on this machine: a look into each journal, without folding it."""

import json
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from monitor.errors import BadJournal
from monitor.incident.decoding import NOT_UNDERSTOOD, event_of
from monitor.incident.events import Done, Opened
from monitor.incident.rows import Row, RowKind
from monitor.journal import lock
from monitor.journal.half_made import making_path
from monitor.journal.making import wal_path
from monitor.journal.reader import JournalReader
from monitor.journal.schema import ROWS_A_STEP_MAX
from monitor.journal.writer import MAKING

ENDING = ".journal"


class State(StrEnum):
    """How an incident stands, in the words of the list."""

    RECORDED = "recorded now"
    OPEN = "open"
    """Recording was stopped in good order; it may go on."""
    INTERRUPTED = "interrupted"
    """The recorder died or the power went; it may go on."""
    CLOSED = "closed"
    HALF_MADE = "half made"
    """The recorder ended before anything was in it; it cannot go on."""
    UNREADABLE = "cannot be read"


@dataclass(frozen=True, slots=True)
class Entry:
    """One incident."""

    path: Path
    state: State
    size_bytes: int
    """The journal and its write-ahead log."""
    name: str = ""
    use: str = ""
    """``exercise`` or ``real``; empty where nothing tells."""
    opened_wall_ns: int = 0
    length_ns: int = 0
    """From the opening to the last horizon."""
    changed_wall_ns: int = 0
    """The wall clock at the last commit."""
    fault: str = ""
    """Why it cannot be read."""


def survey(folder: Path) -> list[Entry]:
    """Every journal in ``folder``, last changed first; none where the folder is not there."""
    found = [entry_of(path) for path in folder.glob(f"*{ENDING}") if not path.is_dir()]
    found += _not_whole(folder)
    return sorted(found, key=lambda entry: (-entry.changed_wall_ns, entry.path.name))


def _not_whole(folder: Path) -> list[Entry]:
    """Those that never got their name, and are not being made now."""
    made = [path.with_suffix("") for path in folder.glob(f"*{ENDING}{MAKING}")]
    return [
        Entry(path, State.HALF_MADE, _size(making_path(path)))
        for path in made
        if not path.exists() and not lock.is_recorded(path)
    ]


def kept_logs(folder: Path) -> list[Path]:
    """Write-ahead logs of journals that others took the names of: nothing reads them any more."""
    found = folder.glob(f"*{ENDING}-wal.*")
    return sorted(path for path in found if path.suffix[1:].isdecimal())


def entry_of(path: Path) -> Entry:
    """One journal; what is wrong with it is said in the entry, never raised."""
    size = _size(path) + _size(wal_path(path))
    try:
        return _readable(path, size)
    except BadJournal as error:
        return Entry(path, State.UNREADABLE, size, fault=str(BadJournal(error.what)))
    except OSError as error:
        return Entry(path, State.UNREADABLE, size, fault=error.strerror or "not readable")


def _size(path: Path) -> int:
    """Bytes of a file; 0 where there is none, or nothing tells."""
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _readable(path: Path, size: int) -> Entry:
    with JournalReader(path) as reader:
        header, last = reader.header(), reader.last_batch()
        first = reader.read(0, 1).rows
        end = reader.read(max(0, last.last_row - ROWS_A_STEP_MAX)).rows
    state = _state(path, end)
    if last.last_row == 0 and state is not State.RECORDED:
        state = State.HALF_MADE
    return Entry(
        path,
        state,
        size,
        name=_name(first),
        use=header.use,
        opened_wall_ns=header.opened_wall_ns,
        length_ns=max(0, last.horizon),
        changed_wall_ns=last.wall_ns,
    )


def _state(path: Path, end: list[Row]) -> State:
    """Nothing is taken after the close, so it stands among the last rows or nowhere."""
    if not lock.is_free(path):
        return State.RECORDED
    if any(row.kind is RowKind.ACT and _closes(row.data) for row in end):
        return State.CLOSED
    # A recorder takes its lock file away as it ends; one that was killed could not.
    return State.INTERRUPTED if lock.lock_path(path).exists() else State.OPEN


def _closes(data: bytes) -> bool:
    try:
        said = json.loads(data)
    except (ValueError, RecursionError):
        return False
    return isinstance(said, dict) and said.get("what") == "close"


def _name(first: list[Row]) -> str:
    """As the first row tells it; empty where it is not there or not to be understood."""
    try:
        event = event_of(first[0]) if first else None
    except NOT_UNDERSTOOD:
        return ""
    if isinstance(event, Done) and isinstance(event.what, Opened):
        return event.what.name
    return ""
