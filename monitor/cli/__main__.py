"""``python -m monitor.cli``: the ``outby`` command, as the program starts itself (``children``)."""

import sys

from monitor.cli import main

sys.exit(main())
