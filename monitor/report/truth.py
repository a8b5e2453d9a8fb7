"""What virtual packs really did, in the time of the incident: a truth file beside its journal.

A truth file counts from the start of the run, a journal from the opening of the incident. What lies
between the two is found from the frames that are in both.
"""

import json
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

from monitor.data_files import unreadable
from monitor.errors import BadFile
from monitor.incident.decoding import event_of
from monitor.incident.events import Heard
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.report.orders_log import Tones
from shared import reading

STATES_MAX = 2_000_000
"""A thousand wearers at 1 Hz for half an hour."""
LINE_BYTES_MAX = 1_000_000
"""A run's line has some hundred bytes; one for each of ten thousand wearers would fit."""
FRAMES_COMPARED_MAX = 2_000
"""Frames looked at to find the difference of the two times; more tell no more."""


@dataclass(frozen=True, slots=True)
class Told:
    """An inject as the run had it."""

    shows: str
    """Kind of the alarm by which the board must show it; empty: it need not."""
    wearers: frozenset[int]
    within_s: float
    could_not: str = ""
    """Why it could not happen; empty: it did."""


@dataclass(frozen=True, slots=True)
class Truth:
    """What of a truth file stands in no journal; times are incident time, ns."""

    title: str
    """Of the scenario."""
    seed: int
    ahead_ns: int
    """How far incident time is ahead of the run's."""
    tones: Tones
    injects: tuple[tuple[int, str], ...]
    """When each came that came, and its name, in order of time."""
    told: dict[str, Told] = field(default_factory=dict)
    """What the file says of each: enough to judge one that no scenario has."""
    ticks: tuple[tuple[int, str, frozenset[int]], ...] = ()
    """When an instructor ticked what the trainee had done by voice, and for whom."""
    pressures: dict[int, list[tuple[int, float]]] = field(default_factory=dict)
    """By wearer: when, and the pressure in the cylinder then, bar."""
    trainee: str = ""
    """Whose run it is; empty: nobody said."""
    played: str = ""
    """The scenario as it was played, as JSON; empty in older files."""

    def could_not(self) -> dict[str, str]:
        """By name of the inject: why it could not happen."""
        return {name: one.could_not for name, one in self.told.items() if one.could_not}


@dataclass(slots=True)
class _Found:
    title: str = ""
    seed: int = 0
    trainee: str = ""
    played: str = ""
    tones: list[tuple[int, int, int]] = field(default_factory=list)
    injects: list[tuple[int, str]] = field(default_factory=list)
    told: dict[str, Told] = field(default_factory=dict)
    ticks: list[tuple[int, str, frozenset[int]]] = field(default_factory=list)
    sent: dict[tuple[int, int], int] = field(default_factory=dict)
    pressures: dict[int, list[tuple[int, float]]] = field(default_factory=dict)
    states: int = 0


def read_truth(truth: Path, journal: Path) -> Truth:
    """Read one in incident time. Raises BadFile, BadJournal."""
    found = _Found()
    try:
        with reading.lines(truth, LINE_BYTES_MAX) as lines:
            for line in lines:
                _take(json.loads(line), found)
    except reading.Unreadable as error:
        raise unreadable("truth file", truth, error) from None
    except (ValueError, KeyError, TypeError, AttributeError, ArithmeticError) as error:
        raise BadFile(f"not a truth file ({error})", str(truth), "give the run's own") from error
    except RecursionError:
        raise BadFile("not a truth file", str(truth), "give the run's own") from None
    with JournalReader(journal) as reader:
        ahead_ns = _ahead_ns(reader.steps(reader.last_batch().last_row), found.sent)
    if ahead_ns is None:
        raise BadFile("no frame of this journal is in it", str(truth), "give the run's own")
    tones: dict[int, tuple[tuple[int, int], ...]] = {}
    for pack, from_ns, to_ns in found.tones:
        tones[pack] = (*tones.get(pack, ()), (from_ns + ahead_ns, to_ns + ahead_ns))
    injects = tuple((t_ns + ahead_ns, name) for t_ns, name in found.injects)
    ticks = tuple((t_ns + ahead_ns, told, whose) for t_ns, told, whose in found.ticks)
    pressures = {
        wearer: [(t_ns + ahead_ns, bar) for t_ns, bar in states]
        for wearer, states in found.pressures.items()
    }
    return Truth(
        found.title, found.seed, ahead_ns, tones, injects, found.told, ticks, pressures,
        found.trainee, found.played,
    )  # fmt: skip


def _take(note: dict[str, object], found: _Found) -> None:
    what, pack = note.get("what"), note.get("pack")
    if what == "run":
        found.title, found.seed = str(note.get("scenario", "")), int(str(note.get("seed", 0)))
        found.trainee = str(note.get("trainee") or "")
        found.played = json.dumps(note["played"]) if note.get("played") else ""
    elif what == "inject":
        found.injects.append((int(str(note["t_ns"])), str(note["name"])))
        found.told[str(note["name"])] = _told(note)
    elif what == "instructor" and note.get("do") == "tick":
        whose = note.get("wearers") or []
        wearers = frozenset(whose) if isinstance(whose, list) else frozenset()
        found.ticks.append((int(str(note["t_ns"])), str(note["told"]), wearers))
    elif what == "state":
        if found.states < STATES_MAX and "pressure_bar" in note:
            found.states += 1
            state = int(str(note["t_ns"])), float(str(note["pressure_bar"]))
            found.pressures.setdefault(int(str(note["wearer"])), []).append(state)
    elif not isinstance(pack, int):
        return
    elif note["what"] == "tone":
        found.tones.append((pack, int(str(note["from_ns"])), int(str(note["to_ns"]))))
    elif note["what"] == "frame" and len(found.sent) < FRAMES_COMPARED_MAX:
        found.sent.setdefault((pack, int(str(note["sequence"]))), int(str(note["t_ns"])))


def _told(note: dict[str, object]) -> Told:
    """What a run says of an inject; older files say less."""
    numbers = note.get("shows_for") or note.get("wearers") or []
    wearers = (
        frozenset(n for n in numbers if isinstance(n, int))
        if isinstance(numbers, list)
        else frozenset()
    )
    within = note.get("shows_within_s")
    return Told(
        str(note.get("shows") or ""),
        wearers,
        float(within) if isinstance(within, int | float) else 0.0,
        str(note.get("could_not") or ""),
    )


def _ahead_ns(steps: Iterable[list[Row]], sent: dict[tuple[int, int], int]) -> int | None:
    """How far incident time is ahead of the run's, by the middle of all frames in both."""
    apart: list[int] = []
    for step in steps:
        for row in step:
            event = event_of(row) if row.signal_dbm is not None or row.link else None
            if isinstance(event, Heard) and len(apart) < FRAMES_COMPARED_MAX:
                at_ns = sent.pop((event.packet.identity, event.packet.sequence), None)
                if at_ns is not None:
                    apart.append(row.t - row.late_ns - at_ns)
    return round(median(apart)) if apart else None
