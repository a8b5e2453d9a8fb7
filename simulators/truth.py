"""The truth file: what a run really was, beside what the monitor could hear of it.

JSON lines. The first says which scenario and seed, whose run, and all of the scenario as it was
played; then, in order of time:

    state    a wearer at the moment of a report: pressure, air, rate, work, stillness
    frame    each frame and copy that a pack sent, once its last bit is: kind, sequence, copy;
             ``lost`` names the cause, or is null: then the level at the base, when it arrives
             there (twice if repeated), whether it was corrupted
    deed     what a wearer did
    order    an order received for the first time
    channel  every minute and at the end, counts since the start of what the radio did, each way;
             to the packs a frame counts once for each pack that could hear it
"""

import json
from collections.abc import Iterable, Mapping
from pathlib import Path

from shared.writing import new_file

FORMAT = 1


PLAYED_BYTES_MAX = 900_000
"""Of a scenario, as JSON: one line of a truth file has a million at most."""


def _short_enough(played: Mapping[str, object] | None) -> Mapping[str, object] | None:
    """Only ten thousand packs that are each written out have more."""
    whole = json.dumps(played, separators=(",", ":"))
    return played if len(whole) <= PLAYED_BYTES_MAX else None


class TruthFile:
    """Written as the run goes, so that a run cut short leaves what there was."""

    def __init__(
        self,
        path: Path,
        *,
        scenario: str,
        seed: int,
        boots_before: int,
        trainee: str = "",
        played: Mapping[str, object] | None = None,
    ) -> None:
        """Begin a new file. Raises OSError; FileExistsError where something has that name.

        ``scenario``: its title; ``played``: all of it, as it was; ``trainee``: whose run it is.
        """
        head = {
            "what": "run",
            "format": FORMAT,
            "scenario": scenario,
            "seed": seed,
            "boots_before": boots_before,
            "trainee": trainee,
            "played": _short_enough(played),
        }
        with new_file(path) as file:
            file.write(_line(head))
        self._file = path.open("ab")

    def write(self, notes: Iterable[Mapping[str, object]]) -> None:
        """Add lines. Raises OSError."""
        for note in notes:
            self._file.write(_line(note))
        self._file.flush()

    def close(self) -> None:
        """End the file."""
        self._file.close()


def _line(note: Mapping[str, object]) -> bytes:
    return json.dumps(note, separators=(",", ":")).encode() + b"\n"
