"""What commands share that tell a page: as text here, or as HTML into a file."""

import argparse
import shutil
from typing import TYPE_CHECKING

from monitor.cli.options import add_output
from monitor.errors import BadUsage, Exit

if TYPE_CHECKING:
    from monitor.report.html import Page

WIDTH_MIN = 80
"""Six to eight columns of words, and the narrowest screen of the board."""


def add_page(parser: argparse.ArgumentParser) -> argparse._ArgumentGroup:
    """Add the options of a page; more may be added to the group."""
    group = parser.add_argument_group("HOW TO TELL IT")
    add_output(group, "as a page of HTML, into a new file")
    group.add_argument("--width", metavar="COLUMNS", type=int,
                       help="of the text; as wide as the terminal if not said")  # fmt: skip
    return group


def check_page(args: argparse.Namespace) -> None:
    """Raise BadUsage or BadFile before any work is done for a page that nobody would get."""
    from monitor.report.file import must_be_new

    if args.width is not None and args.width < WIDTH_MIN:
        raise BadUsage("too narrow for its tables", "--width", f"{WIDTH_MIN} or more")
    if args.output is not None:
        must_be_new(args.output)


def give_page(args: argparse.Namespace, page: "Page", caution: str) -> int:
    """Print it, or write the file and say ``caution`` of it. Raises BadFile."""
    from monitor.report import html
    from monitor.report.file import write
    from monitor.report.text import text

    if args.output is None:
        print(text(page, args.width or max(shutil.get_terminal_size().columns, WIDTH_MIN)))
    else:
        write(args.output, html.page(page))
        print(f"{args.output}: {caution}")
    return Exit.OK
