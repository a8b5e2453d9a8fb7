"""How well packs and base heard each other: losses, silences, links, frames refused. Pure."""

from dataclasses import dataclass, field

from monitor.incident import events
from monitor.incident.contact import gap_after_ns
from monitor.incident.events import Act, Fact, Heard
from monitor.incident.rows import Standing
from monitor.incident.still_heard import Thinned
from monitor.report.alarm_lives import Spell
from protocol.freshness import SequenceAccount
from protocol.packets import Kind, Report

PACKS_MAX = 20_000
"""Packs kept; frames of others are counted."""
SILENCES_MAX = 200
"""Longest ones kept of one pack; all are counted."""


@dataclass(slots=True)
class PackLink:
    """What was heard of one pack, live frames only."""

    pack: int
    first_ns: int
    last_ns: int
    interval_s: int = 5
    """Of reports, as told last."""
    account: SequenceAccount = field(default_factory=SequenceAccount)
    silences: list[Spell] = field(default_factory=list)
    """Longer than a signal gap, while the pack was on; the longest ones, in order of time."""
    silence_count: int = 0
    silent_ns: int = 0
    """All of them together."""
    weakest_dbm: int | None = None
    signed_off: bool = False

    @property
    def longest_ns(self) -> int:
        """The longest silence."""
        return max((s.length_ns(0) for s in self.silences), default=0)

    def hear(self, event: Heard) -> None:
        """Take a live frame."""
        packet, t = event.packet, event.t
        self.account.take(packet.boot, packet.sequence)
        if t - self.last_ns >= gap_after_ns(self.interval_s):
            self.silence(t)
        self.last_ns = t
        level = event.signal_dbm
        if level is not None and (self.weakest_dbm is None or level < self.weakest_dbm):
            self.weakest_dbm = level
        if isinstance(packet, Report):
            self.interval_s = packet.interval_s
            self.signed_off = packet.kind == Kind.SIGN_OFF

    def silence(self, until_ns: int) -> None:
        """Note that nothing was heard since the last frame; nothing after signing off counts."""
        if self.signed_off:
            return
        spell = Spell(self.last_ns, until_ns)
        self.silence_count += 1
        self.silent_ns += until_ns - self.last_ns
        self.silences.append(spell)
        if len(self.silences) > SILENCES_MAX:
            self.silences.remove(min(self.silences, key=lambda s: s.length_ns(0)))


@dataclass(slots=True)
class BaseLink:
    """One radio link of the base."""

    link: int
    name: str
    changes: list[tuple[int, bool, str]] = field(default_factory=list)
    """When, up or not, what it says."""
    frames: int = 0
    """Let through, by this link."""


class Links:
    """Every pack and every link."""

    def __init__(self) -> None:
        self.packs: dict[int, PackLink] = {}
        self.links: dict[int, BaseLink] = {}
        self.frames: dict[Standing, int] = {}
        self.refused: dict[str, int] = {}
        self.left_out = 0
        """Live frames of packs beyond ``PACKS_MAX``."""

    def heard(self, event: Heard) -> None:
        """Take a frame that the recorder let through."""
        self.frames[event.standing] = self.frames.get(event.standing, 0) + 1
        link = self.links.get(event.link)
        if link is not None:
            link.frames += 1
        if event.standing != Standing.LIVE:
            return
        identity = event.packet.identity
        pack = self.packs.get(identity)
        if pack is None:
            if len(self.packs) >= PACKS_MAX:
                self.left_out += 1
                return
            pack = self.packs[identity] = PackLink(identity, event.t, event.t)
        pack.hear(event)

    def done(self, t: int, what: Act | Fact) -> None:
        """Take what tells of links."""
        if isinstance(what, events.LinkState):
            link = self.links.setdefault(what.link, BaseLink(what.link, what.name))
            link.changes.append((t, what.up, what.detail))
        elif isinstance(what, events.Refused):
            for reason, count in what.counts.items():
                self.refused[reason] = self.refused.get(reason, 0) + count
        elif isinstance(what, Thinned):
            self._still_heard(t, what)
        elif isinstance(what, events.EnrolAgain) and what.pack in self.packs:
            self.packs[what.pack].account.begin_again()

    def _still_heard(self, t: int, what: Thinned) -> None:
        for one in what.packs:
            self.frames[Standing.LIVE] = self.frames.get(Standing.LIVE, 0) + one.frames
            pack = self.packs.get(one.pack)
            if pack is not None:
                pack.account.also(one.sequence, one.frames)
                pack.last_ns = t

    def finish(self, end_ns: int) -> None:
        """Note silences that still go on where the record ends."""
        for pack in self.packs.values():
            if end_ns - pack.last_ns >= gap_after_ns(pack.interval_s):
                pack.silence(end_ns)
