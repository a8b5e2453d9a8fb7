"""``outby incidents``: what is on this machine, and one incident packed up for hand-over."""

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import (
    aside_line,
    at_or_gone,
    elsewhere_line,
    half_made_at,
    journal_at,
    journal_to_go_on,
    kept_log_line,
    second_places,
    span,
    stranger_line,
    when,
)
from monitor.cli.options import (
    CAUTION,
    Subparsers,
    add_act,
    add_command,
    add_format,
    add_settings,
    settings_of,
)
from monitor.errors import BadJournal, BadUsage, Busy, Exit
from shared import reading

if TYPE_CHECKING:
    from collections.abc import Sequence

    from monitor.archive.survey import Entry
    from monitor.settings import Settings

KILO = 1_000
NS_PER_S = 1_000_000_000

_DESCRIPTION = """\
Lists every journal of the incidents folder, last changed first: name, EXERCISE or REAL, state,
length, size, last change, file. States:

  recorded now    a recorder writes to it
  open            recording was stopped in good order; "outby watch FILE"
                  goes on
  interrupted     the recorder died or the power went; "outby watch FILE"
                  goes on
  closed          the incident has ended
  half made       the recorder ended before anything was in it; it cannot
                  go on: "outby incidents discard NAME" takes it away
  cannot be read  damaged, of a newer version, or no journal

Below it stands what is in no journal: rows that a recorder could only keep in a second
place before it died. The next recorder brings them in; so does "outby incidents recover
NAME", also where the journal itself is gone. Rows of another incident that had the same
name are told as that; what does not fit is kept aside, with its path.

"outby incidents pack NAME" makes one file of an incident for whoever gets it: a zip archive
with the journal, its running digest, what "outby verify" found, and the page that tells how to
read it. Beside it stands the archive's own checksum, for "sha256sum -c". It refuses an incident
that is being recorded, writes over nothing, and leaves the journal as it is. Names, whereabouts
and health of people are in it: hand it to nobody else."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command and its act."""
    parser = add_command(
        subparsers,
        "incidents",
        run=run,
        summary="what is on this machine; pack one up for hand-over",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.BUSY,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby incidents", "list them"),
            ("outby incidents --json", "the same for a program"),
            ("outby incidents discard 2026-03-14-1530-incident", "take a half made one away"),
            (
                "outby incidents pack 2026-03-14-1530-kiln-lane",
                "make 2026-03-14-1530-kiln-lane.zip here",
            ),
            (
                "outby incidents pack kiln-lane.journal /media/stick --key fleet.key",
                "into that folder, its keyed digest verified",
            ),
        ),
    )
    group = parser.add_argument_group("HOW TO TELL IT")
    add_format(group, ("text", "json"), "one list")
    add_settings(parser)
    acts = parser.add_subparsers(dest="act", metavar="ACT", title="ACTS")
    summary = "take away a journal that was never opened"
    act = add_act(acts, "discard", summary, (Exit.FILE, Exit.JOURNAL, Exit.BUSY))
    act.add_argument("journal", metavar="NAME|PATH", type=Path,
                     help="one that is listed as half made; no other is touched")  # fmt: skip
    add_settings(act)
    summary = "bring rows that are in a second place only into their journal"
    act = add_act(acts, "recover", summary, (Exit.FILE, Exit.JOURNAL, Exit.BUSY))
    act.add_argument("journal", metavar="NAME|PATH", type=Path,
                     help="as the list says; it is made anew where it is gone")  # fmt: skip
    act.add_argument("--key", metavar="FILE", help="fleet key file, to check a keyed digest")
    add_settings(act)
    summary = "make one file of an incident for hand-over"
    exits = (Exit.FILE, Exit.JOURNAL, Exit.BUSY, Exit.ALREADY_THERE)
    act = add_act(acts, "pack", summary, exits)
    act.add_argument("journal", metavar="NAME|PATH", type=Path,
                     help="one of the incidents folder, or any journal")  # fmt: skip
    act.add_argument("target", metavar="TARGET", type=Path, nargs="?", default=Path(),
                     help="the archive to make, or a folder for it; else here")  # fmt: skip
    act.add_argument("--key", metavar="FILE", help="fleet key file, to verify a keyed digest")
    add_settings(act)


def run(args: argparse.Namespace) -> int:
    """List, or pack. Raises Busy, BadJournal, BadFile."""
    settings = settings_of(args)
    if args.act == "pack":
        return _pack(args, settings)
    if args.act == "discard":
        return _discard(args, settings)
    if args.act == "recover":
        return _recover(args, settings)
    from monitor.archive.survey import kept_logs, survey
    from monitor.cli.waiting import wait_for

    folder = settings.incidents_path
    wait_for(str(folder))
    found = survey(folder)
    elsewhere = _elsewhere([entry.path for entry in found], settings)
    if settings.incidents_folder and not elsewhere and not folder.is_dir():
        raise BadUsage("there is no such folder", str(folder), "see the setting incidents_folder")
    if args.format == "json":
        from shared.printable import as_json

        print(as_json([_fields(entry) for entry in found]))
    elif not found:
        print(f"no incidents in {folder}")
    else:
        _print_table([_cells(entry) for entry in found])
    logs = [kept_log_line(path) for path in kept_logs(folder)]
    for line in [*elsewhere, *logs]:
        print(line, file=sys.stderr if args.format == "json" else sys.stdout)
    return Exit.OK


