"""``outby settings``: what is in force, and where each value comes from."""

import argparse
import json

from monitor.cli.options import Subparsers, add_command, add_format
from monitor.errors import Exit
from shared.printable import as_json

_DESCRIPTION = """\
Shows every setting with the value that is in force and where it comes from: the default, the file
for all users, the user's own file, or the environment; and which files are looked for. An option
of a command wins over all of them."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "settings",
        run=run,
        summary="what is in force, and where each value comes from",
        description=_DESCRIPTION,
        examples=(
            ("outby settings", "each setting with its value and its place"),
            ("outby settings --json", "the same for a program"),
        ),
        exits=(Exit.FILE,),
    )
    add_format(parser.add_argument_group("HOW TO TELL IT"), ("text", "json"), "one list")


def run(args: argparse.Namespace) -> int:
    """Show them. Raises BadFile, BadUsage."""
    import os

    from monitor import settings

    environ = os.environ
    said = settings.layers(environ)
    places = settings.places(said)
    values = settings.load(environ).model_dump(mode="json")
    if args.format == "json":
        rows = [{"setting": k, "value": v, "from": places[k]} for k, v in values.items()]
        print(as_json(rows))
        return Exit.OK
    shown = {key: json.dumps(value, ensure_ascii=False) for key, value in values.items()}
    wide = max(map(len, values)), max(map(len, shown.values()))
    for key, value in shown.items():
        print(f"{key:<{wide[0]}}  {value:<{wide[1]}}  {places[key]}")
    print()
    for path in settings.file_paths(environ):
        print(f"{path}: {'read' if path.exists() else 'not there'}")
    print(f"incidents are in {settings.load(environ).incidents_path}")
    return Exit.OK
