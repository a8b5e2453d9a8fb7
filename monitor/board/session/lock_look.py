"""Whether anybody records, asked of a disk that may not answer: never waited for."""

import threading
from collections.abc import Callable

ANSWER_S = 0.05
"""A disk that is well answers in microseconds."""


class LockLook:
    """Asks in a thread of its own, one at a time."""

    def __init__(self, is_free: Callable[[], bool]) -> None:
        """``is_free``: whether nobody records into the journal; it may hang, or raise OSError."""
        self._is_free = is_free
        self._asking: threading.Thread | None = None
        self._answer: bool | OSError = False

    def __call__(self) -> bool | None:
        """Whether nobody records; None: the disk does not answer. Raises OSError."""
        if self._asking is None:
            self._asking = threading.Thread(target=self._ask, name="lock look", daemon=True)
            self._asking.start()
        self._asking.join(ANSWER_S)
        if self._asking.is_alive():
            return None
        self._asking = None
        if isinstance(self._answer, OSError):
            raise self._answer
        return self._answer

    def _ask(self) -> None:
        try:
            self._answer = self._is_free()
        except OSError as error:
            self._answer = error
