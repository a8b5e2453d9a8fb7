"""What the commands say of journals, and how they find the one that is meant."""

import contextlib
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.errors import BadFile, BadJournal, Exit
from monitor.settings import Settings
from shared.reading import NotThere, Unreadable, regular

if TYPE_CHECKING:
    from monitor.archive.elsewhere import Elsewhere
    from monitor.checkpoint.keeping import Series
    from monitor.follower import Follower
    from monitor.journal.schema import Header
    from monitor.report.gathering import Gathering

ENDING = ".journal"
MAKING = ".making"
"""Of one that is not whole yet."""
SHOWN_MAX = 6
"""Where several journals fit, so many are named."""
NS_PER_S = 1_000_000_000
MINUTE_S = 60
HOUR_S = 3_600


_taken_out = contextlib.ExitStack()
"""Journals of packed incidents, which are people's data: they go away with the command."""


@contextlib.contextmanager
def taken_out() -> Iterator[None]:
    """Take away what was taken out of archives meanwhile."""
    with _taken_out:
        try:
            yield
        finally:
            _packed.clear()


_packed: dict[str, str] = {}
"""Where a journal is while it is read, and the archive that it is of."""


def by_its_name(text: str) -> str:
    """What is said of a journal that was taken out of an archive, by the name of that."""
    for path, archive in _packed.items():
        text = text.replace(path, archive)
    return text


def journal_at(said: Path, settings: Settings) -> Path:
    """The journal meant.

    A path, a file of the incidents folder with or without its ending, the name of an incident as
    ``outby incidents`` shows it, a part that fits one only, or ``last``. That of a packed incident
    is taken out of its archive until the command ends.

    Waits, and says so, while a disk does not answer. Raises BadJournal if there is none, or several
    fit.
    """
    from monitor.archive import unpacking
    from monitor.cli.waiting import wait_for

    wait_for(str(said if os.path.lexists(said) else settings.incidents_path))
    found = _found(said, settings)
    if found is None:
        _check_not_gone(said, settings)
        found = _named_so(said, settings)
    if found is None:
        raise BadJournal("there is no such journal", str(said), "see outby incidents")
    if unpacking.is_packed(found):
        path = _taken_out.enter_context(unpacking.unpacked(found))
        _packed[str(path)] = str(found)
        return path
    _say_elsewhere(found, settings)
    return found


def journal_to_go_on(said: Path, settings: Settings) -> Path:
    """The same, or the path of a journal still to be made: that is wherever was said.

    A part of a name fits nothing here, and what has ended is not gone on with: what is called so
    may be meant to begin. Raises BadJournal for one that was there, is gone, and is kept in a
    second place, or where several fit.
    """
    from monitor.archive.unpacking import is_packed

    found = _found(said, settings)
    if found is None:
        _check_not_gone(said, settings)
        found = _named_so(said, settings, to_go_on=True)
    elif is_packed(found):
        what = "this is a packed incident, which is only read"
        raise BadJournal(what, str(found), "go on with its journal, or take that out of it")
    return found or said


def _named_so(said: Path, settings: Settings, *, to_go_on: bool = False) -> Path | None:
    """The one incident of the folder that is called so. Raises BadJournal where several are."""
    from monitor.archive.naming import meant
    from monitor.archive.survey import State, survey

    if said.name != str(said) or (to_go_on and said.name.endswith(ENDING)):
        return None
    entries = survey(settings.incidents_path)
    if to_go_on:
        entries = [entry for entry in entries if entry.state is not State.CLOSED]
    found = meant(str(said), entries, whole=to_go_on)
    if len(found) > 1:
        names = ", ".join(entry.path.name.removesuffix(ENDING) for entry in found[:SHOWN_MAX])
        more = f" and {len(found) - SHOWN_MAX} more" if len(found) > SHOWN_MAX else ""
        raise BadJournal("several incidents are called so", str(said), f"say which: {names}{more}")
    return found[0].path if found else None


