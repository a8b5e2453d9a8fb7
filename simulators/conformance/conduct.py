"""Frame after frame of one pack: counters, copies, intervals.

Arrival times are those of the machine it is tried at, so each limit has some slack. Where frames
are seen to be missing, what they may have held is no fault of the pack.
"""

from collections import Counter
from dataclasses import dataclass, field

from protocol.packets import Kind, Motion, Receipt, ReceiptKind, Report, UpPacket
from simulators.conformance.rules import Findings
from simulators.conformance.timing import COPIES_LOST_MAX, MS, SECOND_NS, SLACK_NS, Timing

COPIES_OVER_NS = 2 * SECOND_NS
"""Four copies are out by 1.6 s."""
COPIES = (3, 5)
"""The frame itself counted: two to four copies."""
SIGN_ON_COPIES = (1, 5)
SIGN_OFF_COPIES = (5, 6)
SIGN_OFF_NS = 3 * SECOND_NS
FIRST_NS = 3 * SECOND_NS
"""From the beginning of a boot to its first sign-on."""
SIGN_ON_NS = 60 * SECOND_NS
SIGN_ON_SLACK_NS = 2 * SECOND_NS
ALONE = {Kind.STATUS: (1, 1), Kind.SIGN_ON: SIGN_ON_COPIES}
LONG_AGO_NS = 5 * SECOND_NS
"""A copy that comes after so long is a frame sent again."""
UPTIME_NS = 600 * MS
"""From one frame to the next, uptime and arrival may part by so much: 0.1 s from making a frame to
sending it, and the way."""
FRAMES_A_SECOND_MAX = 10
"""A pack that sends more than this in a new boot has not begun its numbers anew."""
MISSING_LEAST = 20
"""Frames of a boot before half of all numbers missing is more than a very poor link."""
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
    """Arrival less uptime, as last seen."""
    sure: bool = False
    """It is of a frame that goes out once."""
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
    came_out: bool = False
    """A receipt has said so."""


