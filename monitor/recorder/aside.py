"""One thread for what may hang and is not urgent: never the loop's.

It does one thing at a time. What is asked for while it hangs takes the place of what waits: whoever
keeps something time and again wants the newest kept.
"""

import logging
import threading
from collections.abc import Callable

_log = logging.getLogger(__name__)


class Aside:
    """Begins with the first thing to do. It is a daemon: no process waits for it to end."""

    def __init__(self, name: str) -> None:
        self._wake = threading.Condition()
        self._next: Callable[[], None] | None = None
        self._ending = False
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def do(self, work: Callable[[], None]) -> None:
        """Have it done, in place of what waits."""
        with self._wake:
            self._next = work
            self._wake.notify()
        if not self._thread.ident:
            self._thread.start()

    def end(self, within_s: float) -> bool:
        """Do what waits, then end; False: it hangs, and is left to itself."""
        with self._wake:
            self._ending = True
            self._wake.notify()
        if self._thread.ident:
            self._thread.join(within_s)
        return not self._thread.is_alive()

    def _run(self) -> None:
        while True:
            with self._wake:
                self._wake.wait_for(lambda: self._next is not None or self._ending)
                work, self._next = self._next, None
            if work is None:
                return
            try:
                work()
            except Exception:  # noqa: BLE001 - the next may go well
                _log.exception("what was done aside failed")
