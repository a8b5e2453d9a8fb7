"""How this program starts a process of its own: recorder, packs, keeper, a second screen.

Python looks into the current folder (``-c``, ``-m``), ``PYTHONPATH`` and the user's site-packages
too, and runs a ``sitecustomize`` that it finds there: a file left in a folder would be run,
and could keep an incident from being recorded. So a child is isolated (option ``-I``,
https://docs.python.org/3/using/cmdline.html) and is told where the code of its parent stands: it
runs that very code, however the program is installed.

What its parent could find only by ``PYTHONPATH``, a child may find too, but last: nothing there
stands in for anything of Python, of this program or of what is installed, or is run by itself.
"""

import os
import site
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
"""The folder that holds ``monitor`` and the other packages: a checkout, or an installed one."""
_START = (
    "import sys; last, root, module = sys.argv[1:4]; del sys.argv[1:4]; "
    "sys.path[:] = [root, *sys.path, *filter(None, last.split(':'))]; "
    "import runpy; runpy.run_module(module, run_name='__main__', alter_sys=True)"
)


def line(module: str, *words: str) -> tuple[str, ...]:
    """Give the command line that runs ``module`` with ``words`` as its arguments."""
    user = site.getusersitepackages() if site.ENABLE_USER_SITE else None
    last = looked_into_last(os.environ.get("PYTHONPATH", ""))
    return (sys.executable, *flags(ROOT, user), "-c", _START, last, str(ROOT), module, *words)


def flags(root: Path, user_site: str | None) -> tuple[str, ...]:
    """Give the options of the interpreter; ``user_site`` is None where it is not looked into.

    Where the program itself stands in the user's site-packages, so does all that it depends on:
    that folder is then as good as the program, and only the rest is kept out.
    """
    if user_site is not None and root.is_relative_to(user_site):
        return ("-E", "-P")
    return ("-I",)


def looked_into_last(python_path: str) -> str:
    """Give the folders of ``PYTHONPATH`` that are the same wherever a child is started."""
    return ":".join(one for one in python_path.split(os.pathsep) if Path(one).is_absolute())
