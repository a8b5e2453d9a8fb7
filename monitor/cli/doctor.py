"""``outby doctor``: tries what recording needs on this machine, one line each with what to do."""

import argparse
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING

from monitor.cli.checkup import Finding, Verdict
from monitor.cli.options import (
    Subparsers,
    add_command,
    add_format,
    add_settings,
    settings_of,
)
from monitor.errors import Exit
from shared.printable import as_json

if TYPE_CHECKING:
    from monitor.settings import Settings

_DESCRIPTION = """\
Tries what recording and showing need on this machine, before anybody depends on it: how fast the
disk of the incidents folder takes a commit, and what room it has; the buffer that the system gives
a UDP port; the clock; the terminal, its size, colours and signs; the sound, by two soft pulses that
you must hear; the serial ports that are there; the key file. One line each: good, look or bad, with
what was found and what to do.

It opens no incident, hears no pack and writes one file of 4 MB, which it takes away. It ends with 7
if anything is bad. That all is good here proves nothing of the packs or the radio."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "doctor",
        run=run,
        summary="tries disk, ports, clock, terminal, sound, keys",
        description=_DESCRIPTION,
        examples=(
            ("outby doctor", "with the settings in force"),
            ("outby doctor --sound off --json", "without a tone, as fields"),
        ),
        exits=(Exit.FILE, Exit.NOT_ANSWERED),
    )
    add_format(parser.add_argument_group("HOW TO TELL IT"), ("text", "json"), "one list")
    parser.add_argument_group("SOUND").add_argument(
        "--sound", metavar="HOW", help="who sounds alarms, to be tried: auto, or a command; off"
    )
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Try all of it. Raises BadFile, BadUsage for settings alone."""
    settings = settings_of(args)
    found = []
    for look in _looks(settings):
        found.append(look())
        if args.format == "text":
            one = found[-1]
            to_do = f": {one.to_do}" if one.to_do else ""
            print(f"{one.verdict:<4}  {one.what:<9}  {one.found}{to_do}", flush=True)
    if args.format == "json":
        print(as_json([one._asdict() for one in found]))
    bad = any(one.verdict is Verdict.BAD for one in found)
    return Exit.NOT_ANSWERED if bad else Exit.OK


def _looks(settings: "Settings") -> list[Callable[[], Finding]]:
    from monitor.cli import checkup

    return [
        lambda: checkup.disk(settings.incidents_path),
        checkup.buffers,
        checkup.clock,
        lambda: checkup.terminal(sys.__stdout__),
        checkup.signs,
        lambda: checkup.sound(settings.sound),
        lambda: checkup.ports(settings.links),
        lambda: checkup.keys(settings.key),
    ]
