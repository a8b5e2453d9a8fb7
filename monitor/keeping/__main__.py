"""``python -m monitor.keeping``: the keeper, as a recorder starts and tells it."""

import sys

from monitor.checkpoint.process import TOLD_BYTES_MAX, told
from monitor.keeping.process import main

main(*told(sys.stdin.buffer.read(TOLD_BYTES_MAX)))
