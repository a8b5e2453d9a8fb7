"""The incidents that are being recorded on this machine: which there are, and how they stand."""

from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import ENDING, journal_at
from monitor.errors import BadUsage, NotAnswered
from monitor.settings import Settings

if TYPE_CHECKING:
    from monitor.feed.status import Status
    from monitor.incident.picture import Picture


def recorded_here(settings: Settings) -> list[Path]:
    """Every journal of the incidents folder that somebody records into now, by name."""
    from monitor.cli.waiting import wait_for
    from monitor.journal import lock

    wait_for(str(settings.incidents_path))
    found = sorted(settings.incidents_path.glob(f"*{ENDING}"))
    return [path for path in found if lock.is_recorded(path)]


def the_one(said: Path | None, settings: Settings) -> Path:
    """The one that is named, else the only one. Raises BadUsage, BadJournal, NotAnswered."""
    from monitor.journal import lock

    if said is not None:
        path = journal_at(said, settings)
        if not lock.is_recorded(path):
            raise NotAnswered("nobody records this incident", str(path), "see outby incidents")
        return path
    found = recorded_here(settings)
    if not found:
        raise NotAnswered("nothing is recorded here", str(settings.incidents_path))
    if len(found) > 1:
        names = ", ".join(path.stem for path in found)
        raise BadUsage("several incidents are recorded here", names, "name one")
    return found[0]


def picture_of(path: Path, settings: Settings) -> "Picture":
    """How it stands, by what is in the journal now. Raises BadJournal."""
    from monitor.cli.journals import followed

    with followed(path, settings) as follower:
        while follower.poll() and follower.catching_up:
            pass
        return follower.picture()


def status_of(path: Path, settings: Settings) -> "Status":
    """How well it is recorded. Raises BadJournal."""
    from monitor.clock import Clock
    from monitor.feed.status import status
    from monitor.journal import lock
    from monitor.journal.reader import JournalReader

    with JournalReader(path) as reader:
        since_wall_ns = reader.sessions()[-1].started_wall_ns
    picture = picture_of(path, settings)
    return status(picture, path.name, lock.holder(path), since_wall_ns, Clock().wall_ns())
