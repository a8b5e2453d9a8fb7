"""Manual pages made from the help: ``python -m monitor.cli.man_pages FOLDER``.

What stands in a page stands in ``--help`` and nowhere else; here it gets the marks of man(7).
"""

import argparse
import re
import sys
from collections.abc import Iterator
from pathlib import Path

from monitor import __version__
from monitor.cli import build_parser

_SECTION = re.compile(r"^([A-Z][A-Z ]+):?$")


def pages() -> Iterator[tuple[str, str]]:
    """Give each page: the name of its file, and its text."""
    parser = build_parser()
    yield "outby.1", _page("outby", parser)
    for action in parser._actions:  # noqa: SLF001 - there is no other way to the commands
        if isinstance(action, argparse._SubParsersAction):  # noqa: SLF001
            for name, command in action.choices.items():
                yield f"outby-{name}.1", _page(f"outby-{name}", command)


def _page(name: str, parser: argparse.ArgumentParser) -> str:
    usage, _, rest = parser.format_help().removeprefix("usage: ").partition("\n\n")
    first, _, body = rest.partition("\n\n")
    summary = " ".join(first.split()).partition(" - ")[2]
    lines = [
        f'.TH {name.upper()} 1 "" "outby {__version__}"',
        ".SH NAME",
        f"{_escaped(name)} \\- {_escaped(summary)}",
        ".SH SYNOPSIS",
        *_as_it_is(usage.splitlines()),
    ]
    part: list[str] = []
    for line in body.splitlines():
        heading = _SECTION.match(line)
        if heading:
            lines += [*_as_it_is(part), f".SH {heading[1]}"]
            part = []
        else:
            part.append(line.removeprefix("  "))
    return "\n".join([*lines, *_as_it_is(part)]) + "\n"


def _as_it_is(lines: list[str]) -> list[str]:
    """Lines that are laid out already."""
    text = "\n".join(lines).strip("\n")
    return [".nf", *map(_escaped, text.splitlines()), ".fi"] if text else []


def _escaped(line: str) -> str:
    """No character of a line means anything to man(7)."""
    safe = line.replace("\\", "\\e").replace("-", "\\-").replace("'", "\\(aq")
    return f"\\&{safe}" if safe.startswith(".") else safe


def main(folder: Path) -> None:
    """Write all of them."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in pages():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
