"""``outby packs``: virtual packs only, for a base that is started elsewhere."""

import argparse
import gc
import signal
import sys
import uuid
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from monitor.cli.options import Subparsers, add_command, person
from monitor.cli.packs_links import DEFAULT_LINK, keyring_of, open_outlets
from monitor.errors import AlreadyThere, BadFile, BadUsage, Exit, NotAnswered
from shared.writing import new_file

if TYPE_CHECKING:
    from simulators.air import Counts
    from simulators.channel import Heading
    from simulators.fleet import Fleet
    from simulators.scenario import Scenario
    from simulators.truth import TruthFile

DEFAULT_SCENARIO = "kiln-lane"
SPEED_MAX = 100.0
BOOTS_MAX = 4_000_000_000
"""Boot counters have 32 bits; seconds of wall time fit until 2096."""
DESK_NS_MAX = 30_000_000_000
"""A recorder that is not there by then has not been started."""
DESK_AGAIN_S = 0.1
SECOND_NS = 1_000_000_000
YOUNG_MAX = 100_000
"""New objects between two looks for unreachable ones: some 10 ms of work at a time."""

_DESCRIPTION = """\
Plays a scenario: virtual wearers with virtual packs send their frames to a base, by UDP or
through a pseudo-terminal that the base opens as a serial port. Nothing of the monitor runs.

Frames go to this machine only, unless --beyond-this-machine is said. A key must be an exercise
key: virtual packs never make frames that a base in real use would take for live ones.

The same scenario, seed and --boots give the same frames, until a base answers. Boot counters
start from the time of day unless --boots is said, because a base remembers the last one it has
heard. At a --speed other than 1 everything is faster, but the packs' report interval still says
seconds of the scenario: silence then counts too little, and below 1 frames look held back.

With --one nothing is played: each line that is typed, or comes through a pipe, sets a field of
one pack, presses a button or takes its radio away, and what the base sends is printed. A wrong
line is answered and changes nothing. When the lines end, the pack goes on until interrupted."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the command line."""
    parser = add_command(
        subparsers,
        "packs",
        run=run,
        summary="virtual packs only, by UDP or serial",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.LINK,
            Exit.NOT_ANSWERED,
            Exit.ALREADY_THERE,
        ),
        examples=[
            ("outby packs", "the Kiln Lane scenario to UDP port 41901 of this machine"),
            ("outby packs many --capture many.pcapng --boots 0", "the same bytes every time"),
            ("outby packs --one --pack 7", 'one pack by hand; type "pressure 120", "help" ...'),
            (
                "outby packs kiln-lane --link serial:/tmp/packs --truth run.jsonl",
                'the same on a serial port; the base then says "--link serial:/tmp/packs"',
            ),
        ],
    )
    parser.add_argument("scenario", nargs="?", metavar="SCENARIO",
                        help="name of a scenario that comes with the program, or a file; "
                             "kiln-lane if not said")  # fmt: skip
    group = parser.add_argument_group("WHERE THE FRAMES GO")
    group.add_argument("--link", action="append", dest="links", metavar="LINK",
                       help="udp:[HOST:]PORT, serial, serial:NAME for a port of that name, or "
                            "serial:DEVICE@BAUD for one with a cable; "
                            f"{DEFAULT_LINK} if not said; once for each base radio of the "
                            "scenario, or once for all")  # fmt: skip
    group.add_argument("--beyond-this-machine", action="store_true",
                       help="let UDP frames go to another machine")  # fmt: skip
    group.add_argument("--bare", action="store_true",
                       help="no base radio: frames without signal level and beat")  # fmt: skip
    group.add_argument("--key", metavar="FILE",
                       help="fleet key file, for exercise; without it open frames")  # fmt: skip
    group = parser.add_argument_group("THE RUN")
    group.add_argument("--seed", type=int, default=1, metavar="N", help="1 if not said")
    group.add_argument("--speed", type=float, default=1.0, metavar="X",
                       help=f"times real time, at most {SPEED_MAX:g}; 1 if not said")  # fmt: skip
    group.add_argument("--boots", type=int, metavar="N",
                       help="added to each pack's boot counter, 0 or more")  # fmt: skip
    group.add_argument("--truth", metavar="FILE",
                       help="write what really was into a new file, as JSON lines")  # fmt: skip
    group.add_argument("--trainee", metavar="NAME", type=person,
                       help="whose run it is, for that file")  # fmt: skip
    group.add_argument("--capture", metavar="FILE",
                       help="instead of playing to a link, write a pcapng capture of what the "
                            "base radios hear, as fast as the machine goes, and end")  # fmt: skip
    group.add_argument(
        "--airtime",
        action="store_true",
        help="say how much of a shared channel the packs take, and end",
    )
    group.add_argument("--roster-to", metavar="FILE",
                       help="write the roster of the scenario's wearers, and end")  # fmt: skip
    group.add_argument("--instructor", metavar="FILE",
                       help="do what lines in this file ask for as they are added; "
                            "outby instruct writes them")  # fmt: skip
    group.add_argument("--one", action="store_true",
                       help="instead of a scenario one pack, whose fields are set by typed lines, "
                            'to try a base; the line "help" lists them')  # fmt: skip
    group.add_argument("--pack", type=int, metavar="IDENTITY", help="of --one; 101 if not said")
    group.add_argument("--desk", metavar="JOURNAL",
                       help="also do the scenario's acts at the desk of the recorder of JOURNAL, "
                            "beside the person at the board; in an exercise only. The base "
                            "radio is then heard until that recorder has gone")  # fmt: skip