def _elsewhere(journals: "Sequence[Path]", settings: "Settings") -> list[str]:
    """What is in a second place only, of these and of journals that are gone."""
    from monitor.archive.elsewhere import kept_aside, of_journal, of_journals_gone, of_strangers

    folders = second_places(settings)
    found = [one for path in journals if (one := of_journal(path, folders)) is not None]
    found += of_journals_gone(settings.incidents_path, folders)
    strangers = [one for path in journals if (one := of_strangers(path, folders)) is not None]
    aside = [aside_line(path, file) for path in journals for file in kept_aside(path, folders)]
    return [*map(elsewhere_line, found), *map(stranger_line, strangers), *aside]


def _recover(args: argparse.Namespace, settings: "Settings") -> int:
    """Bring in what is elsewhere, with its lock held. Raises Busy, BadJournal, BadFile."""
    from monitor import keyfile
    from monitor.archive.elsewhere import of_journal, recover
    from monitor.journal.lock import Lock

    path, folders = at_or_gone(args.journal, settings), second_places(settings)
    key = keyfile.journal_key(reading.home(settings.key)) if settings.key else b""
    try:
        if of_journal(path, folders) is not None:
            # The whole folder may be gone.
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        lock = Lock.take(path)
        if lock is None:
            what = "this incident is being recorded"
            raise Busy(what, str(path), "its recorder brings them in by itself")
        with lock:
            rows = recover(path, folders, key)
    except OSError as error:
        raise BadJournal(f"it cannot be written: {error.strerror}", str(path)) from None
    print(f"{rows:,} rows brought into {path}; verify it: outby verify {path}")
    return Exit.OK


def _discard(args: argparse.Namespace, settings: "Settings") -> int:
    """Take one away, with its lock held. Raises Busy, BadJournal."""
    from monitor.archive.elsewhere import of_journal
    from monitor.journal import half_made
    from monitor.journal.lock import Lock

    path = half_made_at(args.journal, settings)
    kept = of_journal(path, second_places(settings))
    if kept is not None:
        what, to_do = "rows of it are kept in a second place", "outby incidents recover"
        raise BadJournal(what, str(path), f"{to_do} {path}")
    try:
        lock = Lock.take(path)
        if lock is None:
            raise Busy("this incident is being recorded", str(path), "it is not half made")
        with lock:
            if not half_made.is_half_made(path):
                raise BadJournal("there is something in it", str(path), "only half made go")
            # Where there is none, what is taken away is what never became one.
            (half_made.discard if path.exists() else half_made.discard_unmade)(path)
    except OSError as error:
        raise BadJournal(f"it cannot be taken away: {error.strerror}", str(path)) from None
    print(f"taken away: {path}")
    return Exit.OK


def _pack(args: argparse.Namespace, settings: "Settings") -> int:
    from monitor import keyfile
    from monitor.archive.packing import pack
    from monitor.clock import Clock

    journal_to_go_on(args.journal, settings)  # refuses one that is packed already
    path = journal_at(args.journal, settings)
    target = args.target / f"{path.stem}.zip" if args.target.is_dir() else args.target
    key = keyfile.journal_key(reading.home(settings.key)) if settings.key else b""
    made = pack(path, target, key, " ".join(CAUTION.split()), Clock().wall_ns())
    print(f"made {made.archive}: {made.verdict}")
    print(f"its checksum is in {made.checksum}: {made.sha256}")
    return Exit.OK


_HEAD = ("NAME", "USE", "STATE", "LENGTH", "SIZE", "LAST CHANGE", "FILE")


def _cells(entry: "Entry") -> tuple[str, ...]:
    use = {"exercise": "EXERCISE", "real": "REAL"}.get(entry.use, "-")
    if entry.fault or entry.state == "half made":
        return "-", use, entry.state, "-", _size(entry.size_bytes), "-", entry.path.name
    length, size = span(entry.length_ns), _size(entry.size_bytes)
    changed = when(entry.changed_wall_ns)
    return entry.name or "-", use, entry.state, length, size, changed, entry.path.name


def _size(count: int) -> str:
    """Bytes in thousands, cut off to what is easily read."""
    for unit in ("bytes", "kB", "MB"):
        if count < 10 * KILO:
            return f"{count} {unit}"
        count //= KILO
    return f"{count} GB"


def _print_table(rows: list[tuple[str, ...]]) -> None:
    table = [_HEAD, *rows]
    widths = [max(len(row[column]) for row in table) for column in range(len(_HEAD))]
    for row in table:
        cells = (cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        print("  ".join(cells).rstrip())


def _fields(entry: "Entry") -> dict[str, object]:
    """The same for a program; what is not known is null. Lengths are cut off to whole seconds."""
    from monitor.iso import iso_s

    known = not entry.fault and entry.opened_wall_ns > 0
    return {
        "journal": str(entry.path),
        "name": entry.name or None,
        "use": entry.use or None,
        "state": entry.state,
        "opened": iso_s(entry.opened_wall_ns) if known else None,
        "length_s": entry.length_ns // NS_PER_S if known else None,
        "size_bytes": entry.size_bytes,
        "last_change": iso_s(entry.changed_wall_ns) if known else None,
        "fault": entry.fault or None,
    }
