"""The truth file: what a run really was, beside what the monitor could hear of it.

JSON lines. The first says which drill and seed; then, in order of time:

    state   a wearer at the moment of a report: pressure, air, rate, work, stillness
    frame   each frame and copy sent: kind, sequence, level at the base (null: lost)
    deed    what a wearer did
    order   an order received for the first time
"""

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

FORMAT = 1


class TruthFile:
    """Written as the run goes, so that a run cut short leaves what there was."""

    def __init__(self, path: Path, *, drill: str, seed: int, boots_before: int) -> None:
        """Begin the file anew. Raises OSError."""
        self._file = path.open("w", encoding="utf-8")
        self.write(
            [
                {
                    "what": "run",
                    "format": FORMAT,
                    "drill": drill,
                    "seed": seed,
                    "boots_before": boots_before,
                }
            ]
        )

    def write(self, notes: Iterable[Mapping[str, object]]) -> None:
        """Add lines. Raises OSError."""
        for note in notes:
            self._file.write(json.dumps(note, separators=(",", ":")) + "\n")
        self._file.flush()

    def close(self) -> None:
        """End the file."""
        self._file.close()
