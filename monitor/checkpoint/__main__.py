"""``python -m monitor.checkpoint``: the keeper, as a recorder starts and tells it (``process``)."""

import sys

from monitor.checkpoint.process import TOLD_BYTES_MAX, main, told

main(*told(sys.stdin.buffer.read(TOLD_BYTES_MAX)))
