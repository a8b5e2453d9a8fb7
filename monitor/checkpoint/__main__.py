"""``python -m monitor.checkpoint JOURNAL``: the keeper, as a recorder starts it (``process``)."""

import sys
from pathlib import Path

from monitor.checkpoint.process import main

main(Path(sys.argv[1]))
