"""What a reader, and a recorder that takes an incident up again, know of the rows so far. Pure.

For a reader it is the incident. A recorder needs more of the same rows: ids of acts, alarms whose
announcing is not in the journal, numbers, delays and proofs of packs. It is kept here as if no
break had come and as if the boot clock had read 0 at incident time 0; what a break leaves of it is
for the recorder to say (``monitor.recorder.recovery``).
"""

from collections.abc import Iterable
from typing import Any

from monitor.incident.alarms.engine import Announcement
from monitor.incident.decoding import AnnouncedAs, announced_as, announced_of, event_of
from monitor.incident.events import (
    Act,
    Fact,
    Heard,
    Holder,
    Opened,
    Resumed,
    Setup,
    TimeMoved,
    WentOn,
)
from monitor.incident.incident import Incident
from monitor.incident.rows import Row, RowKind, Standing
from monitor.incident.still_heard import Thinned
from protocol.delays import HELD_LIMIT_NS, DelayGauge
from protocol.freshness import BEACON_RECENT_NS, PackFreshness

ACT_IDS_MAX = 20_000
"""Ids of acts remembered. An act dies in ten seconds, so its id could come back only within."""
PACKS_MAX = 16_384
"""Packs whose numbers are remembered; more than the largest fleet."""

_NOT_TAKEN = (Standing.OLD, Standing.OLD_NOW, Standing.UNPROVEN_DISTRESS)


def short(down_ns: int, known_by: str) -> bool:
    """Whether a break is too short, and too well measured, to make and play a recording in."""
    return known_by == "boot clock" and down_ns <= BEACON_RECENT_NS


class Recalled:
    """One fold of a journal's rows, in order."""

    def __init__(self) -> None:
        self.incident = Incident()
        self.row = 0
        """Number of the last row folded."""
        self.opened: Opened | None = None
        self.setup: Setup | None = None
        self.keyless = False
        """The rows are of a recorder that had lost its keys: anybody may have sent their frames, so
        nothing of them shuts a genuine one out later."""
        self.holder = Holder(board="", by="")
        self.act_ids: dict[str, None] = {}
        """Oldest first."""
        self.said: dict[AnnouncedAs, list[Announcement]] = {}
        """Alarms whose announcing has not come up in the rows, oldest first ..."""
        self.announced: dict[AnnouncedAs, int] = {}
        """... and how many announcings have come whose alarm has not."""
        self.uptimes: dict[int, tuple[int, int, int]] = {}
        """By pack heard live: boot counter, uptime in ms, incident time when it said so."""
        self.fresh: dict[int, PackFreshness] = {}
        self.enrolled: dict[int, None] = {}
        """Packs enrolled again: what was known of them before this incident counts no more."""
        self.gauges: dict[int, DelayGauge] = {}
        self.proven: dict[int, int] = {}
        """By pack proven live: in which boot."""

    @property
    def packs(self) -> int:
        """How many are known."""
        return len(self.fresh)

    def take(self, rows: Iterable[Row]) -> None:
        """Fold the next rows. ValueError where one, the next after ``row``, is not what it says."""
        apply = self.incident.apply
        for row in rows:
            event = event_of(row)
            if event is None:
                self._note_announced(row)
                self.row += 1
                continue
            apply(event)
            self.row += 1
            if isinstance(event, Heard):
                if event.standing not in _NOT_TAKEN and not self.keyless:
                    self._note_heard(row.data, event)
            elif isinstance(event.what, Thinned):
                self._note_thinned(event.what, event.t)
            else:
                self._note_done(row.kind, event.what)
        self._note_said()

    def advance(self, t: int) -> None:
        """Say that every row with a time up to and at ``t`` has come."""
        self.incident.advance(t)
        self._note_said()

    def _note_heard(self, frame: bytes, heard: Heard) -> None:
        packet = heard.packet
        identity, boot = packet.identity, packet.boot
        fresh = self.fresh.get(identity) or self._fresh(identity)
        fresh.take(boot, packet.sequence, frame, of_now=True)
        read_ns = heard.t - heard.late_ns
        gauge = self.gauges.get(identity)
        if gauge is None:
            gauge = self.gauges[identity] = DelayGauge()
        live = heard.standing is Standing.LIVE
        # What the recorder took as live was no older than this, by whatever it knew.
        gauge.take(boot, packet.uptime_ms, read_ns, HELD_LIMIT_NS if live else None)
        if live:
            self.proven[identity] = boot
            self.uptimes[identity] = (boot, packet.uptime_ms, read_ns)

    def _note_thinned(self, what: Thinned, t: int) -> None:
        for one in what.packs:
            fresh = self.fresh.get(one.pack)
            if fresh is not None:
                # Each of them was taken as new, and none may be again.
                fresh.passed(fresh.boot, one.sequence)
                self.uptimes[one.pack] = (fresh.boot, one.uptime_ms, t)

    def _fresh(self, identity: int) -> PackFreshness:
        """A pack that is new; beyond the limit in place of the one that came first."""
        if len(self.fresh) >= PACKS_MAX:
            oldest = next(iter(self.fresh))
            by_identity: tuple[dict[int, Any], ...] = (
                self.fresh, self.gauges, self.proven, self.uptimes, self.enrolled,
            )  # fmt: skip
            for kept in by_identity:
                kept.pop(oldest, None)
        fresh = self.fresh[identity] = PackFreshness()
        return fresh

    def _note_done(self, kind: RowKind, what: Act | Fact) -> None:
        if kind is RowKind.ACT:
            self._note_id(what.id)  # type: ignore[union-attr]  # a row of this kind is an act
            if what.what == "enrol_again":
                self._enrol_again(what.pack)
        elif isinstance(what, Opened):
            self.opened = what
        elif isinstance(what, Resumed):
            # Forget what that session forgot, so as to know no more than it did.
            if not short(what.down_ns, what.known_by):
                self.gauges.clear()
                self.proven.clear()
        elif isinstance(what, TimeMoved | WentOn):
            self.gauges.clear()
        elif isinstance(what, Setup):
            self.setup, self.keyless = what, bool(what.key_fault)
        elif isinstance(what, Holder):
            self.holder = what

    def _note_id(self, act_id: str) -> None:
        self.act_ids[act_id] = None
        if len(self.act_ids) > ACT_IDS_MAX:
            del self.act_ids[next(iter(self.act_ids))]

    def _enrol_again(self, identity: int) -> None:
        fresh = self.fresh.get(identity) or self._fresh(identity)
        fresh.enrol_again()
        self.enrolled[identity] = None
        self.gauges.pop(identity, None)
        self.proven.pop(identity, None)

    def unannounced(self) -> list[Announcement]:
        """Alarms of which the rows do not say that they were announced."""
        return [said for those in self.said.values() for said in those]

    def _note_announced(self, row: Row) -> None:
        key = announced_as(announced_of(row.data))
        if those := self.said.get(key):
            del those[0]
            if not those:
                del self.said[key]
        else:
            self.announced[key] = self.announced.get(key, 0) + 1

    def _note_said(self) -> None:
        for said in self.incident.take_announcements():
            key = (said.number, said.t, said.again)
            if count := self.announced.pop(key, 0):
                if count > 1:
                    self.announced[key] = count - 1
            else:
                self.said.setdefault(key, []).append(said)
