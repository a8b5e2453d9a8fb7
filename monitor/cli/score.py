"""``outby score``: how one run of a drill went, for the debrief."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import journal_at, progress
from monitor.cli.options import Subparsers, add_command, add_settings, settings_of
from monitor.cli.pages import add_page, check_page, give_page
from monitor.errors import BadUsage

if TYPE_CHECKING:
    from monitor.report.score import Expected, Inject
    from monitor.report.truth import Truth
    from simulators.scenario import Scenario

NS_PER_S = 1_000_000_000

_DESCRIPTION = """\
Tells how one run of a drill went. For each inject that came: whether and when the board showed
it, as the scenario says that it must, and when the officer took the alarm. For each act that the
scenario expects by its procedure: done in time, late or missed. Then what is to be talked over:
alarms that were taken too fast to have been read, and orders that nothing asked for.

TRUTH is the file that the virtual packs wrote; if it is not named, the one beside the journal
that "outby drill" made. The scenario is found by the title in that file among those that come
with the program; name one of your own. Acts of the drill's own script are nobody's and do not
count.

A score does not hear what was said by voice; it tells what an instructor has ticked ("outby
instruct"). What an instructor did by hand is judged like the scenario's own. The instructor
judges."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "score",
        run=run,
        summary="how a drill went, for the debrief",
        description=_DESCRIPTION,
        examples=(
            ("outby score kiln-lane-1", "a run of outby drill, to read"),
            ("outby score kiln-lane-1 --html debrief.html", "as one page to print"),
            ("outby score mine run.truth.jsonl --scenario mine.toml", "a scenario of your own"),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path,
                        help="a path, or the name of one in the incidents folder")  # fmt: skip
    parser.add_argument("truth", metavar="TRUTH", type=Path, nargs="?",
                        help="what the packs really did; else the file beside it")  # fmt: skip
    add_page(parser).add_argument("--scenario", metavar="NAME|FILE", help="what was played")
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell it. Raises BadUsage, BadJournal, BadFile."""
    from monitor.cli.drill import Files
    from monitor.cli.drill_script import BY
    from monitor.instructor import BY as INSTRUCTOR
    from monitor.report.debrief import debrief
    from monitor.report.reading import read
    from monitor.report.score import score
    from monitor.report.truth import read_truth

    check_page(args)
    path = journal_at(args.journal, settings_of(args))
    truth = read_truth(args.truth or Files(path).truth, path)
    scenario = _scenario(args.scenario, truth.title)
    told = read(path, progress())
    found = score(
        [*_injects(scenario), *_by_hand(scenario, truth)],
        _expected(scenario, truth.ahead_ns),
        truth.injects,
        told.gathered.lives.in_order(),
        [(t, act) for t, act in told.gathered.acts if act.by not in {BY, INSTRUCTOR}],
        told.gathered.end_ns,
        [(t, act) for t, act in told.gathered.acts if act.by == BY],
    )
    page = debrief(told, found, scenario.title, truth.seed, None, truth.ticks)
    return give_page(args, page, "it tells how somebody did; hand it to them first")


def _scenario(said: str | None, title: str) -> "Scenario":
    """The one that is named, else the one of that title. Raises BadFile, BadUsage."""
    from monitor.cli.packs import load_scenario
    from simulators.scenario_file import names

    if said is not None:
        return load_scenario(said)
    for name in names():
        scenario = load_scenario(name)
        if scenario.title == title:
            return scenario
    raise BadUsage("the scenario does not come with the program", title, "name it: --scenario")


def _injects(scenario: "Scenario") -> "list[Inject]":
    from monitor.report.score import Inject

    return [
        Inject(
            one.name,
            one.shows or "",
            frozenset(one.shows_for or one.wearers),
            round(one.shows_within_s * NS_PER_S),
        )
        for one in scenario.injects
    ]


def _by_hand(scenario: "Scenario", truth: "Truth") -> "list[Inject]":
    """Those that came and are none of the scenario's: an instructor made them."""
    from monitor.report.score import Inject

    known = {one.name for one in scenario.injects}
    return [
        Inject(name, one.shows, one.wearers, round(one.within_s * NS_PER_S))
        for name, one in truth.told.items()
        if name not in known
    ]


def _expected(scenario: "Scenario", ahead_ns: int) -> "list[Expected]":
    from monitor.report.score import Expected

    return [
        Expected(
            what=one.what,
            inject=one.inject or "",
            at_ns=round((one.at_s or 0) * NS_PER_S) + ahead_ns,
            alarm=one.alarm or "",
            order=one.order or "",
            wearers=frozenset(one.wearers),
            within_ns=round(one.within_s * NS_PER_S),
            needed=one.needed,
            why=one.why,
        )
        for one in scenario.expected
    ]
