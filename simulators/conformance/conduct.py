"""Frame after frame of one pack: counters, copies, intervals.

Arrival times are those of the machine it is tried at, so each limit has some slack. Where frames
are seen to be missing, what they may have held is no fault of the pack.
"""

from dataclasses import dataclass, field

from protocol.packets import Kind, Motion, Receipt, ReceiptKind, Report, UpPacket
from simulators.conformance.rules import Findings

MS = 1_000_000
SECOND_NS = 1_000_000_000
SLACK_NS = 300 * MS
"""For the way, and for the machine that listens."""
COPY_SLACK_NS = 60 * MS
COPY_GAP_NS = (100 * MS, 400 * MS)
COPIES_OVER_NS = 2 * SECOND_NS
"""Four copies are out by 1.6 s."""
COPIES = (3, 5)
"""The frame itself counted: two to four copies."""
SIGN_OFF_COPIES = (5, 6)
"""Five copies, or the frame and five copies of it."""
SIGN_OFF_NS = 3 * SECOND_NS
SIGN_ON_NS = 60 * SECOND_NS
SIGN_ON_SLACK_NS = 2 * SECOND_NS
LONG_AGO_NS = 5 * SECOND_NS
"""A copy that comes after so long is a frame sent again."""
INTERVAL_SHARE = (9, 11)
"""Tenths of the interval."""
UPTIME_NS = SECOND_NS
SPREAD_GAPS = 8
"""So many gaps drawn from a tenth of the interval lie within a fiftieth of it once in 10,000 times:
8 x 0.2^7."""
SPREAD_LEAST = 0.02
MISSING_LEAST = 5
FRAMES_HELD_MAX = 256


@dataclass(slots=True)
class _Group:
    """A frame and its copies."""

    packet: UpPacket
    frame: bytes
    arrivals: list[int]


@dataclass(slots=True)
class _Boot:
    """One stay of the pack's electronics between on and off."""

    number: int
    highest: int
    offset_ns: int
    groups: dict[int, _Group] = field(default_factory=dict)
    """By sequence number, the last ones."""
    taken: int = 0
    missing: int = 0
    report: tuple[int, Report] | None = None
    """The last one, and when it came."""
    whole: bool = True
    """Nothing is missing since that report."""
    signed_on_ns: int | None = None
    signed_off: bool = False
    gaps: list[float] = field(default_factory=list)
    """From status to status, in intervals."""