def _check_not_gone(said: Path, settings: Settings) -> None:
    from monitor.archive.elsewhere import of_journal

    folders = second_places(settings)
    for path in _named(said, settings):
        one = of_journal(path, folders)
        if one is not None:
            what = f"the journal is gone; {one.rows:,} rows of it are kept in a second place"
            raise BadJournal(what, str(path), f"bring it back: outby incidents recover {path}")


def _say_elsewhere(path: Path, settings: Settings) -> None:
    """Say on stderr what the journal has not: whoever reads it now does not see it."""
    from monitor.archive.elsewhere import of_journal

    one = of_journal(path, second_places(settings))
    if one is not None:
        print(f"outby: {elsewhere_line(one)}", file=sys.stderr)


def elsewhere_line(one: "Elsewhere") -> str:
    """What is not in a journal, and the one command."""
    path, rows = one.journal, f"{one.rows:,} rows"
    if one.gone:
        return f"{path} is GONE; {rows} of it are kept: outby incidents recover {path}"
    return f"{rows} are NOT IN {path}, but kept: outby incidents recover {path}"


def stranger_line(one: "Elsewhere") -> str:
    """What there is of another incident that had a journal's name, and what to do."""
    what = f"{one.rows:,} rows of ANOTHER incident that had the name {one.journal} are kept"
    return f"{what}: move that journal away, then outby incidents recover {one.journal}"


def aside_line(journal: Path, file: Path) -> str:
    """A file that no recorder can bring in, and how to look at it."""
    return f"kept aside, for it does not go on from {journal}: {file}"


def kept_log_line(log: Path) -> str:
    """The log of a journal that is not there any more, and when it may go."""
    whose = log.with_suffix("").with_name(log.stem.removesuffix("-wal"))
    return f"kept, of an earlier {whose}: {log}: remove it once nothing of that one is missed"


def second_places(settings: Settings) -> Sequence[Path]:
    """Every folder in which rows may be that are in no journal; of one that hangs it is said."""
    from monitor.archive.elsewhere import places_of
    from monitor.journal.answering import answering

    folders, hung = answering(places_of(settings))
    for one in hung:
        print(f"outby: {hung_line(one)}", file=sys.stderr)
    return folders


def hung_line(folder: Path) -> str:
    """A second place that does not answer: it keeps nobody."""
    return f"the second place does not answer: {folder}: what it may have is left there"


def at_or_gone(said: Path, settings: Settings) -> Path:
    """The journal meant, also where only something of it in a second place is left."""
    from monitor.archive.elsewhere import of_journal

    folders = second_places(settings)
    gone = (path for path in _named(said, settings) if of_journal(path, folders) is not None)
    return _found(said, settings) or next(gone, said)


def half_made_at(said: Path, settings: Settings) -> Path:
    """The same of one that may never have got its name. Raises BadJournal if there is none."""
    found = _found(said, settings)
    if found is None:
        named = (path.with_name(path.name + MAKING) for path in _named(said, settings))
        found = next((path.with_suffix("") for path in named if path.is_file()), None)
    if found is None:
        raise BadJournal("there is no such journal", str(said), "see outby incidents")
    return found


def _found(said: Path, settings: Settings) -> Path | None:
    """The first that is a file; else the first that is anything, told where it is opened."""
    others: list[Path] = []
    for path in _named(said, settings):
        try:
            regular(path)
        except NotThere:
            continue
        except Unreadable:
            others.append(path)
        else:
            # Its log and lock lie beside the file itself, not beside a link to it.
            return path.resolve() if path.is_symlink() else path
    return others[0] if others else None


def _named(said: Path, settings: Settings) -> tuple[Path, ...]:
    folder = settings.incidents_path
    if said.name.endswith(ENDING):
        # Where the first cannot be looked at, no other must be made in its stead.
        return (said, folder / said)
    return (said, folder / said, folder / f"{said}{ENDING}")


