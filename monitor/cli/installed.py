"""What an installation calls ``outby``: one package, with ``monitor`` and the other three in it.

The build puts this file at ``outby/__init__.py`` and the folders of the checkout beside it
(``pyproject.toml``): as packages of their own they would take common names from everybody else in
that environment. In the process of this program their folder comes first on the path; no other
program sees it. An editable installation has only this file, and the checkout is on the path.
"""

import sys
from pathlib import Path


def main() -> int:
    """Be the ``outby`` command."""
    sys.path.insert(0, str(Path(__file__).parent))
    from monitor.cli import main as command  # the path comes first

    return command()
