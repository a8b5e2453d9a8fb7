"""``outby drill``: virtual packs, recorder and board together, on an invented incident."""

import argparse
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from monitor import children
from monitor.cli.options import (
    Subparsers,
    add_command,
    add_display,
    add_settings,
    add_sound,
    person,
    settings_of,
)
from monitor.errors import BadJournal, Exit, LinkFailed
from shared.printable import escaped, shortened

if TYPE_CHECKING:
    from monitor.settings import Settings
    from simulators.scenario import Scenario

PORT_WAIT_S = 0.05
PORT_WAITS_MAX = 200
"""Ten seconds for a process to start and make its port."""
SCENARIO_NAME_MAX = 60
"""Characters of a scenario's file name in the record; escaped, they are four times as many."""
END_S_MAX = 3.0
"""How long the packs have to end before they are ended."""

_DESCRIPTION = """\
Opens a fresh incident in the incidents folder, for exercise, and plays a scenario into it:
virtual packs on this machine, the recorder, and the board. What the entry control officer would
write down is done for them, in the name "drill script"; alarms are yours to take.

Beside the journal stand the exercise key made for this run, what really was (NAME.truth.jsonl),
and what the packs had to say (NAME.packs.log). Leaving the board asks whether recording goes on;
if it does, the packs go on too, and "outby watch" shows the board again."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command to the command line."""
    parser = add_command(
        subparsers,
        "drill",
        run=run,
        summary="virtual packs, recorder and board together: a drill",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.LINK,
            Exit.JOURNAL,
            Exit.BUSY,
            Exit.NOT_ANSWERED,
            Exit.ALREADY_THERE,
        ),
        examples=[
            ("outby drill", "Kiln Lane: four crews, ten minutes, trouble within the first two"),
            ("outby drill --list", "which scenarios there are, and what each teaches"),
            ("outby drill mine.toml --seed 7", "a scenario of your own, with other luck"),
            ("outby drill --instructor", "with the instructor's screen beside it"),
            ("outby drill --doors", "three doors, a broker, and the command post's board"),
        ],
    )
    parser.add_argument("scenario", nargs="?", default="kiln-lane", metavar="SCENARIO",
                        help="name of a scenario that comes with the program, or a file; "
                             "kiln-lane if not said")  # fmt: skip
    parser.add_argument("--list", action="store_true",
                        help="print the scenarios that come with the program, the easiest first, "
                             "with what each teaches, and end")  # fmt: skip
    group = parser.add_argument_group("THE RUN")
    group.add_argument("--seed", type=int, default=1, metavar="N", help="1 if not said")
    group.add_argument("--officer", dest="in_charge", metavar="NAME", type=person,
                       help="whose board it is; else as the scenario says")  # fmt: skip
    group.add_argument("--trainee", metavar="NAME", type=person,
                       help="whose run it is, for the record and the score")  # fmt: skip
    group.add_argument("--serial", action="store_true",
                       help="let the packs come by a serial port instead of UDP")  # fmt: skip
    group.add_argument("--plain", action="store_true",
                       help="the plain board: lines only added, typed commands")  # fmt: skip
    group.add_argument("--open", action="store_true",
                       help="open mode: no key, frames prove nothing")  # fmt: skip
    group.add_argument("--instructor", action="store_true",
                       help="the instructor's screen too: in a window of its own within tmux, "
                            "else it says what to run on a second terminal")  # fmt: skip
    group.add_argument("--doors", action="store_true",
                       help="three doors of one operation, a broker, and the overview of a "
                            "command post; needs nats-server")  # fmt: skip
    group.add_argument("--entry-point", metavar="DOOR", help="else as the scenario says")
    group.add_argument("--operation", metavar="NAME", help="joins it with other entry points")
    add_display(parser)
    add_sound(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Start the packs, then be ``outby watch`` on a new incident."""
    import os

    from monitor.cli import build_parser
    from monitor.cli.packs import load_scenario, write_roster
    from monitor.cli.record import new_path
    from monitor.clock import Clock

    if args.doors:
        from monitor.cli import drill_doors

        return drill_doors.run(args)
    if args.list:
        print("\n".join(library()))
        return Exit.OK
    scenario = load_scenario(args.scenario)
    settings = settings_of(args).with_options({"name": scenario.incident.name})
    # As with any incident: whatever is made here is the owner's alone.
    os.umask(0o077)
    files = Files(new_path(settings, Clock().wall_ns(), lambda path: Files(path).there()))
    with files.of_one_run():
        files.prepare(keyed=not args.open)
        if not scenario.incident.roster:
            write_roster(scenario, files.roster)
        bases = max(len(scenario.radio.bases), 1)
        links = _serial_names(files.journal, bases) if args.serial else _free_ports(bases)
        line = watch_line(args, scenario, files, links, sound_of(settings))
        watch = build_parser().parse_args(line)
        # A drill's rules are not those that an officer's next incident begins with.
        watch.remember = False
        with packs_running(packs_line(args, files, links), files, links):
            if args.instructor:
                beside(files.journal, args.scenario)
            return int(watch.func(watch))


def library() -> Iterator[str]:
    """The lines of the library: by level, each with what the trainer should look for."""
    from monitor.cli.packs import load_scenario
    from simulators.scenario_file import names

    every = [(name, load_scenario(name)) for name in names()]
    lessons = [(one.level, one.length_s, name, one) for name, one in every if one.level]
    for level, length_s, name, one in sorted(lessons, key=lambda lesson: lesson[:3]):
        yield f"{name}  level {level}, {length_s / 60:.0f} min: {one.teaches}"
        yield from (f"    look for {line}" for line in one.look_for)


def beside(journal: Path, scenario: str) -> None:
    """Open the instructor's screen in a window of its own where tmux runs; else say how."""
    import os
    import shlex
    import shutil

    line = ["instruct", str(journal), "--scenario", scenario]
    tmux = shutil.which("tmux") if os.environ.get("TMUX") else None
    if tmux is None:
        print(f"On a second terminal: outby {shlex.join(line)}", file=sys.stderr)
        return
    command = shlex.join(children.line("monitor.cli", *line))
    # It is to be found there at once, and says why if it could not start.
    waits = f"{command} || {{ echo 'Enter closes this window'; read _; }}"
    made = subprocess.run(  # noqa: S603 - our own program, its own arguments
        [tmux, "new-window", "-d", "-n", "instructor", waits], check=False, capture_output=True
    )
    if made.returncode:
        print(f"On a second terminal: outby {shlex.join(line)}", file=sys.stderr)


@dataclass(frozen=True, slots=True)
class Files:
    """The files of one run, side by side."""

    journal: Path

    @property
    def key(self) -> Path:
        """The exercise key made for this run."""
        return self.journal.with_suffix(".key")

    @property
    def truth(self) -> Path:
        """What really was."""
        return self.journal.with_suffix(".truth.jsonl")

    @property
    def roster(self) -> Path:
        """The scenario's own people, where it names no roster."""
        return self.journal.with_suffix(".roster.toml")

    @property
    def instructor(self) -> Path:
        """What the instructor has asked for."""
        return self.journal.with_suffix(".instructor.jsonl")

    @property
    def packs_log(self) -> Path:
        """What the packs had to say."""
        return self.journal.with_suffix(".packs.log")

    def all(self) -> tuple[Path, ...]:
        """What a run makes beside its journal."""
        return (self.key, self.truth, self.roster, self.instructor, self.packs_log)

    def there(self) -> bool:
        """Whether one of them is there: of a run that begins now, or whose journal has gone."""
        return any(path.exists() for path in (self.journal, *self.all()))

    @contextmanager
    def of_one_run(self) -> Iterator[None]:
        """Take away what a run has made that came to no journal: it would be in the next one's way.

        What was there before is somebody's, and stays.
        """
        made = self.all()
        before = {path for path in made if path.exists()}
        try:
            yield
        finally:
            if not self.journal.exists():
                for path in made:
                    if path not in before and path.exists():
                        path.unlink()

    def prepare(self, *, keyed: bool) -> None:
        """Make the folder and the key. Raises BadJournal, BadFile."""
        from monitor import keyfile

        try:
            self.journal.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            what = f"the folder: {error.strerror}"
            raise BadJournal(what, str(self.journal.parent), "choose another") from None
        if keyed:
            keyfile.create(self.key, "exercise")


def watch_line(
    args: argparse.Namespace, scenario: "Scenario", files: Files, links: list[str], sound: str
) -> list[str]:
    """Give the command line of the board, as a person would type it."""
    incident = scenario.incident
    line = ["watch", str(files.journal), "--exercise", *_each("--link", links)]
    # Said even where empty: what a service has set for its own incidents is not for a drill.
    officer = args.in_charge or incident.officer
    line += ["--name", incident.name, "--officer", officer, "--place", incident.place]
    entry = args.entry_point or incident.entry_point
    line += ["--entry-point", entry, "--stage", incident.stage]
    line += ["--operation", args.operation or ""]
    played = escaped(shortened(Path(args.scenario).name, SCENARIO_NAME_MAX))
    whose = f", trainee {args.trainee}" if args.trainee else ""
    line += ["--simulated", f"scenario {played}, seed {args.seed}{whose}"]
    line += ["--procedure", incident.procedure, "--roster", incident.roster or str(files.roster)]
    line += ["--key", "" if args.open else str(files.key), "--sound", sound]
    for option in ("theme", "glyphs", "incidents_folder"):
        if value := getattr(args, option):
            line += ["--" + option.replace("_", "-"), value]
    if args.evacuation_tone is not None:
        line += ["--evacuation-tone", str(args.evacuation_tone)]
    if args.plain:
        line.append("--plain")
    if args.mouse is not None:
        line.append("--mouse" if args.mouse else "--no-mouse")
    return line


def sound_of(settings: "Settings") -> str:
    """Who sounds alarms. A training machine without a player is none that lacks one."""
    from monitor.recorder.player import commands

    wanted = settings.sound
    return "bell" if wanted == "auto" and not commands(wanted) else wanted


def packs_line(args: argparse.Namespace, files: Files, links: list[str]) -> list[str]:
    """Give the command line of the packs."""
    line = [
        "packs", args.scenario, *_each("--link", links), "--seed", str(args.seed),
        "--truth", str(files.truth), "--desk", str(files.journal),
        "--instructor", str(files.instructor),
    ]  # fmt: skip
    line += ["--trainee", args.trainee] if args.trainee else []
    return line if args.open else [*line, "--key", str(files.key)]


@contextmanager
def packs_running(
    line: list[str], files: Files, links: list[str]
) -> Iterator[subprocess.Popen[bytes]]:
    """Have the packs run beside; afterwards they go on only if recording does."""
    from monitor.journal import lock

    with files.packs_log.open("wb") as log:
        packs = subprocess.Popen(  # noqa: S603 - our own program, its own arguments
            children.line("monitor.cli", *line),
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            start_new_session=True,
        )
    try:
        for link in links:
            if link.startswith("serial:"):
                _wait_for_port(packs, Path(link.removeprefix("serial:")), files.packs_log)
        yield packs
    finally:
        if lock.is_free(files.journal):
            _end(packs)


def _wait_for_port(packs: subprocess.Popen[bytes], port: Path, log: Path) -> None:
    """Wait until the packs have made their port: the recorder is started only then."""
    for _ in range(PORT_WAITS_MAX):
        if port.exists():
            return
        try:
            packs.wait(PORT_WAIT_S)
        except subprocess.TimeoutExpired:
            continue
        break
    raise LinkFailed("the packs did not make their port", str(port), f"see {log}")


def _end(packs: subprocess.Popen[bytes]) -> None:
    packs.terminate()
    try:
        packs.wait(END_S_MAX)
    except subprocess.TimeoutExpired:
        packs.kill()
        packs.wait()


def _each(option: str, values: list[str]) -> list[str]:
    return [part for value in values for part in (option, value)]


def _free_ports(count: int) -> list[str]:
    """Give UDP ports of this machine that nobody has now."""
    import contextlib
    import socket

    with contextlib.ExitStack() as held:
        found = [
            held.enter_context(socket.socket(socket.AF_INET, socket.SOCK_DGRAM))
            for _ in range(count)
        ]
        for one in found:
            one.bind(("127.0.0.1", 0))
        return [f"udp:127.0.0.1:{one.getsockname()[1]}" for one in found]


def _serial_names(journal: Path, count: int) -> list[str]:
    from monitor.desk import socket_path

    port = socket_path(journal)
    return [f"serial:{port.with_suffix('.port')}{n or ''}" for n in range(count)]
