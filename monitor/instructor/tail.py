"""What really is, from a truth file that is still being written."""

import json
from dataclasses import dataclass, field
from pathlib import Path

from shared import reading

READ_BYTES_MAX = 1_000_000
"""Read in one go; a long file is caught up with over several looks."""
LINE_BYTES_MAX = 100_000
CAME_MAX = 1_000


@dataclass(frozen=True, slots=True)
class HowItIs:
    """How one wearer really is, at their last report."""

    wearer: int
    t_ns: int
    """Of the run."""
    bar: float
    rate_l_min: float
    work: str
    still_s: float
    on_air: bool
    place: str
    floor: float
    way_back_s: float


@dataclass(slots=True)
class Really:
    """All that is known of the run so far."""

    scenario: str = ""
    seed: int = 0
    t_ns: int = 0
    """Of the run, at the newest line."""
    wearers: dict[int, HowItIs] = field(default_factory=dict)
    came: list[tuple[int, str]] = field(default_factory=list)
    """When which inject came, by its name."""
    ordered: dict[int, str] = field(default_factory=dict)
    """By pack: the last order it has received."""
    refused: str = ""
    """Why the last thing that was asked for could not be done; empty: it could."""


class TruthTail:
    """Follows the file from its start."""

    def __init__(self, path: Path) -> None:
        """Nothing is read yet; the file need not be there."""
        self.really = Really()
        self._path = path
        self._at = 0
        self._rest = b""

    def poll(self) -> bool:
        """Take what is new; True if there was something. A line that is none is passed over."""
        try:
            data = reading.part(self._path, READ_BYTES_MAX, self._at)
        except reading.Unreadable:
            return False
        self._at += len(data)
        *whole, self._rest = (self._rest + data).split(b"\n")
        self._rest = self._rest[-LINE_BYTES_MAX:]
        for line in whole:
            try:
                take(self.really, json.loads(line))
            except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
                continue
        return bool(data)


def take(really: Really, note: dict[str, object]) -> None:
    """Take one line. ValueError, KeyError, TypeError for one that is none."""
    what = note["what"]
    if what == "run":
        really.scenario = str(note["scenario"])
        really.seed = int(str(note.get("seed", 0)))
        return
    t_ns = int(str(note["t_ns"]))
    really.t_ns = max(really.t_ns, t_ns)
    if what == "state":
        one = _state(t_ns, note)
        really.wearers[one.wearer] = one
    elif what == "inject" and len(really.came) < CAME_MAX:
        really.came.append((t_ns, str(note["name"])))
    elif what == "order":
        really.ordered[int(str(note["pack"]))] = str(note["kind"]).replace("_", " ").lower()
    elif what == "instructor":
        really.refused = str(note.get("refused", ""))


def _state(t_ns: int, note: dict[str, object]) -> HowItIs:
    def number(name: str) -> float:
        return float(str(note[name]))

    return HowItIs(
        wearer=int(str(note["wearer"])),
        t_ns=t_ns,
        bar=number("pressure_bar"),
        rate_l_min=number("rate_l_min"),
        work=str(note["work"]),
        still_s=number("still_s"),
        on_air=note["breathing_from_set"] is True,
        place=str(note["place"] or ""),
        floor=number("floor"),
        way_back_s=number("way_back_s"),
    )
