"""``outby report``: what a journal tells, to print and keep, or its alarms in figures."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import gathered_before, journal_at, progress, said_damaged
from monitor.cli.options import (
    WHICH,
    Subparsers,
    add_command,
    add_format,
    add_output,
    add_settings,
    settings_of,
)
from monitor.errors import BadUsage, Exit
from shared import printable

if TYPE_CHECKING:
    from monitor.report.part import Part
    from monitor.report.reading import Told
    from monitor.settings import Settings

_DESCRIPTION = """\
Makes one page of HTML of a journal, to read in any browser, to print and to keep: summary; crews
on one axis of time; each wearer with pressure, rate, entries, alarms and orders; evacuations and
roll calls with every answer; how well packs were heard; how good the alarms were; the full time
line; the procedure in force with its sources; what the record is and how to check it. The file
needs nothing but itself: no network, no script. Times are of this machine's zone, which is said.

It writes over nothing, and only its owner can read it: names, whereabouts and health of people
are in it. The journal may be one that is being recorded: then it tells up to now. It does not
check the journal: "outby verify" does.

--alarms tells how good the alarms were, and no more: how often one waited for the officer, on
average and at worst; floods; what came most often; what chattered or stood for too long; shares
of the priorities; how long the officer needed; what was put aside. Each figure stands beside the
published one of ISA-18.2 and EEMUA 191, which are for plants that run steadily."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "report",
        run=run,
        summary="what a journal tells, to print and keep",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.CHANGED,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby report kiln-lane", "make kiln-lane.html here"),
            ("outby report kiln-lane -o debrief.html", "under that name"),
            ("outby report kiln-lane --wearer 4 --crew 'Alpha 1'", "of them alone"),
            ("outby report kiln-lane --from 14:05:00 --until 14:20:00", "of that time alone"),
            ("outby report door-a door-b -o fire.html", "two boards on one axis of time"),
            ("outby report kiln-lane --alarms", "how good the alarms were"),
            ("outby report kiln-lane --alarms --json", "the same for a program"),
        ),
    )
    parser.add_argument("journals", metavar="JOURNAL", type=Path, nargs="+",
                        help=f"{WHICH}; several of one operation: on one axis")  # fmt: skip
    group = parser.add_argument_group("WHAT TO TELL")
    add_output(group, "the new file; left out: the journal's name and .html, here")
    group.add_argument("--wearer", metavar="N", type=int, action="append", default=[],
                       help="of this wearer alone; may be given several times")  # fmt: skip
    group.add_argument("--crew", metavar="NAME", action="append", default=[],
                       help="of this crew alone; may be given several times")  # fmt: skip
    group.add_argument("--from", dest="since", metavar="TIME",
                       help="what reaches into the time from then on: HH:MM:SS of the day, or "
                            "seconds from the start")  # fmt: skip
    group.add_argument("--until", metavar="TIME", help="and up to then")
    group.add_argument("--alarms", action="store_true", help="the quality of the alarms alone")
    add_format(group, ("text", "json"), "of the alarms, as fields")
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell what was asked. Raises BadUsage, BadJournal, BadFile."""
    from monitor.report.file import must_be_new, write
    from monitor.report.part import Part
    from monitor.report.reading import read
    from monitor.report.report_page import report

    if args.format == "json" and not args.alarms:
        raise BadUsage("fields are of the alarms alone", "--format json", "say --alarms too")
    if args.alarms and args.output:
        raise BadUsage("the alarms are printed", "--output", "leave it out, or send them to a file")
    part = Part(frozenset(args.wearer), frozenset(args.crew))
    stretch = " ".join(filter(None, (args.since, args.until)))
    if args.alarms and (part.of_some or stretch):
        raise BadUsage("the alarms are told of everybody", part.words or stretch, "leave that out")
    settings = settings_of(args)
    if len(args.journals) > 1:
        if args.alarms or part.of_some or stretch:
            what = "several journals are told as a whole"
            raise BadUsage(what, str(len(args.journals)), "name one, or leave the rest out")
        return _operation(args, settings)
    path = journal_at(args.journals[0], settings)
    before = gathered_before(path, settings)
    if args.alarms:
        told = read(path, progress(), before)
        print(_alarms(told, as_json=args.format == "json"))
        return said_damaged(path, told.left_out)
    output = args.output or Path(f"{path.stem}.html")
    must_be_new(output)
    told = read(path, progress(), before)
    if unknown := part.unknown(told):
        raise BadUsage("nobody on this board is so", unknown, "see the report of everybody")
    part = _of_then(part, told, args.since, args.until)
    write(output, report(told, None, part if part.words else None))
    print(f"{output}: names, whereabouts and health of people are in it; hand it to nobody else")
    return said_damaged(path, told.left_out)


def _operation(args: argparse.Namespace, settings: "Settings") -> int:
    """Tell several journals on one axis of time. Raises BadUsage, BadJournal, BadFile."""
    from monitor.report import html
    from monitor.report.file import must_be_new, write
    from monitor.report.operation import BOARDS_MAX, operation
    from monitor.report.reading import read

    paths = [journal_at(said, settings) for said in args.journals]
    if len(paths) > BOARDS_MAX:
        raise BadUsage("too many for one page", str(len(paths)), f"at most {BOARDS_MAX}")
    if twice := next((path for path in paths if paths.count(path) > 1), None):
        raise BadUsage("it is named twice", str(twice), "name each once")
    output = args.output or Path(f"{paths[0].stem}-and-{len(paths) - 1}-more.html")
    must_be_new(output)
    told = [read(path, progress(), gathered_before(path, settings)) for path in paths]
    write(output, html.page(operation(told, None)))
    print(f"{output}: names, whereabouts and health of people are in it; hand it to nobody else")
    return max(said_damaged(path, one.left_out) for path, one in zip(paths, told, strict=True))


def _of_then(part: "Part", told: "Told", since: str | None, until: str | None) -> "Part":
    """The same, of the stretch that is asked for. Raises BadUsage."""
    from dataclasses import replace

    from monitor.cli.instants import instant
    from monitor.report.teller import Teller

    if since is None and until is None:
        return part
    wall, end = told.gathered.wall, told.gathered.end_ns
    first = None if since is None else instant(since, "--from", wall, end)
    last = None if until is None else instant(until, "--until", wall, end)
    start, stop = first or 0, end if last is None else last
    if start > min(stop, end):
        what = "nothing is in that time"
        raise BadUsage(what, " ".join(filter(None, (since, until))), "say another")
    teller = Teller(told, None)
    when = f"{teller.at(start)} to {teller.at(min(stop, end))}"
    return replace(part, from_ns=first, to_ns=last, when=when)


def _alarms(told: "Told", *, as_json: bool) -> str:
    from monitor.report import alarm_figures
    from monitor.report.alarm_quality import quality
    from monitor.report.heading import about, heading

    found = told.gathered
    under_air = found.wears.under_air(found.end_ns)
    reckoned = quality(found.lives.in_order(), found.end_ns, under_air)
    if as_json:
        return printable.as_json(about(told) | alarm_figures.fields(reckoned))
    return "\n".join([*heading(told, None), "", alarm_figures.text(reckoned)])
