"""How the pages of ``--help`` look, and what a command line that cannot be read is answered.

A page is laid out for 80 columns: the narrowest screen of the board, and what a printer takes. A
mistake is answered in two lines: what is wrong, and how this very command is called.
"""

import argparse
import re
import shutil
import textwrap
from collections.abc import Collection, Sequence
from typing import Any, NoReturn

from monitor.errors import Exit

COLUMNS = 80
_WIDTH = COLUMNS - 2
_INDENT = "  "
_ALWAYS = frozenset({Exit.OK, Exit.INTERNAL, Exit.USAGE, Exit.SYSTEM})
"""What any command can end with."""

FILES = """\
FILES
  settings.toml     in the platform's configuration folder, or where
                    OUTBY_SETTINGS points
  *.journal         in the incidents folder, one file an incident;
                    NAME.journal.log beside it"""
ENVIRONMENT = """\
ENVIRONMENT
  OUTBY_SETTINGS    the settings file
  OUTBY_NAME, OUTBY_OFFICER, OUTBY_LINKS ...
                    any setting, in capitals; an option wins over it
  NO_COLOR          no colour on the board, signs and words stay"""


class Page(argparse.RawDescriptionHelpFormatter):
    """Never wider than a page, however wide the terminal."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=min(shutil.get_terminal_size().columns, COLUMNS) - 2)


class Parser(argparse.ArgumentParser):
    """A parser whose errors are its own, in two lines; those of acts below it are of its class."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong and how the command is called."""
        self.exit(Exit.USAGE, f"{self.prog}: {message}\n{self.called()}\n")

    def parse_known_args(  # type: ignore[override] # one form for all of the library's
        self,
        args: Sequence[str] | None = None,
        namespace: Any = None,  # noqa: ANN401
    ) -> tuple[Any, list[str]]:
        """Parse; a word that this command does not know is its own error, not the first page's."""
        found, unknown = super().parse_known_args(args, namespace)
        if unknown:
            self.error(f"unknown here: {' '.join(unknown)}")
        return found, unknown

    def called(self) -> str:
        """Give its usage in one line: what must be said; options that need not be are one word."""
        groups = [group for group in self._mutually_exclusive_groups if group.required]
        either = [action for group in groups for action in group._group_actions]  # noqa: SLF001 - no other way to know them
        needed = [a for a in self._actions if not a.option_strings or a.required or a in either]
        page = argparse.HelpFormatter(self.prog, width=10_000)
        page.add_usage(None, needed, groups)
        words = page.format_help().strip().replace(self.prog, f"{self.prog} [OPTION ...]", 1)
        return f"{words}; see --help"


def indented(text: str) -> str:
    """Lay out paragraphs for a page; one that has lines further in stays as it is."""
    paragraphs = re.split(r"\n\s*\n", text.strip("\n"))
    return "\n\n".join(map(_laid_out, paragraphs))


def _laid_out(paragraph: str) -> str:
    if re.search(r"^ ", paragraph, re.MULTILINE):
        return textwrap.indent(paragraph, _INDENT)
    return textwrap.fill(
        " ".join(paragraph.split()),
        _WIDTH,
        initial_indent=_INDENT,
        subsequent_indent=_INDENT,
        break_long_words=False,
        break_on_hyphens=False,
    )


def title(name: str, summary: str) -> str:
    """Give the first lines of a page."""
    return textwrap.fill(f"outby {name} - {summary}", _WIDTH, subsequent_indent=_INDENT)


def examples(shown: Sequence[tuple[str, str]]) -> str:
    """Give the section of examples: (command line, what it does); a long line is continued."""
    further = 3 * _INDENT
    parts = [
        _continued(line)
        + "\n"
        + textwrap.fill(what, _WIDTH, initial_indent=further, subsequent_indent=further)
        for line, what in shown
    ]
    return "\n".join(["EXAMPLES", *parts])


def _continued(line: str) -> str:
    """Break a command line before options, as a shell reads it on."""
    lines = [_INDENT]
    for part in re.split(r" (?=--)", line):
        joined = f"{lines[-1]} {part}" if lines[-1].strip() else lines[-1] + part
        if len(joined) > _WIDTH - 2 and lines[-1].strip():
            lines[-1] += " \\"
            lines.append(2 * _INDENT + part)
        else:
            lines[-1] = joined
    return "\n".join(lines)


def exit_status(further: Collection[Exit]) -> str:
    """Give the section of exit codes: those of every command, and these."""
    codes = sorted(_ALWAYS | set(further))
    lines = [
        textwrap.fill(
            code.words, _WIDTH, initial_indent=f"  {code.value:<4}", subsequent_indent=" " * 6
        )
        for code in codes
    ]
    return "\n".join(["EXIT STATUS", *lines])
