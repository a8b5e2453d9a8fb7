"""``outby export``: a journal as tables for other programs, its raw frames as a capture."""

import argparse
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import journal_at, progress, said_damaged
from monitor.cli.options import CAUTION, WHICH, Subparsers, add_command, add_settings, settings_of
from monitor.errors import BadJournal, BadUsage, Exit

if TYPE_CHECKING:
    from monitor.archive.damage import Whole
    from monitor.export.capture import CaptureWriter
    from monitor.export.exporter import Exported
    from monitor.export.sinks import Sink
    from monitor.export.tables import Table

FORMATS = ("csv", "jsonl", "parquet")

_DESCRIPTION = """\
Writes what a journal holds as tables into a new FOLDER: the incident, wearers (one row a stay on
air), readings (one row a frame or spoken reading), alarms, acts, orders with every answer, facts,
and how well each pack was heard each minute. Units stand in the names of the columns;
DATA-DICTIONARY.md in the folder says what each column means. EXERCISE or REAL stands in every row.

Formats: comma-separated values, JSON Lines, and Parquet, which needs the extra of that name.

--frames writes the raw frames as a pcapng capture, with a comment where a frame was not live.
With the dissector that comes with the packet format Wireshark and tshark take them apart; where
it is, this command says.

Nothing is written over. Names, whereabouts and health of people are in all of it. A journal that
is still recorded is exported up to its last commit."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "export",
        run=run,
        summary="a journal as tables, its frames as a capture",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.CHANGED,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby export kiln-lane.journal kiln-lane", "tables as comma-separated values"),
            (
                "outby export kiln-lane.journal kiln-lane --format parquet --format jsonl",
                "as Parquet and as JSON Lines",
            ),
            (
                "outby export kiln-lane.journal --frames kiln-lane.pcapng",
                "the raw frames alone, for Wireshark",
            ),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path,
                        help=WHICH)  # fmt: skip
    parser.add_argument("folder", metavar="FOLDER", type=Path, nargs="?",
                        help="the folder to make for the tables")  # fmt: skip
    group = parser.add_argument_group("WHAT IS WRITTEN")
    group.add_argument("--format", dest="formats", action="append", choices=FORMATS,
                       help="of the tables; may be given several times; else csv")  # fmt: skip
    group.add_argument("--frames", metavar="FILE", type=Path,
                       help="write the raw frames as pcapng")  # fmt: skip
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Export. Raises BadUsage, BadFile, BadJournal."""
    from monitor.archive.damage import whole_part

    if args.folder is None and args.frames is None:
        raise BadUsage("nothing to write", to_do="name a FOLDER for tables, or --frames FILE")
    if args.folder is None and args.formats:
        raise BadUsage("tables need a place", "--format", "name a FOLDER")
    path = journal_at(args.journal, settings_of(args))
    whole = None
    try:
        done = _exported(args, path, None)
    except BadJournal as error:
        whole = whole_part(path, error)
        done = _exported(args, path, whole)
    print(f"{done.name}, {done.use}: {done.rows:,} rows of the journal")
    if args.folder is not None:
        print(f"tables in {args.folder}; DATA-DICTIONARY.md there says what they hold")
    if args.frames is not None:
        print(f"{done.frames:,} frames in {args.frames}; to look at them:")
        print(f"  wireshark -X lua_script:{_dissector()} {args.frames}")
    return said_damaged(path, whole.left_out) if whole else Exit.OK


def _exported(args: argparse.Namespace, path: Path, whole: "Whole | None") -> "Exported":
    from monitor.export.exporter import Exporter

    caution = " ".join(CAUTION.split())
    with ExitStack() as open_files:
        capture = open_files.enter_context(_capture(args.frames, caution))
        sinks = open_files.enter_context(_sinks(args.folder, args.formats or ["csv"]))
        return Exporter(path, sinks, capture, caution, whole).run(progress())


@contextmanager
def _capture(path: Path | None, caution: str) -> "Iterator[CaptureWriter | None]":
    """A capture that goes away again if it could not be filled."""
    from monitor import __version__
    from monitor.export.capture import CaptureWriter
    from monitor.export.exporter import CAPTURE_COMMENT
    from monitor.export.folder import told
    from monitor.export.sinks import BUFFER_BYTES, open_new

    if path is None:
        yield None
        return
    with told(path):
        number = open_new(path)
    try:
        with told(path), open(number, "wb", BUFFER_BYTES) as file:  # noqa: PTH123 - an open file
            yield CaptureWriter(file, f"outby {__version__}", f"{CAPTURE_COMMENT} {caution}")
    except BaseException:
        path.unlink(missing_ok=True)
        raise


@contextmanager
def _sinks(folder: Path | None, formats: list[str]) -> "Iterator[dict[str, list[Sink]]]":
    """By table: what writes it, once a format. They are closed before the folder gets its name."""
    from monitor.export.folder import new_folder
    from monitor.export.tables import TABLES

    if folder is None:
        yield {}
        return
    writers = {f".{name}": _writer(name) for name in formats}
    with new_folder(folder) as making, ExitStack() as closing:
        made: dict[str, list[Sink]] = {}
        for table in TABLES:
            for ending, writer in writers.items():
                sink = writer(making / f"{table.name}{ending}", table)
                closing.callback(sink.close)
                made.setdefault(table.name, []).append(sink)
        yield made


def _writer(name: str) -> "Callable[[Path, Table], Sink]":
    """What writes a format. Raises BadUsage where it is not installed."""
    from monitor.export.sinks import WRITERS

    if name != "parquet":
        return WRITERS[f".{name}"]
    try:
        from monitor.export.parquet import ParquetSink
    except ModuleNotFoundError:
        raise BadUsage(
            "Parquet needs the extra of that name",
            "--format parquet",
            "install it: pip install 'outby[parquet]'",
        ) from None
    return ParquetSink


def _dissector() -> Path:
    """Where the dissector that comes with the packet format is."""
    import protocol

    return Path(protocol.__file__).with_name("outby.lua")
