"""What the commands say of journals, and how they find the one that is meant."""

from pathlib import Path

from monitor.errors import BadJournal
from monitor.settings import Settings

ENDING = ".journal"


def journal_at(said: Path, settings: Settings) -> Path:
    """The journal meant: a path, or the name of one in the incidents folder, without its ending.

    Raises BadJournal if there is none.
    """
    folder = settings.incidents_path
    for path in (said, folder / said, folder / f"{said}{ENDING}"):
        if path.is_file():
            return path
    raise BadJournal("there is no such journal", str(said), "see outby incidents")


def digest_line(path: Path) -> str:
    """The digest of the newest commit, to be noted where nobody can change it."""
    from monitor.journal.digest import shown
    from monitor.journal.reader import JournalReader

    with JournalReader(path) as reader:
        how = "keyed digest" if reader.header().digest == "keyed" else "digest, without a key,"
        return f"{how} {shown(reader.last_batch().digest)}"


def say_closed(path: Path) -> None:
    """Say that an incident has ended, and its digest."""
    print(f"the incident is closed: {path}")
    try:
        print(f"note down its {digest_line(path)}")
    except BadJournal:
        # The recorder is just making one plain file of it.
        print(f"see its digest by: outby verify {path}")
