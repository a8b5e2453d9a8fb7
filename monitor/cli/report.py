"""``outby report``: what a journal tells, to print and keep, or its alarms in figures."""

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import journal_at
from monitor.cli.options import Subparsers, add_command, add_settings, settings_of
from monitor.errors import BadUsage, Exit

if TYPE_CHECKING:
    from monitor.report.reading import Told

_DESCRIPTION = """\
--alarms tells how good the alarms of an incident were: how often one waited for the officer, on
average and at worst; floods; what came most often; what chattered or stood for too long; shares
of the priorities; how long the officer needed; what was put aside. Each figure stands beside the
published one of ISA-18.2 and EEMUA 191, which are for plants that run steadily.

The journal may be one that is being recorded: then it tells up to now. Nothing is changed."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "report",
        run=run,
        summary="what a journal tells, to print and keep",
        description=_DESCRIPTION,
        examples=(
            ("outby report kiln-lane --alarms", "how good the alarms were"),
            ("outby report kiln-lane --alarms --json", "the same for a program"),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path,
                        help="a path, or the name of one in the incidents folder")  # fmt: skip
    group = parser.add_argument_group("WHAT TO TELL")
    group.add_argument("--alarms", action="store_true", help="the quality of the alarms alone")
    group.add_argument("--json", action="store_true", help="of that, as fields for a program")
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell what was asked. Raises BadUsage, BadJournal."""
    from monitor.report.reading import read

    if not args.alarms:
        raise BadUsage("only --alarms can be told", to_do="say --alarms")
    told = read(journal_at(args.journal, settings_of(args)))
    print(_alarms(told, as_json=args.json))
    return Exit.OK


def _alarms(told: "Told", *, as_json: bool) -> str:
    from monitor.report import alarm_figures
    from monitor.report.alarm_quality import quality
    from monitor.report.heading import about, heading

    found = told.gathered
    under_air = found.wears.under_air(found.end_ns)
    reckoned = quality(found.lives.in_order(), found.end_ns, under_air)
    if as_json:
        return json.dumps(about(told) | alarm_figures.fields(reckoned), indent=2)
    return "\n".join([*heading(told, None), "", alarm_figures.text(reckoned)])
