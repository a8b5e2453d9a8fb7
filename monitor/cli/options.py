"""What the commands share: the look of ``--help``, and the options that open an incident.

A command is a module ``monitor/cli/NAME.py`` with ``add_parser(subparsers)`` and
``run(args) -> int``. ``add_parser`` calls :func:`add_command`; ``run`` asks :func:`settings_of`
for settings with the options put over them. Heavy imports belong inside ``run``.
"""

import argparse
import os
from collections.abc import Callable, Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from monitor import settings
from monitor.cli import manual
from monitor.cli.manual import indented
from monitor.errors import BadUsage, Exit
from monitor.settings import Settings

if TYPE_CHECKING:
    # The standard library gives this type no public name.
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]  # noqa: SLF001
else:
    Subparsers = object

NAME_BYTES_MAX = 200
"""File systems take 255; what stands beside a journal has a longer name than it."""
PATH_BYTES_MAX = 3_800
"""Of 4,096, for the same reason."""
WHICH = 'as "outby incidents" calls it, a part that fits one only, "last", or a path'
"""How an argument names an incident."""
CAUTION = """\
Outby is an aid to decision and training, not a certified safety device. Local procedure,
the wearer's own gauge and warning device, the maker's instructions and the competent
authority's rules come first. Keep the tallies and the paper board going."""
"""In lines of a manual page; also for the start screen and reports."""


def add_command(
    subparsers: Subparsers,
    name: str,
    *,
    run: Callable[[argparse.Namespace], int],
    summary: str,
    description: str,
    examples: Sequence[tuple[str, str]],
    exits: Collection[Exit],
) -> argparse.ArgumentParser:
    """Add one command whose ``--help`` reads like a manual page.

    ``examples`` are (command line, what it does); ``exits`` what it can end with beside what every
    command can. Options are added to what is returned.
    """
    sections = (manual.examples(examples), manual.FILES, manual.ENVIRONMENT)
    parser = subparsers.add_parser(
        name,
        help=summary,
        description=f"{manual.title(name, summary)}\n\nDESCRIPTION\n{indented(description)}",
        epilog="\n\n".join([*sections, manual.exit_status(exits)]),
        formatter_class=manual.Page,
        allow_abbrev=False,
        add_help=False,
    )
    _add_help(parser)
    parser.set_defaults(func=run, exits=exits)
    return parser


def add_act(
    acts: Subparsers, name: str, summary: str, exits: Collection[Exit]
) -> argparse.ArgumentParser:
    """Add an act of a command, with a short page of its own."""
    parser = acts.add_parser(
        name,
        help=summary,
        description=indented(summary),
        epilog=manual.exit_status(exits),
        formatter_class=manual.Page,
        allow_abbrev=False,
        add_help=False,
    )
    _add_help(parser)
    return parser


def _add_help(parser: argparse.ArgumentParser) -> None:
    # There is no other way to name the groups that an argument without one gets into.
    parser._positionals.title, parser._optionals.title = "ARGUMENTS", "OPTIONS"  # noqa: SLF001
    parser.add_argument("-h", "--help", action="help", help="show this page and end")


def add_output(group: "argparse._ArgumentGroup", what: str, *, metavar: str = "FILE") -> None:
    """Add the option that says into which new file a command writes."""
    group.add_argument("-o", "--output", metavar=metavar, type=Path, help=what)


def add_format(
    group: "argparse._ArgumentGroup", forms: Sequence[str], words: str = "for a program"
) -> None:
    """Add the option that says in which form a command tells; the first if it is not said.

    ``--json`` is short for one of them. ``words`` say what that is.
    """
    shown = f"{forms[0]} if not said"
    group.add_argument("--format", choices=forms, default=forms[0], metavar="FORM",
                       help=f"{', '.join(forms[:-1])} or {forms[-1]}; {shown}")  # fmt: skip
    group.add_argument("--json", dest="format", action="store_const", const="json",
                       help=f"the same as --format json: {words}")  # fmt: skip


def add_settings(parser: argparse.ArgumentParser) -> None:
    """Add the option that any command with journals has."""
    group = parser.add_argument_group("SETTINGS")
    group.add_argument("--incidents-folder", metavar="FOLDER", help="where journals are kept")


def add_sound(parser: argparse.ArgumentParser) -> None:
    """Add the options of what starts a recorder: it sounds alarms, nothing else does."""
    group = parser.add_argument_group("SOUND")
    group.add_argument(
        "--sound", metavar="HOW",
        help="who sounds alarms: auto, bell, off, or the command of a player",
    )  # fmt: skip
    group.add_argument(
        "--evacuation-tone", metavar="CYCLES", type=int,
        help="cycles of it heard at the base when an evacuation is given, at most 3; else none",
    )  # fmt: skip


def _said(text: str) -> str:
    """Give a text that a record can hold."""
    from pydantic import TypeAdapter, ValidationError

    from monitor.incident.event_parts import TEXT_MAX, Said

    try:
        return TypeAdapter(Said).validate_python(text)
    except ValidationError:
        what = f"at most {TEXT_MAX} characters, all of them printable"
        raise argparse.ArgumentTypeError(what) from None