def run(args: argparse.Namespace) -> int:
    """Play the scenario to its end, or until interrupted."""
    from monitor.cli.drill_script import DrillScript
    from monitor.clock import Clock
    from monitor.desk_client import desk_connect
    from simulators.drawing import drawn
    from simulators.fleet import Fleet
    from simulators.instructions import Instructions
    from simulators.player import Player

    # Asked to end: the port's name is taken away and the truth file closed, as with Ctrl+C.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    _check(args)
    if args.one:
        from monitor.cli.packs_one import run_one

        return run_one(args)
    scenario = load_scenario(args.scenario or DEFAULT_SCENARIO)
    if args.roster_to:
        write_roster(scenario, Path(args.roster_to))
        return Exit.OK
    if args.airtime:
        _say_airtime(scenario)
        return Exit.OK
    clock = Clock()
    boots = clock.wall_ns() // SECOND_NS if args.boots is None else args.boots
    keyring = keyring_of(args.key)
    scenario = drawn(scenario, args.seed)
    fleet = lasting(
        lambda: Fleet(scenario, args.seed, keyring, boots_before=boots, truth=bool(args.truth))
    )
    if args.capture:
        return _capture(args, scenario, fleet, boots)
    outlets = open_outlets(args, fleet.bases)
    truth = script = None
    try:
        if args.truth:
            truth = _truth_file(args, scenario, boots)
        if args.desk:
            script = DrillScript(
                scenario.acts,
                fleet,
                desk_connect(Path(args.desk)),
                run=uuid.uuid4().hex[:12],
                boot_ns=clock.boot_ns,
                say=_say,
            )
        names = " and ".join(outlet.name for outlet in outlets)
        _say(f"{scenario.count} packs of {scenario.title} to {names}")
        if script:
            wait_for_desk(script, outlets[0], clock.boot_ns, args.truth)
        player = Player(
            fleet, outlets, clock.boot_ns, speed=args.speed, bare=args.bare, truth=truth,
            instructions=Instructions(Path(args.instructor)) if args.instructor else None,
        )  # fmt: skip
        try:
            player.play(script.poll if script else None)
        finally:
            _say_counts(fleet.counts)
    finally:
        for part in (*outlets, truth, script):
            if part is not None:
                part.close()
    return Exit.OK


def lasting(make: "Callable[[], Fleet]") -> "Fleet":
    """Make a fleet, and keep the collector of unreachable objects from looking at it again.

    Fifty thousand packs are millions of objects that stay to the end: to look through them over
    and over takes a third of the time.
    """
    gc.disable()
    try:
        fleet = make()
    finally:
        gc.enable()
    gc.freeze()
    gc.set_threshold(YOUNG_MAX)
    return fleet


def _say_airtime(scenario: "Scenario") -> None:
    from simulators.airtime import airtime, airtime_lines

    for line in airtime_lines(airtime(scenario)):
        print(line)


