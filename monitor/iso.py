"""Wall-clock instants as programs read them: ISO 8601 in Coordinated Universal Time. Pure."""

from datetime import UTC, datetime
from functools import lru_cache

NS_PER_S = 1_000_000_000


def iso_s(wall_ns: int) -> str:
    """Cut off to the second: ``2026-03-14T15:09:26Z``."""
    return _second(wall_ns // NS_PER_S) + "Z"


def iso_ns(wall_ns: int) -> str:
    """To the nanosecond: ``2026-03-14T15:09:26.535897932Z``."""
    return f"{_second(wall_ns // NS_PER_S)}.{wall_ns % NS_PER_S:09d}Z"


@lru_cache(maxsize=64)
def _second(seconds: int) -> str:
    # Rows come in order, so nearly every one falls into the second of the one before.
    return datetime.fromtimestamp(seconds, UTC).strftime("%Y-%m-%dT%H:%M:%S")