NAME_MAX = 60
"""As an incident's officer has it."""


def person(text: str) -> str:
    """A person's name on a command line. argparse tells an error in its own words."""
    name = text.strip()
    if not 1 <= len(name) <= NAME_MAX or not name.isprintable() or name.startswith("-"):
        raise argparse.ArgumentTypeError(f"a name has 1 to {NAME_MAX} characters, on one line")
    return name


def add_opening(parser: argparse.ArgumentParser) -> None:
    """Add the options that say what incident is opened, and where packs are heard."""
    group = parser.add_argument_group("OPENING AN INCIDENT")
    group.add_argument("--name", help='of the incident, such as "Kiln Lane"')
    group.add_argument("--place", help="where it is")
    group.add_argument("--entry-point", metavar="DOOR", help='the door this board is at: "A"')
    group.add_argument("--operation", metavar="NAME",
                       help="one name at every entry point that belongs together")  # fmt: skip
    group.add_argument("--stage", help="stage or control level, in the words of the procedure")
    group.add_argument("--officer", metavar="NAME", help="whose board it is")
    use = group.add_mutually_exclusive_group()
    use.add_argument("--exercise", dest="use", action="store_const", const="exercise",
                     help="training: EXERCISE on every screen and record")  # fmt: skip
    use.add_argument("--real", dest="use", action="store_const", const="real",
                     help="a real incident")  # fmt: skip
    group.add_argument("--clock-checked", action="store_true",
                       help="the clock of this machine was checked against control")  # fmt: skip
    group.add_argument("--simulated", default="", metavar="WHAT", type=_said,
                       help="of an exercise with virtual packs: what they are started from, for "
                            "the record")  # fmt: skip
    group.add_argument("--procedure", metavar="NAME|FILE", help="the rules in force")
    group.add_argument("--roster", metavar="NAME|FILE", help="people, crews and their packs")
    group.add_argument("--cylinders", metavar="FILE", help="cylinders of your own, by name")
    group.add_argument(
        "--link", dest="links", action="append", metavar="LINK",
        help="udp:[HOST:]PORT or serial:DEVICE[@BAUD]; may be given several times; "
        "not said: the setting real_links or exercise_links",
    )  # fmt: skip
    group.add_argument("--key", metavar="FILE", help="fleet key file; without it: open mode")


def add_display(parser: argparse.ArgumentParser) -> None:
    """Add the options of a screen."""
    group = parser.add_argument_group("SCREEN")
    group.add_argument("--theme", choices=("dark", "daylight"), help="colours to start with")
    group.add_argument(
        "--glyphs", choices=("unicode", "blocks", "ascii"), help="signs the terminal has"
    )
    group.add_argument(
        "--mouse", action=argparse.BooleanOptionalAction, default=None, help="use the mouse"
    )


def settings_of(args: argparse.Namespace) -> Settings:
    """Defaults, file, environment and options in one. Raises BadFile or BadUsage."""
    return settings.load(os.environ).with_options(vars(args))


def said_of(args: argparse.Namespace) -> frozenset[str]:
    """Names of the settings that are said on this very command line."""
    fields = Settings.model_fields
    return frozenset(k for k, v in vars(args).items() if v is not None and k in fields)


def check_home() -> None:
    """Raise BadUsage where the system knows no home folder: files would get into a folder ``~``."""
    if not os.path.isabs(os.path.expanduser("~")):  # noqa: PTH111, PTH117 - Path.home() raises
        raise BadUsage("this user has no home folder", "HOME", "set it to a folder of this user")


def check_paths(args: argparse.Namespace) -> None:
    """Raise BadUsage for a path that no file can have, before anything is done with it.

    Each system call would say so at a place of its own, some in the midst of work.
    """
    for name, value in vars(args).items():
        for path in value if isinstance(value, list) else [value]:
            if isinstance(path, Path) and not _can_be(path):
                what = "no file can have that name"
                to_do = f"at most {NAME_BYTES_MAX} bytes between two slashes"
                raise BadUsage(what, f"{name}: {path}", to_do)


def _can_be(path: Path) -> bool:
    raw = os.fsencode(path)
    parts = map(os.fsencode, path.parts)
    return (
        b"\0" not in raw
        and len(raw) <= PATH_BYTES_MAX
        and max(map(len, parts), default=0) <= NAME_BYTES_MAX
    )


def missing_opening(chosen: Settings) -> list[str]:
    """Name the options without which no incident is opened and that were not said."""
    needed = {
        "--name": chosen.name,
        "--officer": chosen.officer,
        "--exercise or --real": chosen.use,
        "--procedure": chosen.procedure,
    }
    return [option for option, value in needed.items() if not value]


def require_opening(chosen: Settings) -> None:
    """Raise BadUsage unless all that a new incident needs has been said. Nothing is assumed."""
    missing = missing_opening(chosen)
    if missing:
        raise BadUsage("a new incident needs " + ", ".join(missing), to_do="say it, or set it once")
