"""What the terminal of a command can show."""

import sys


def can_draw() -> bool:
    """Tell whether the terminal can show the board at all."""
    import os

    streams = (sys.stdin, sys.stdout, sys.__stderr__)
    whole = all(stream is not None and stream.isatty() for stream in streams)
    return whole and os.environ.get("TERM", "dumb") not in {"", "dumb"}


def ascii_only() -> bool:
    """Tell whether the language settings promise no more than ASCII."""
    import locale
    import os

    said = os.environ.get("LC_ALL") or os.environ.get("LC_CTYPE") or os.environ.get("LANG") or ""
    return said in {"C", "POSIX"} or locale.getpreferredencoding(do_setlocale=False) != "UTF-8"