class Conduct:
    """What one pack does over time."""

    def __init__(self, findings: Findings) -> None:
        """Nothing was heard of it."""
        self._findings = findings
        self.boot: _Boot | None = None
        self.timing = Timing(findings)
        self.boot_began_ns = 0
        """When the present boot began, as its uptime says."""
        self._unjudged: list[_Group] = []
        self._too_few: list[tuple[str, int, int, bytes]] = []
        """Fewer copies than there should be: rule, when, how many, the frame."""
        self._late: list[tuple[int, str, bytes]] = []
        """Frames that came later than their uptime by no more than copies take."""
        self.lossy = False
        """Numbers are missing: the link loses now and then."""
        self.taken = self.missing = 0
        """Numbers that came, and that did not, of all boots."""
        self._last_ns = 0
        """When a frame came last."""

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
        self._last_ns = t
        self._judge_groups(t)
        self._number(t, boot, packet, frame)
        if packet.sequence < boot.highest:
            # Overtaken on its way: what it tells was so before.
            self.timing.lost()
            if isinstance(packet, Report) and packet.kind is Kind.SIGN_ON:
                boot.signed_on_ns = t
            return True
        if isinstance(packet, Report):
            self._report(t, boot, packet, frame)
        elif packet.answer is ReceiptKind.COMING_OUT:
            boot.came_out = True
        return True

    def end(self, t: int) -> None:
        """Judge what can only be judged at the end."""
        boot = self.boot
        if boot is None:
            return
        self._judge_groups(t)
        self.timing.end(t, lossy=self.lossy)
        for at_ns, why, frame in () if self.lossy else self._late:
            self._findings.broken("uptime", at_ns, why, frame)
        seldom = Counter(rule for rule, *_ in self._too_few)
        for rule, at_ns, count, frame in self._too_few:
            if not self.lossy and seldom[rule] > COPIES_LOST_MAX:
                self._findings.broken(rule, at_ns, f"{count} times in all", frame)
        if boot.missing + 1 >= boot.taken and boot.taken >= MISSING_LEAST:
            why = f"{boot.missing} numbers are missing among {boot.taken} frames"
            self._findings.broken("sequence", t, why, boot.groups[boot.highest].frame)

    @property
    def lost_share(self) -> float:
        """Of all frames that were sent, as far as their numbers tell: how many never came."""
        sent = self.taken + self.missing
        return self.missing / sent if sent else 0.0

    def heard_ago(self, t: int, age_ns: tuple[int, int], back_max: int) -> int | None:
        """A frame of this boot heard so long ago and not too far back: the latest such."""
        if self.boot is None:
            return None
        least, most = age_ns
        found = [
            number
            for number, one in self.boot.groups.items()
            if least <= t - one.arrivals[0] <= most and self.boot.highest - number <= back_max
        ]
        return max(found, default=None)

    def first_after(self, sequence: int) -> int | None:
        """When the first frame with a higher number came; None: none has."""
        groups = self.boot.groups if self.boot else {}
        return min((one.arrivals[0] for n, one in groups.items() if n > sequence), default=None)

    def quiet(self, t: int, share: float) -> bool:
        """Whether the pack has just reported and has no cause to send anything soon."""
        if self.boot is None or self.boot.report is None:
            return False
        at_ns, report = self.boot.report
        return SLACK_NS / 3 <= t - at_ns <= share * report.interval_s * SECOND_NS

    # ------------------------------------------------------------ counters

    def _begin(self, t: int, packet: UpPacket, frame: bytes) -> _Boot:
        uptime_ns = packet.uptime_ms * MS
        if self.boot is not None:
            # Copies that still waited went with the boot before.
            self._judge_groups(t)
            self._unjudged.clear()
            self._judge_restart(t, packet, uptime_ns, frame)
        self._findings.kept("boot")
        if packet.sequence == 1:
            is_sign_on = isinstance(packet, Report) and packet.kind is Kind.SIGN_ON
            why = "" if is_sign_on else "another kind"
            if uptime_ns > FIRST_NS:
                why = f"after {uptime_ns / SECOND_NS:.1f} s"
            self._findings.judge("first", t, why, frame)
        self.boot_began_ns = t - uptime_ns
        self.boot = _Boot(packet.boot, packet.sequence - 1, t - uptime_ns)
        self.timing.begin()
        return self.boot

    def _judge_restart(self, t: int, packet: UpPacket, uptime_ns: int, frame: bytes) -> None:
        """A boot after another one, heard by us: it began after the last frame of that one."""
        why = ""
        if uptime_ns > t - self._last_ns + SLACK_NS:
            apart_s = (t - self._last_ns) / SECOND_NS
            why = f"uptime {uptime_ns / SECOND_NS:.1f} s, {apart_s:.1f} s after the last frame"
        seconds = uptime_ns / SECOND_NS
        if packet.sequence - 1 > FRAMES_A_SECOND_MAX * (1 + seconds):
            why = f"sequence {packet.sequence} after {seconds:.1f} s"
        self._findings.judge("restart", t, why, frame)

    def _number(self, t: int, boot: _Boot, packet: UpPacket, frame: bytes) -> None:
        ahead = packet.sequence - boot.highest
        if ahead <= 0 and packet.sequence <= min(boot.groups, default=1):
            self._findings.broken("sequence", t, f"{packet.sequence} after {boot.highest}", frame)
            return
        boot.taken += 1
        self.taken += 1
        self.missing += max(0, ahead - 1) - (ahead < 0)
        if ahead > 1:
            boot.missing += ahead - 1
            self.lossy = True
            boot.whole = False
            boot.signed_on_ns = None
            self.timing.lost()
        elif ahead == 1:
            self._findings.kept("sequence")
        boot.highest = max(boot.highest, packet.sequence)
        self._uptime(t, boot, packet, frame)
        group = _Group(packet, frame, [t])
        boot.groups[packet.sequence] = group
        self._unjudged.append(group)
        if len(boot.groups) > FRAMES_HELD_MAX:
            del boot.groups[next(iter(boot.groups))]

    def _uptime(self, t: int, boot: _Boot, packet: UpPacket, frame: bytes) -> None:
        """Hold uptime against arrival; a frame with copies may have come by a later one of them."""
        late_ns = t - packet.uptime_ms * MS - boot.offset_ns
        copied = _has_copies(packet)
        why = f"off by {late_ns / SECOND_NS:+.1f} s" if abs(late_ns) > UPTIME_NS else ""
        # The end will show whether anything was lost.
        if why and abs(late_ns) <= COPIES_OVER_NS and (copied if late_ns > 0 else not boot.sure):
            self._late.append((t, why, frame))
        else:
            self._findings.judge("uptime", t, why, frame)
        if late_ns <= 0 or not copied:
            boot.offset_ns += late_ns
            boot.sure = boot.sure or not copied
            self.timing.clock.take(t, packet.uptime_ms * MS)

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
        self.timing.copy(t, gap_ns, group.packet, frame)

    def _judge_groups(self, t: int) -> None:
        """Count the copies of what must be out by now."""
        ripe = [one for one in self._unjudged if t - one.arrivals[0] > COPIES_OVER_NS + SECOND_NS]
        self._unjudged = [one for one in self._unjudged if one not in ripe]
        for one in ripe:
            self._judge_group(one)

    def _judge_group(self, one: _Group) -> None:
        t, count, packet = one.arrivals[0], len(one.arrivals), one.packet
        if isinstance(packet, Receipt) and packet.answer is ReceiptKind.RECEIVED:
            self._findings.judge("once", t, f"{count} times" if count > 1 else "", one.frame)
        elif isinstance(packet, Receipt) or packet.kind is Kind.EVENT:
            self._copied("copies", one, COPIES)
        elif packet.kind in ALONE:
            self._copied("single", one, ALONE[packet.kind])
        else:
            self._copied("sign-off", one, SIGN_OFF_COPIES)
            if one.arrivals[-1] - t > SIGN_OFF_NS + SLACK_NS:
                why = f"over {(one.arrivals[-1] - t) / SECOND_NS:.1f} s"
                self._findings.broken("sign-off", t, why, one.frame)

    def _copied(self, rule: str, one: _Group, allowed: tuple[int, int]) -> None:
        """Judge how often it came; too seldom may be the link's doing, as the end will show."""
        count, (low, high) = len(one.arrivals), allowed
        if count < low:
            self._too_few.append((rule, one.arrivals[0], count, one.frame))
        else:
            why = f"{count} times in all" if count > high else ""
            self._findings.judge(rule, one.arrivals[0], why, one.frame)

    # ------------------------------------------------------------ reports

    def _report(self, t: int, boot: _Boot, packet: Report, frame: bytes) -> None:
        if boot.signed_off:
            self._findings.broken("sign-off", t, "a frame after it", frame)
        if boot.whole:
            if boot.report is not None:
                self._change(t, boot, boot.report[1], packet, frame)
            elif packet.sequence == 1 and packet.coming_out:
                self._findings.broken("restart", t, "coming out is set", frame)
        self.timing.report(t, packet, frame)
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

    def _change(self, t: int, boot: _Boot, before: Report, packet: Report, frame: bytes) -> None:
        what = _changed(before, packet)
        if packet.kind is Kind.EVENT:
            why = "" if what else "nothing has changed"
            self._findings.judge("event", t, why, frame)
        elif packet.kind is not Kind.SIGN_OFF and what:
            self._findings.broken("event", t, f"{what} changed in no event", frame)
        if packet.coming_out and not before.coming_out:
            why = "" if boot.came_out else "no receipt has said so"
            self._findings.judge("coming out", t, why, frame)
        elif before.coming_out and not packet.coming_out:
            self._findings.broken("coming out", t, "it is not set any more", frame)


def _has_copies(packet: UpPacket) -> bool:
    if isinstance(packet, Receipt):
        return packet.answer is not ReceiptKind.RECEIVED
    return packet.kind is not Kind.STATUS


def _changed(before: Report, after: Report) -> str:
    """What is there now that should have been an event; empty: nothing."""
    names = ("distress", "low_air", "coming_out", "self_test", "air_warning_test",
             "motion_warning_test")  # fmt: skip
    for name in names:
        if getattr(before, name) != getattr(after, name):
            return name.replace("_", " ")
    warned = (max(before.motion, Motion.STILL), max(after.motion, Motion.STILL))
    return "motion" if warned[0] != warned[1] else ""