def digest_line(path: Path) -> str:
    """The digest of the newest commit, to be noted where nobody can change it."""
    from monitor.journal.digest import shown
    from monitor.journal.reader import JournalReader

    with JournalReader(path) as reader:
        how = "keyed digest" if reader.header().digest == "keyed" else "digest, without a key,"
        return f"{how} {shown(reader.last_batch().digest)}"


def followed(path: Path, settings: Settings) -> "Follower":
    """Follow a journal for a page that is kept: what it tells must be what the journal says.

    It begins at a checkpoint only where the journal has no key, or the checkpoint has its tag.
    Raises BadJournal.
    """
    from monitor.follower import Follower
    from monitor.journal.reader import JournalReader

    with JournalReader(path) as reader:
        key = _tags_by(reader.header(), settings)
    return Follower(path, checkpoints=key is not None, key=key or b"")


def gathered_before(path: Path, settings: Settings) -> "Series[Gathering] | None":
    """What was gathered of a journal before, for a report to go on from; None: it may not be used.

    As ``followed``: only where the journal has no key, or with that key. Raises BadJournal.
    """
    from monitor.journal.reader import JournalReader
    from monitor.report.gathered_before import gatherings_of

    with JournalReader(path, damaged=True) as reader:
        header = reader.header()
    key = _tags_by(header, settings)
    return None if key is None else gatherings_of(path, header, key)


def _tags_by(header: "Header", settings: Settings) -> bytes | None:
    """The journal's key, by which checkpoints are tagged, empty where it has none.

    None: checkpoints are not wanted, or the key is not to be had.
    """
    from monitor import keyfile
    from monitor.journal.digest import key_check
    from shared import reading

    if not settings.checkpoints:
        return None
    if header.digest == "open":
        return b""
    key = b""
    if settings.key:
        with contextlib.suppress(BadFile):
            key = keyfile.journal_key(reading.home(settings.key))
    return key if key and key_check(key) == header.key_check else None


def said_damaged(path: Path, left_out: str) -> int:
    """Say on stderr what was left out of what was told; the exit code. Empty: nothing was."""
    if not left_out:
        return Exit.OK
    to_do = "see outby verify; --salvage makes a journal of what is right"
    where = by_its_name(str(path))
    print(f"outby: the journal is damaged: {where}: left out: {left_out}: {to_do}", file=sys.stderr)
    return Exit.CHANGED


def say_closed(path: Path) -> None:
    """Say that an incident has ended, and its digest."""
    print(f"the incident is closed: {path}")
    try:
        print(f"note down its {digest_line(path)}")
    except BadJournal:
        # The recorder is just making one plain file of it.
        print(f"see its digest by: outby verify {path}")


def when(wall_ns: int) -> str:
    """A wall-clock instant in the zone of this machine, which is said too."""
    return datetime.fromtimestamp(wall_ns // NS_PER_S).astimezone().strftime("%Y-%m-%d %H:%M:%S %z")


def span(ns: int) -> str:
    """A length of time in words, cut off to whole seconds: ``1 h 4 min 9 s``."""
    seconds = max(ns, 0) // NS_PER_S
    parts = (
        (seconds // HOUR_S, "h"),
        (seconds % HOUR_S // MINUTE_S, "min"),
        (seconds % MINUTE_S, "s"),
    )
    first = next((at for at, (value, _) in enumerate(parts) if value), len(parts) - 1)
    return " ".join(f"{value} {unit}" for value, unit in parts[first:])


def progress() -> Callable[[int, int], None]:
    """Tell a person at a terminal how far it is; a pipe is told nothing."""
    if not sys.stderr.isatty():
        return lambda _done, _all: None
    last = -1

    def tell(done: int, of: int) -> None:
        nonlocal last
        percent = 100 * done // max(of, 1)
        if percent != last:
            last = percent
            end = "\n" if done >= of else ""
            print(f"\r{percent} %", end=end, file=sys.stderr, flush=True)

    return tell
