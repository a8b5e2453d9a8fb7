"""``outby score``: how one run of a drill went, for the debrief."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import gathered_before, journal_at, progress
from monitor.cli.options import Subparsers, add_command, add_settings, settings_of
from monitor.cli.pages import add_page, check_page, give_page
from monitor.errors import BadFile, BadUsage, Exit

if TYPE_CHECKING:
    from monitor.report.comparison import Run
    from monitor.report.forecasts import Judgement
    from monitor.report.score import Expected, Inject
    from monitor.report.truth import Truth
    from simulators.scenario import Scenario

NS_PER_S = 1_000_000_000
TRUTH_SUFFIX = ".jsonl"

_DESCRIPTION = """\
Tells how one run of a drill went. For each inject that came: whether and when the board showed
it, as the scenario says that it must, and when the officer took the alarm. For each act that the
scenario expects by its procedure: done in time, late or missed. Then what is to be talked over:
alarms that were taken too fast to have been read, and orders that nothing asked for.

TRUTH is the file that the virtual packs wrote; if it is not named, the one beside the journal
that "outby drill" made. The scenario is the one in that file, as it was played; --scenario
judges by another. What could not happen, since the wearer was out, is told as that. Acts of the
drill's own script are nobody's and do not count.

Last, what the board said of air to come, asked once a minute, beside what really came.

Several journals are compared, run by run: how long until injects were shown, taken and acted on,
what was missed, not asked for, or taken too fast. One whose truth file is missing then tells only
what its journal knows.

A score does not hear what was said by voice; it tells what an instructor has ticked ("outby
instruct"). What an instructor did by hand is judged like the scenario's own. The instructor
judges."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "score",
        run=run,
        summary="how a drill went, for the debrief; several runs compared",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby score kiln-lane-1", "a run of outby drill, to read"),
            ("outby score kiln-lane-1 -o debrief.html", "as one page to print"),
            ("outby score kiln-lane-1 --trainee-page mine.html", "the trainee's own page"),
            ("outby score kiln-lane-1 kiln-lane-2 kiln-lane-3", "three runs compared"),
            ("outby score mine run.truth.jsonl --scenario mine.toml", "a scenario of your own"),
        ),
    )
    parser.add_argument("files", metavar="JOURNAL [TRUTH]", type=Path, nargs="+",
                        help="a path, or the name of one in the incidents folder; after it a "
                             f"{TRUTH_SUFFIX} file of what the packs really did, else the one "
                             "beside it; several are compared")  # fmt: skip
    group = add_page(parser)
    group.add_argument("--scenario", metavar="NAME|FILE", help="what was played")
    group.add_argument("--trainee-page", metavar="HTML", type=Path,
                       help="write the trainee's own page: each thing that came, with a picture of "
                            "the board as it was then")  # fmt: skip
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Tell it. Raises BadUsage, BadJournal, BadFile."""
    from monitor.report import html
    from monitor.report.comparison import RUNS_MAX, comparison
    from monitor.report.debrief import Played, debrief
    from monitor.report.file import must_be_new, write
    from monitor.report.trainee_page import trainee_page

    check_page(args)
    named = _named(args.files)
    if len(named) > RUNS_MAX:
        raise BadUsage("too many runs for one page", str(len(named)), f"at most {RUNS_MAX}")
    several = len(named) > 1
    if args.trainee_page is not None:
        if several:
            raise BadUsage("a trainee's page is of one run", str(len(named)), "name one")
        must_be_new(args.trainee_page)
    runs = [_run(args, path, beside, several=several) for path, beside in named]
    if several:
        page = comparison([run for run, *_ in runs], None)
        return give_page(args, page, "it tells how somebody did; hand it to them first")
    (run, truth, forecasts), *_ = runs
    assert run.score is not None, "one run is not told without its truth"
    assert truth is not None, "one run is not told without its truth"
    scenario = _scenario(args.scenario, truth, named[0][0])
    played = Played(run.scenario, run.seed, truth.trainee, scenario.teaches, scenario.look_for)
    if args.trainee_page is not None:
        from monitor.cli.trainee_boards import boards

        path = journal_at(named[0][0], settings_of(args))
        drawn = boards(path, run.score.shown)
        own = trainee_page(run.told, run.score, played, drawn, None)
        write(args.trainee_page, html.page(own))
        print(f"{args.trainee_page}: it tells how somebody did; hand it to them first")
        return Exit.OK
    page = debrief(run.told, run.score, played, None, truth.ticks, forecasts)
    return give_page(args, page, "it tells how somebody did; hand it to them first")


def _named(files: "list[Path]") -> "list[tuple[Path, Path | None]]":
    """Journals, each with the truth file that is named after it. Raises BadUsage."""
    runs: list[tuple[Path, Path | None]] = []
    for path in files:
        if path.suffix != TRUTH_SUFFIX:
            runs.append((path, None))
        elif not runs or runs[-1][1] is not None:
            raise BadUsage("a truth file without its journal", str(path), "name the journal first")
        else:
            runs[-1] = (runs[-1][0], path)
    return runs


def _run(
    args: argparse.Namespace, said: Path, named: "Path | None", *, several: bool
) -> "tuple[Run, Truth | None, tuple[Judgement, ...]]":
    """Read and judge one. Among several, one without its truth tells what its journal knows."""
    from monitor.cli.drill import Files
    from monitor.cli.drill_script import BY
    from monitor.instructor import BY as INSTRUCTOR
    from monitor.report.comparison import Run
    from monitor.report.forecasts import judge
    from monitor.report.forecasts import said as forecasts_of
    from monitor.report.reading import read
    from monitor.report.score import score
    from monitor.report.truth import read_truth

    settings = settings_of(args)
    path = journal_at(said, settings)
    before = gathered_before(path, settings)
    beside = named or Files(path).truth
    if several and named is None and not beside.exists():
        return Run(read(path, progress(), before), "", 0, None), None, ()
    truth = read_truth(beside, path)
    scenario = _scenario(args.scenario, truth, beside)
    told = read(path, progress(), before)
    gathered = told.gathered
    found = score(
        [*_injects(scenario), *_by_hand(scenario, truth)],
        _expected(scenario, truth.ahead_ns),
        truth.injects,
        gathered.lives.in_order(),
        [(t, act) for t, act in gathered.acts if act.by not in {BY, INSTRUCTOR}],
        gathered.end_ns,
        [(t, act) for t, act in gathered.acts if act.by == BY],
        truth.could_not(),
    )
    forecasts = judge(forecasts_of(gathered.wears.all, gathered.end_ns), truth.pressures)
    return Run(told, scenario.title, truth.seed, found, truth.trainee), truth, forecasts


def _scenario(said: str | None, truth: "Truth", path: Path) -> "Scenario":
    """The one that is named, else as it was played, else the one of that title.

    What it leaves to chance is as the seed of the run had it. Raises BadFile, BadUsage.
    """
    from simulators.drawing import drawn

    return drawn(_left_open(said, truth, path), truth.seed)


def _left_open(said: str | None, truth: "Truth", path: Path) -> "Scenario":
    from monitor.cli.packs import load_scenario
    from simulators.scenario_file import ScenarioFault, names, played

    title = truth.title
    if said is not None:
        return load_scenario(said)
    if truth.played:
        try:
            return played(truth.played, str(path))
        except ScenarioFault as fault:
            what = f"the scenario in the truth file: {fault.what}"
            raise BadFile(what, fault.where, "name it: --scenario") from None
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
