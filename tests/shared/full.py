"""A disk that takes no more, for this process alone: a limit of the system on a file's length."""

import resource
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_more_than(length: int) -> Iterator[None]:
    """Each write beyond so many bytes of a file fails: setrlimit(2), RLIMIT_FSIZE, EFBIG."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (length, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
