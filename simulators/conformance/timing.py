"""When a pack sends: intervals, distances of copies, how fast its clock runs. Pure.

Arrival times are those of the machine it is tried at, so each limit has some slack; what must be at
random, or right on average, is judged over many frames (``even``).
"""

from protocol.delays import DRIFT_PPM
from protocol.packets import Kind, Report, UpPacket
from simulators.conformance.even import SAMPLES_LEAST, Clock, alike, off_mean, uneven
from simulators.conformance.rules import Findings

MS = 1_000_000
SECOND_NS = 1_000_000_000
SLACK_NS = 300 * MS
"""For the way, and for the machine that listens."""
COPY_SLACK_NS = 60 * MS
COPY_GAP_NS = (100 * MS, 400 * MS)
SIGN_OFF_GAP_NS = (100 * MS, 700 * MS)
COPIES_LOST_MAX = 1
"""So many copies may be lost on a link that is good otherwise; a pack that is wrong always is."""
SIGN_OFF_SPAN_NS = 100 * MS
"""The least span from which they may be drawn."""
INTERVAL_SHARE = (0.9, 1.0)
MADE_BEFORE_S = 0.1
"""At most, from when a frame is made, which its uptime tells, to when it is sent."""
CLOCK_PPM = DRIFT_PPM
CLOCK_SLACK_NS = 20 * MS
"""By so much the least delay of a stretch may differ from that of another."""
CLOCK_LEAST_S = 20.0


class Timing:
    """When frames of one pack came."""

    def __init__(self, findings: Findings) -> None:
        """Nothing has come."""
        self._findings = findings
        self.clock = Clock()
        """Of the present boot."""
        self.measured: tuple[float, float] | None = None
        """By how many parts in a million the clock is slow, and over how many seconds that was
        seen: of the longest boot."""
        self._before: tuple[int, Report] | None = None
        """The status or sign-on from which the interval runs, and when it came."""
        self._first = True
        """That is the sign-on that began the boot."""
        self._ratios: list[float] = []
        """Of intervals, by arrival."""
        self._drawn: list[tuple[float, float]] = []
        """The same by uptime, from 0 to 1 in their span, and what 0.1 s is there."""
        self._copies: list[float] = []
        self._off_copies: list[float] = []
        self._long_gaps: list[tuple[int, str, bytes]] = []
        """A copy between may have been lost: the end shows it."""

    def begin(self) -> None:
        """A boot begins."""
        self._judge_clock(self.clock)
        self.clock = Clock()
        self._before, self._first = None, True

    def end(self, t: int, *, lossy: bool) -> None:
        """Judge what takes many frames; ``lossy``: the link loses now and then."""
        judge = self._findings.judge
        self._judge_clock(self.clock)
        if self.measured is not None:
            ppm, over_s = self.measured
            limit = CLOCK_PPM + CLOCK_SLACK_NS / over_s / 1e3
            which = "slow" if ppm > 0 else "fast"
            told = f"{abs(ppm):.0f} parts in a million {which} over {over_s:.0f} s"
            judge("clock", t, told if abs(ppm) > limit else "")
        low, high = INTERVAL_SHARE
        if why := off_mean(self._ratios, (low + high) / 2, high - low):
            self._findings.broken("interval", t, why)
        if len(self._drawn) >= SAMPLES_LEAST:
            made = max(slack for _, slack in self._drawn)
            judge("spread", t, uneven([at for at, _ in self._drawn], early=made, late=made))
        if not lossy and len(self._long_gaps) > COPIES_LOST_MAX:
            for at_ns, apart, frame in self._long_gaps:
                self._findings.broken("gaps", at_ns, apart, frame)
        slack = COPY_SLACK_NS / (COPY_GAP_NS[1] - COPY_GAP_NS[0])
        why = uneven(self._copies, early=slack, late=slack) or alike(self._off_copies)
        if len(self._copies) >= SAMPLES_LEAST:
            judge("gaps at random", t, why)

    def copy(self, t: int, gap_ns: int, packet: UpPacket, frame: bytes) -> None:
        """Take in a copy that came so long after the one before it."""
        off = isinstance(packet, Report) and packet.kind is Kind.SIGN_OFF
        low, high = SIGN_OFF_GAP_NS if off else COPY_GAP_NS
        apart = f"{gap_ns / MS:.0f} ms apart"
        if gap_ns > high + COPY_SLACK_NS:
            self._long_gaps.append((t, apart, frame))
            return
        self._findings.judge("gaps", t, apart if gap_ns < low - COPY_SLACK_NS else "", frame)
        if off:
            self._off_copies.append(gap_ns / SIGN_OFF_SPAN_NS)
        else:
            self._copies.append((gap_ns - low) / (high - low))

    def lost(self) -> None:
        """Something is missing: nobody knows when the next report should come."""
        self._before, self._first = None, False

    def report(self, t: int, packet: Report, frame: bytes) -> None:
        """Take in a report."""
        if packet.kind is Kind.EVENT and self._before is not None:
            # It restarts nothing; but what was promised may be over.
            self._overdue(t, frame)
        elif packet.kind in (Kind.STATUS, Kind.SIGN_ON):
            if self._before is not None:
                self._interval(t, *self._before, packet, frame)
            self._first = packet.sequence == 1
            self._before = (t, packet)

    def _overdue(self, t: int, frame: bytes) -> None:
        assert self._before is not None, "asked only after a report"
        at_ns, before = self._before
        gap_s = (t - at_ns) / SECOND_NS
        if gap_s > before.interval_s + SLACK_NS / SECOND_NS:
            why = f"{gap_s:.1f} s without a status where {before.interval_s} s was told"
            self._findings.broken("interval", t, why, frame)

    def _interval(self, t: int, at_ns: int, before: Report, packet: Report, frame: bytes) -> None:
        """Judge when it came, by the interval that the report before it told."""
        low, high = INTERVAL_SHARE
        interval_s, slack_s = before.interval_s, SLACK_NS / SECOND_NS
        gap_s = (t - at_ns) / SECOND_NS
        late = gap_s > high * interval_s + slack_s
        regular = packet.kind is Kind.STATUS and before.interval_s == packet.interval_s
        early = regular and not self._first and gap_s < low * interval_s - slack_s
        why = f"{gap_s:.1f} s where {interval_s} s was told" if late or early else ""
        self._findings.judge("interval", t, why, frame)
        if regular and not self._first:
            self._ratios.append(gap_s / interval_s)
            drawn = (packet.uptime_ms - before.uptime_ms) / 1000 / interval_s
            width = high - low
            self._drawn.append(((drawn - low) / width, MADE_BEFORE_S / interval_s / width))

    def _judge_clock(self, clock: Clock) -> None:
        found = clock.measured()
        longest = self.measured[1] if self.measured else CLOCK_LEAST_S
        if found is not None and found[1] >= longest:
            self.measured = found
