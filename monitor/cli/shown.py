"""The one door to the terminal for all that commands print: nothing through it redraws a screen.

Names of files, words of a scenario, a header somebody else wrote, an argument that argparse quotes:
wherever a text comes from, it goes through here. Screens of the board have a door of their own
(``monitor.board.marks.clean``).
"""

import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from typing import Any, TextIO, cast

from shared.printable import escaped_lines


class Shown:
    """A text stream that shows what does not print by its code; all else is the stream's own."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write it, and say how much was given."""
        self._stream.write(escaped_lines(text))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        """Write each."""
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - whatever the stream has
        return getattr(self._stream, name)


@contextmanager
def only_what_prints() -> Iterator[None]:
    """Put both streams of the process behind that door."""
    out, err = Shown(sys.stdout), Shown(sys.stderr)
    with redirect_stdout(cast("TextIO", out)), redirect_stderr(cast("TextIO", err)):
        yield
