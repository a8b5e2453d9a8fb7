"""The evacuation tones of virtual packs, from the truth file of the run that sent the frames.

A truth file counts from the start of the run, a journal from the opening of the incident. What lies
between the two is found from the frames that are in both.
"""

import json
from collections.abc import Iterable
from pathlib import Path
from statistics import median

from monitor.errors import BadFile
from monitor.incident.decoding import event_of
from monitor.incident.events import Heard
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.report.orders_log import Tones

FRAMES_COMPARED_MAX = 2_000
"""Frames looked at to find the difference of the two times; more tell no more."""


def read_tones(truth: Path, journal: Path) -> Tones:
    """Each pack's tones in incident time. Raises BadFile, BadJournal."""
    tones: list[tuple[int, int, int]] = []
    sent: dict[tuple[int, int], int] = {}
    try:
        with truth.open(encoding="utf-8") as lines:
            for line in lines:
                _take(json.loads(line), tones, sent)
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise BadFile(f"not a truth file ({error})", str(truth), "give the run's own") from error
    with JournalReader(journal) as reader:
        ahead_ns = _ahead_ns(reader.steps(reader.last_batch().last_row), sent)
    if ahead_ns is None:
        raise BadFile("no frame of this journal is in it", str(truth), "give the run's own")
    found: dict[int, tuple[tuple[int, int], ...]] = {}
    for pack, from_ns, to_ns in tones:
        found[pack] = (*found.get(pack, ()), (from_ns + ahead_ns, to_ns + ahead_ns))
    return found


def _take(
    note: dict[str, object], tones: list[tuple[int, int, int]], sent: dict[tuple[int, int], int]
) -> None:
    pack = note.get("pack")
    if not isinstance(pack, int):
        return
    if note["what"] == "tone":
        tones.append((pack, int(str(note["from_ns"])), int(str(note["to_ns"]))))
    elif note["what"] == "frame" and len(sent) < FRAMES_COMPARED_MAX:
        sent.setdefault((pack, int(str(note["sequence"]))), int(str(note["t_ns"])))


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