class Conduct:
    """What one pack does over time."""

    def __init__(self, findings: Findings) -> None:
        """Nothing was heard of it."""
        self._findings = findings
        self.boot: _Boot | None = None
        self._unjudged: list[_Group] = []

    @property
    def signed_off_ns(self) -> int | None:
        """When it began to sign off; None: it has not, or is on again."""
        boot = self.boot
        if boot is None or not boot.signed_off:
            return None
        return boot.groups[boot.highest].arrivals[0]

    def take(self, t: int, packet: UpPacket, frame: bytes) -> bool:
        """Take in a frame that is of the format; True: it is a new one of the present boot."""
        boot = self.boot
        if boot is not None and packet.boot < boot.number:
            why = f"boot {packet.boot} after boot {boot.number}"
            self._findings.broken("boot", t, why, frame)
            return False
        if boot is None or packet.boot > boot.number:
            boot = self._begin(t, packet, frame)
        if (group := boot.groups.get(packet.sequence)) is not None:
            self._copy(t, group, frame)
            return False
        self._judge_groups(t)
        self._number(t, boot, packet, frame)
        if isinstance(packet, Report):
            self._report(t, boot, packet, frame)
        return True

    def end(self, t: int) -> None:
        """Judge what can only be judged at the end."""
        boot = self.boot
        if boot is None:
            return
        self._judge_groups(t)
        if boot.missing + 1 >= boot.taken and boot.taken >= MISSING_LEAST:
            why = f"{boot.missing} numbers are missing among {boot.taken} frames"
            self._findings.broken("sequence", t, why, boot.groups[boot.highest].frame)

    def sent_at(self, before_ns: int) -> int | None:
        """A sequence number of this boot that was heard before an instant; the latest such."""
        groups = self.boot.groups if self.boot else {}
        found = [number for number, one in groups.items() if one.arrivals[0] < before_ns]
        return max(found, default=None)

    # ------------------------------------------------------------ counters

    def _begin(self, t: int, packet: UpPacket, frame: bytes) -> _Boot:
        if self.boot is not None:
            # Copies that still waited went with the boot before.
            self._unjudged.clear()
        self._findings.kept("boot")
        if packet.sequence == 1:
            is_sign_on = isinstance(packet, Report) and packet.kind is Kind.SIGN_ON
            self._findings.judge("first", t, "" if is_sign_on else "another kind", frame)
        self.boot = _Boot(packet.boot, packet.sequence - 1, t - packet.uptime_ms * MS)
        return self.boot

    def _number(self, t: int, boot: _Boot, packet: UpPacket, frame: bytes) -> None:
        ahead = packet.sequence - boot.highest
        if ahead <= 0 and packet.sequence <= min(boot.groups, default=1):
            self._findings.broken("sequence", t, f"{packet.sequence} after {boot.highest}", frame)
            return
        boot.taken += 1
        if ahead > 1:
            boot.missing += ahead - 1
            boot.whole = False
        elif ahead == 1:
            self._findings.kept("sequence")
        boot.highest = max(boot.highest, packet.sequence)
        late_ns = t - packet.uptime_ms * MS - boot.offset_ns
        why = f"off by {late_ns / SECOND_NS:+.1f} s" if abs(late_ns) > UPTIME_NS else ""
        self._findings.judge("uptime", t, why, frame)
        group = _Group(packet, frame, [t])
        boot.groups[packet.sequence] = group
        self._unjudged.append(group)
        if len(boot.groups) > FRAMES_HELD_MAX:
            del boot.groups[next(iter(boot.groups))]

    # ------------------------------------------------------------ copies

    def _copy(self, t: int, group: _Group, frame: bytes) -> None:
        if frame != group.frame:
            self._findings.broken("number", t, f"{group.packet.sequence} comes twice", frame)
            return
        self._findings.kept("number")
        gap_ns = t - group.arrivals[-1]
        if gap_ns > LONG_AGO_NS:
            why = f"sent again after {gap_ns / SECOND_NS:.0f} s"
            self._findings.broken("sequence", t, why, frame)
            return
        group.arrivals.append(t)
        low, high = COPY_GAP_NS
        lossy = self.boot is not None and self.boot.missing > 0
        apart = f"{gap_ns / MS:.0f} ms apart"
        wrong = gap_ns < low - COPY_SLACK_NS or (gap_ns > high + COPY_SLACK_NS and not lossy)
        self._findings.judge("gaps", t, apart if wrong else "", frame)

    def _judge_groups(self, t: int) -> None:
        """Count the copies of what must be out by now."""
        ripe = [one for one in self._unjudged if t - one.arrivals[0] > COPIES_OVER_NS + SECOND_NS]
        self._unjudged = [one for one in self._unjudged if one not in ripe]
        lossy = self.boot is not None and self.boot.missing > 0
        for one in ripe:
            self._judge_group(one, lossy=lossy)

    def _judge_group(self, one: _Group, *, lossy: bool) -> None:
        t, count, packet = one.arrivals[0], len(one.arrivals), one.packet
        if isinstance(packet, Receipt) and packet.answer is ReceiptKind.RECEIVED:
            self._findings.judge("once", t, f"{count} times" if count > 1 else "", one.frame)
        elif isinstance(packet, Receipt) or packet.kind is Kind.EVENT:
            why = _copies(count, COPIES, lossy=lossy)
            self._findings.judge("copies", t, why, one.frame)
        elif packet.kind is Kind.SIGN_OFF:
            why = _copies(count, SIGN_OFF_COPIES, lossy=lossy)
            if one.arrivals[-1] - t > SIGN_OFF_NS + SLACK_NS:
                why = f"over {(one.arrivals[-1] - t) / SECOND_NS:.1f} s"
            self._findings.judge("sign-off", t, why, one.frame)

    # ------------------------------------------------------------ reports

    def _report(self, t: int, boot: _Boot, packet: Report, frame: bytes) -> None:
        if boot.report is not None and boot.whole:
            self._interval(t, boot, *boot.report, packet, frame)
            self._change(t, boot.report[1], packet, frame)
        if packet.kind is Kind.SIGN_ON:
            if boot.signed_on_ns is not None:
                self._sign_on(t, t - boot.signed_on_ns, frame)
            boot.signed_on_ns = t
        elif boot.signed_on_ns is not None and not boot.missing:
            since_ns = t - boot.signed_on_ns
            if since_ns > SIGN_ON_NS + SIGN_ON_SLACK_NS:
                self._sign_on(t, since_ns, frame)
                boot.signed_on_ns = None
        if packet.kind is Kind.SIGN_OFF:
            boot.signed_off = True
            # What still waited to go out as copies goes with the pack.
            self._unjudged = self._unjudged[-1:]
        boot.report, boot.whole = (t, packet), True

    def _sign_on(self, t: int, since_ns: int, frame: bytes) -> None:
        late = since_ns > SIGN_ON_NS + SIGN_ON_SLACK_NS
        why = f"{since_ns / SECOND_NS:.0f} s since the last" if late else ""
        self._findings.judge("sign-on", t, why, frame)

    def _interval(
        self, t: int, boot: _Boot, before_ns: int, before: Report, packet: Report, frame: bytes
    ) -> None:
        """Judge when it came, by the interval that the report before it promised."""
        gap_ns, interval_ns = t - before_ns, before.interval_s * SECOND_NS
        least_ns, most_ns = (interval_ns * tenths // 10 for tenths in INTERVAL_SHARE)
        why = ""
        if gap_ns > most_ns + SLACK_NS:
            why = f"{gap_ns / SECOND_NS:.1f} s where {before.interval_s} s was said"
        is_pair = before.kind is packet.kind is Kind.STATUS
        if is_pair and before.interval_s == packet.interval_s:
            if gap_ns < least_ns - SLACK_NS:
                why = f"{gap_ns / SECOND_NS:.1f} s where {before.interval_s} s was said"
            boot.gaps.append(gap_ns / interval_ns)
            self._spread(t, boot, frame)
        if packet.kind is Kind.STATUS or why:
            self._findings.judge("interval", t, why, frame)

    def _spread(self, t: int, boot: _Boot, frame: bytes) -> None:
        gaps = boot.gaps
        if len(gaps) == SPREAD_GAPS:
            even = max(gaps) - min(gaps) < SPREAD_LEAST
            why = f"{SPREAD_GAPS} intervals alike to {max(gaps) - min(gaps):.3f}" if even else ""
            self._findings.judge("spread", t, why, frame)
            gaps.clear()

    def _change(self, t: int, before: Report, packet: Report, frame: bytes) -> None:
        if packet.kind is Kind.EVENT:
            self._findings.kept("event")
        elif packet.kind is Kind.STATUS and (what := _changed(before, packet)):
            self._findings.broken("event", t, f"{what} changed in a status", frame)


def _copies(count: int, allowed: tuple[int, int], *, lossy: bool) -> str:
    low, high = allowed
    return f"{count} times in all" if count > high or (count < low and not lossy) else ""


def _changed(before: Report, after: Report) -> str:
    """What is there now that should have been an event; empty: nothing."""
    names = ("distress", "low_air", "coming_out", "self_test", "air_warning_test",
             "motion_warning_test")  # fmt: skip
    for name in names:
        if getattr(before, name) != getattr(after, name):
            return name.replace("_", " ")
    warned = (max(before.motion, Motion.STILL), max(after.motion, Motion.STILL))
    return "motion" if warned[0] != warned[1] else ""
