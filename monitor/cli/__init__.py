"""The ``outby`` command: finds the sub-command, runs it, turns an error into one line."""

import argparse
import importlib
import importlib.util
import os
import sys
from collections.abc import Sequence
from typing import Any, TextIO

from monitor import __version__
from monitor.cli import manual
from monitor.cli.journals import by_its_name, taken_out
from monitor.cli.options import CAUTION, check_home, check_paths
from monitor.cli.shown import only_what_prints
from monitor.errors import Exit, OutbyError

COMMANDS = (
    "watch", "record", "drill", "packs", "conformance", "keys", "air", "verify", "incidents",
    "export", "report", "orders", "handover", "replay", "score", "roster",
    "instruct", "status", "stop", "feed", "relay", "mirror", "overview", "settings", "doctor",
)  # fmt: skip
"""In the order of the help: each is a module of this package."""

_WHAT = """\
Hears breathing packs over serial ports and UDP, keeps everything in a journal, and shows the person
at the base radio who is where, with how much air, and what to do now. "outby COMMAND --help" is the
manual page of one command."""

_DESCRIPTION = f"""\
outby - base-station monitor for people in breathing apparatus

DESCRIPTION
{manual.indented(_WHAT)}

CAUTION
{manual.indented(CAUTION)}"""

_EXAMPLES = (
    ("outby drill", "a live board on an invented incident with virtual packs; nothing to set up"),
    (
        'outby watch --name "Kiln Lane" --officer "R. Harrow" --exercise --procedure plain',
        "open an incident, record it, and show the board",
    ),
    ("outby watch", "show the board of the incident that is being recorded"),
)


class _Page(manual.Page):
    """Commands stand two columns further in than argparse allows for; the longest must fit."""

    def add_argument(self, action: argparse.Action) -> None:
        super().add_argument(action)
        self._action_max_length = max(self._action_max_length, max(map(len, COMMANDS)) + 4)


class _Completion(argparse.Action):
    """Prints a script for a shell, made from the parser itself, and ends."""

    def __call__(
        self,
        parser: argparse.ArgumentParser,
        namespace: argparse.Namespace,  # noqa: ARG002 - the library's shape
        values: str | Sequence[Any] | None,
        option_string: str | None = None,  # noqa: ARG002 - the same
    ) -> None:
        import shtab

        print(shtab.complete(parser, str(values)))
        parser.exit()


def build_parser() -> argparse.ArgumentParser:
    """Build the whole command line; importing the commands costs little by their own rule."""
    parser = manual.Parser(
        prog="outby",
        description=_DESCRIPTION,
        epilog=f"{manual.examples(_EXAMPLES)}\n\n{manual.exit_status(list(Exit))}",
        formatter_class=_Page,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"outby {__version__}")
    parser.add_argument("--completion", choices=("bash", "zsh", "tcsh"), action=_Completion,
                        help="print what has that shell complete commands and options")  # fmt: skip
    subparsers = parser.add_subparsers(metavar="COMMAND", required=True, title="COMMANDS")
    for name in COMMANDS:
        if importlib.util.find_spec(f"monitor.cli.{name}"):
            importlib.import_module(f"monitor.cli.{name}").add_parser(subparsers)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; every foreseen error is one line on stderr."""
    with only_what_prints(), taken_out():
        return _run(argv)


def _run(argv: Sequence[str] | None) -> int:
    try:
        args = build_parser().parse_args(argv)
        check_home()
        check_paths(args)
        return _done(args)
    except OutbyError as error:
        _tell(by_its_name(str(error)))
        return error.exit_code
    except KeyboardInterrupt:
        return Exit.OK
    except BrokenPipeError:
        # The reader of our output has gone (a pager that quit): no more to say to it.
        _let_go_of(sys.stdout)
        return Exit.OK
    except OSError as error:
        # A disk, a folder, a limit of the system: no fault that a traceback would explain.
        where = f": {error.filename}" if error.filename else ""
        _tell(f"the system says: {error.strerror or error}{where}: see to disk, folder and rights")
        try:
            sys.stdout.flush()
        except OSError:
            _let_go_of(sys.stdout)
        return Exit.SYSTEM


def _done(args: argparse.Namespace) -> int:
    code = int(args.func(args))
    # Else a disk that takes no more would be found out after the last word.
    sys.stdout.flush()
    return code


def _tell(words: str) -> None:
    """Say what went wrong, if there is anybody: a terminal that has gone changes no exit code."""
    try:
        print(f"outby: {words}", file=sys.stderr, flush=True)
    except OSError:
        _let_go_of(sys.stderr)


def _let_go_of(stream: TextIO) -> None:
    """What could not be written is not tried again at the end of the process."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())