def _capture(args: argparse.Namespace, scenario: "Scenario", fleet: "Fleet", boots: int) -> int:
    from monitor.cli.packs_capture import capture

    truth = _truth_file(args, scenario, boots) if args.truth else None
    try:
        frames = capture(fleet, Path(args.capture), boots * SECOND_NS, bare=args.bare, truth=truth)
    finally:
        if truth is not None:
            truth.close()
    _say(f"{scenario.count} packs of {scenario.title} to {args.capture}: {frames} frames")
    _say_counts(fleet.counts)
    return Exit.OK


class _Seat(Protocol):
    def seated(self) -> bool: ...


class _Waiting(Protocol):
    def wait(self, timeout_s: float, /) -> object: ...


def wait_for_desk(
    script: _Seat, outlet: _Waiting, boot_ns: Callable[[], int], truth: str | None
) -> None:
    """Wait until the recorder is there, so that nothing of the scenario is missed.

    Of a run that never began no file ``truth`` is left: it would be in the way of the next.
    Raises NotAnswered.
    """
    give_up_ns = boot_ns() + DESK_NS_MAX
    while not script.seated():
        if boot_ns() > give_up_ns:
            if truth:
                Path(truth).unlink(missing_ok=True)
            raise NotAnswered("no recorder is at the desk", to_do="start it first: outby record")
        outlet.wait(DESK_AGAIN_S)


def load_scenario(name_or_path: str) -> "Scenario":
    """Read a scenario. Raises BadFile."""
    from monitor.incident.alarms.catalogue import CATALOGUE
    from simulators.scenario_file import ScenarioFault, load

    try:
        return load(name_or_path, [kind.value for kind in CATALOGUE])
    except ScenarioFault as fault:
        raise BadFile(f"scenario: {fault.what}", fault.where) from None


def write_roster(scenario: "Scenario", path: Path) -> None:
    """Make a roster of the scenario's own wearers. Raises BadFile."""
    from simulators.people import roster_text

    try:
        with new_file(path) as file:
            file.write(roster_text(scenario).encode())
    except FileExistsError:
        raise AlreadyThere("there is a file already", str(path), "name another") from None
    except OSError as error:
        raise BadFile(f"roster: {error.strerror}", str(path)) from None


def _check(args: argparse.Namespace) -> None:
    from monitor.report.file import must_be_new

    if args.pack is not None and not args.one:
        raise BadUsage("--pack is for --one", "", "a scenario says its own")
    if args.one:
        for name in ("scenario", "truth", "capture", "airtime", "roster_to", "desk"):
            if getattr(args, name):
                raise BadUsage("one pack by typed lines plays no scenario", name.replace("_", "-"))
    if not 0 < args.speed <= SPEED_MAX:
        raise BadUsage(
            "no such speed", f"--speed {args.speed:g}", f"above 0, at most {SPEED_MAX:g}"
        )
    if args.boots is not None and not 0 <= args.boots <= BOOTS_MAX:
        raise BadUsage("no such number of boots", f"--boots {args.boots}", f"0 to {BOOTS_MAX}")
    # All of them before any is made: what is refused leaves nothing behind.
    for path in (args.truth, args.capture, args.roster_to):
        if path:
            must_be_new(Path(path))


def _truth_file(args: argparse.Namespace, scenario: "Scenario", boots: int) -> "TruthFile":
    from simulators.truth import TruthFile

    path = Path(args.truth)
    try:
        return TruthFile(
            path,
            scenario=scenario.title,
            seed=args.seed,
            boots_before=boots,
            trainee=args.trainee or "",
            played=scenario.model_dump(mode="json", exclude_defaults=True),
        )
    except FileExistsError:
        raise AlreadyThere("there is a file already", str(path), "name another") from None
    except OSError as error:
        raise BadFile(f"truth file: {error.strerror}", str(path)) from None


def _say_counts(counts: "dict[Heading, Counts]") -> None:
    """Sum up what the radio did, each way; what it did not do is not said."""
    from simulators.air import COUNTED

    for heading, way in counts.items():
        if way["sent"]:
            told = ", ".join(f"{way[name]} {name}" for name in COUNTED if way[name])
            _say(f"{heading.value}: {told.replace('_', ' ')}")


def _say(text: str) -> None:
    print(f"outby packs: {text}", file=sys.stderr, flush=True)
