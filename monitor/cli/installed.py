"""What an installation calls ``outby``: one package, with ``monitor`` and the other three in it.

The build puts this file at ``outby/__init__.py`` and the folders of the checkout beside it
(``pyproject.toml``): as packages of their own they would take common names from everybody else in
that environment. In the process of this program their folder comes first on the path; no other
program sees it. An editable installation has only this file, and the checkout is on the path.

The command is started by a line that an installer wrote, so its process is not isolated as those
are that it starts (``monitor/children.py``). The order of its path is made the same: what
``PYTHONPATH`` names comes last and stands in for nothing, neither the folder of the command nor the
current one is looked into, and the user's site-packages only where the program itself is in it.
Until then nothing is imported but what the interpreter has loaded by itself.
"""

import os
import site
import sys


def main() -> int:
    """Be the ``outby`` command."""
    home = os.path.dirname(os.path.abspath(__file__))  # noqa: PTH100, PTH120 - nothing is imported yet
    said = "" if sys.flags.ignore_environment else os.environ.get("PYTHONPATH", "")
    user = site.getusersitepackages() if site.ENABLE_USER_SITE else ""
    found = sys.path if sys.flags.safe_path else sys.path[1:]
    sys.path[:] = path(home, found, said.split(os.pathsep) if said else [], user)
    from monitor.cli import main as command  # the path comes first

    return command()


def path(home: str, found: list[str], named: list[str], user: str) -> list[str]:
    """Give the folders to import from, in their order.

    ``home``: where this program stands. ``found``: as the interpreter has them, but for the folder
    of a script. ``named``: as ``PYTHONPATH`` has them; a relative one, which is another folder
    wherever the program is started, is dropped. ``user``: the user's site-packages, or "".
    """
    theirs = {os.path.abspath(one): os.path.isabs(one) for one in named}  # noqa: PTH100, PTH117 - as above
    if not os.path.isdir(os.path.join(home, "monitor")):  # noqa: PTH112, PTH118 - as above
        # An editable installation: the checkout is where it is, also if it is named so.
        theirs = dict.fromkeys(theirs, True)
    mine = user and (home + os.sep).startswith(user + os.sep)
    kept = [one for one in found if one not in theirs and (mine or one != user)]
    return [home, *kept, *(one for one in found if theirs.get(one))]
