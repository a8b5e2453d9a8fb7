"""The ``outby`` command: finds the sub-command, runs it, turns an error into one line."""

import argparse
import importlib
import importlib.util
import os
import sys
from collections.abc import Sequence

from monitor import __version__
from monitor.cli.options import CAUTION, check_paths, exit_status, indented
from monitor.cli.shown import only_what_prints
from monitor.errors import Exit, OutbyError

COMMANDS = (
    "watch", "record", "drill", "packs", "conformance", "keys", "air", "verify", "incidents",
    "export", "report", "orders", "handover", "replay", "score", "roster",
    "instruct",
)  # fmt: skip
"""In the order of the help: each is a module of this package."""

_DESCRIPTION = f"""\
outby - base-station monitor for people in breathing apparatus

DESCRIPTION
  Hears breathing packs over serial ports and UDP, keeps everything in a journal, and shows
  the person at the base radio who is where, with how much air, and what to do now.
  "outby COMMAND --help" is the manual page of one command.

CAUTION
{indented(CAUTION)}"""

_EPILOG = f"""\
EXAMPLES
  outby drill
      a live board on an invented incident with virtual packs; nothing to set up
  outby watch --name "Kiln Lane" --officer "R. Harrow" --exercise --procedure plain
      open an incident, record it, and show the board
  outby watch
      show the board of the incident that is being recorded

{exit_status()}"""


class _Page(argparse.RawDescriptionHelpFormatter):
    """Commands stand two columns further in than argparse allows for; the longest must fit."""

    def add_argument(self, action: argparse.Action) -> None:
        super().add_argument(action)
        self._action_max_length = max(self._action_max_length, max(map(len, COMMANDS)) + 4)


def build_parser() -> argparse.ArgumentParser:
    """Build the whole command line; importing the commands costs little by their own rule."""
    parser = argparse.ArgumentParser(
        prog="outby",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=_Page,
        allow_abbrev=False,
    )
    parser.add_argument("--version", action="version", version=f"outby {__version__}")
    subparsers = parser.add_subparsers(metavar="COMMAND", required=True, title="COMMANDS")
    for name in COMMANDS:
        if importlib.util.find_spec(f"monitor.cli.{name}"):
            importlib.import_module(f"monitor.cli.{name}").add_parser(subparsers)
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; every foreseen error is one line on stderr."""
    with only_what_prints():
        return _run(argv)


def _run(argv: Sequence[str] | None) -> int:
    try:
        args = build_parser().parse_args(argv)
        check_paths(args)
        return int(args.func(args))
    except OutbyError as error:
        print(f"outby: {error}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        return Exit.OK
    except BrokenPipeError:
        # The reader of our output has gone (a pager that quit): no more to say to it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return Exit.OK
    except OSError as error:
        # A disk, a folder, a limit of the system: no fault that a traceback would explain.
        where = f": {error.filename}" if error.filename else ""
        words = f"the system says: {error.strerror or error}{where}: see to disk, folder and rights"
        print(f"outby: {words}", file=sys.stderr)
        return Exit.JOURNAL
