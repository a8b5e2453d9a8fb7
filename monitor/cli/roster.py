"""``outby roster``: check a roster, show it, write it in the other form; or save the board's."""

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import journal_at
from monitor.cli.options import Subparsers, add_command, add_output, add_settings, settings_of
from monitor.errors import BadFile, BadJournal, BadUsage, Exit
from shared import reading

if TYPE_CHECKING:
    from monitor.roster import Roster
    from monitor.settings import Settings

JOURNAL_MAGIC = b"SQLite format 3\0"
"""What every journal begins with, as any file of SQLite does."""

_DESCRIPTION = """\
Reads a roster, says what is wrong with it and where, or shows it as a table.

WHAT is a TOML or CSV file, or the name of one that comes with the program. The first line of a
CSV names its columns: name, and any of call_sign, crew, leader, pack, set_id, cylinder_id,
cylinder, water_volume_l, rated_bar, apparatus, gauge. Commas, semicolons or tabs part cells, as
spreadsheets write them.

WHAT may also be a journal, a path or a name in the incidents folder with its ending: then the
roster is who is on that board now, with crews, packs and cylinders as they stand. The journal may
be one that is being recorded.

--output writes it into a new file, as TOML or CSV by its ending; nothing is written over, and only
its owner can read it."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "roster",
        run=run,
        summary="check and show a roster; TOML to CSV and back; save that of a board",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby roster my-crews.csv", "is it right, and who is in it"),
            ("outby roster my-crews.csv -o my-crews.toml", "the same as TOML"),
            ("outby roster kiln-lane.journal -o tomorrow.toml", "who is on the board, saved"),
        ),
    )
    parser.add_argument("what", metavar="WHAT", help="a roster, or a journal")
    group = parser.add_argument_group("WHAT TO DO WITH IT")
    add_output(group, "a new file in .toml or .csv")
    group.add_argument("--cylinders", metavar="FILE", help="cylinders of your own, by name")
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Show or write it. Raises BadUsage, BadFile, BadJournal."""
    from monitor import roster_text
    from monitor.report.file import write

    if args.output is not None and args.output.suffix.casefold() not in {".toml", ".csv"}:
        raise BadUsage("a roster is TOML or CSV", str(args.output), "name a file in .toml or .csv")
    people, told = _read(args.what, settings_of(args))
    if args.output is None:
        print("\n".join(shown(people)))
    else:
        as_table = args.output.suffix.casefold() == ".csv"
        write(args.output, [roster_text.table(people) if as_table else roster_text.toml(people)])
        print(f"{args.output}: {counted(people)}")
        if as_table and people.title:
            print(f"a table has no place for the title: {people.title}")
    for line in told:
        print(line)
    return Exit.OK


def _read(what: str, settings: "Settings") -> "tuple[Roster, Sequence[str]]":
    """The roster meant; what could not be kept of a board's, in words."""
    from monitor import roster

    journal = _journal(what, settings)
    if journal is None:
        return roster.load(what, settings.cylinders), ()
    return _of_journal(journal)


def _journal(what: str, settings: "Settings") -> Path | None:
    """The journal meant; None where a roster is."""
    from monitor import roster

    path = Path(what)
    if what in roster.names() or path.suffix.casefold() in {".toml", ".csv"}:
        return None
    from monitor.archive.unpacking import is_packed

    try:
        if not is_packed(path):
            return path if reading.part(path, len(JOURNAL_MAGIC)) == JOURNAL_MAGIC else None
    except reading.NotThere:
        pass
    except reading.Unreadable:
        # Why it cannot be read is said where rosters are.
        return None
    try:
        return journal_at(path, settings)
    except BadJournal:
        return None


def _of_journal(path: Path) -> "tuple[Roster, Sequence[str]]":
    from monitor import roster
    from monitor.follower import Follower

    with Follower(path) as follower:
        while follower.poll() and follower.catching_up:
            pass
        incident = follower.incident
        people = incident.check_ins()
        if not people or incident.opened is None:
            raise BadFile("nobody is on that board", str(path), "check somebody in first")
        return roster.of_board(people, incident.opened.name)


# ---------------------------------------------------------------- a table to read


def counted(people: "Roster") -> str:
    """How much of what there is, in words."""
    crews = {person.crew for person in people.people if person.crew}
    packs = sum(person.pack is not None for person in people.people)
    counts = ((len(people.people), "person", "people"), (len(crews), "crew", "crews"),
              (packs, "pack", "packs"))  # fmt: skip
    return ", ".join(f"{count} {one if count == 1 else many}" for count, one, many in counts)


def shown(people: "Roster") -> Iterator[str]:
    """The roster in lines; columns that nobody has anything in are left out."""
    from rich.cells import cell_len, set_cell_size

    from monitor.roster import Person
    from monitor.roster_text import cell, values

    rows = [
        {"no": str(number), **{key: cell(value) for key, value in values(person)}}
        for number, person in enumerate(people.people, start=1)
    ]
    keys = [key for key in ("no", *Person.model_fields) if any(key in row for row in rows)]
    wide = {key: max(len(key), *(cell_len(row.get(key, "")) for row in rows)) for key in keys}
    if people.title:
        yield people.title
    yield counted(people)
    yield ""
    yield "  ".join(set_cell_size(key, wide[key]) for key in keys).rstrip()
    for row in rows:
        yield "  ".join(set_cell_size(row.get(key, ""), wide[key]) for key in keys).rstrip()
