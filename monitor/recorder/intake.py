"""From bytes to verdicts: which frames are let through, and what each of them proves.

Every frame goes through the same gates in the same order: framing and envelope, checksum, key,
ranges; then freshness (is it new?), proof (is it from now, not from a recording?) and delay (was
it held up on its way?). What fails is counted by reason; what is genuine but old is let through
as such, because two packs with one identity must never pass in silence.

Pure: a time is an argument, the beacons sent are handed in.
"""

from collections.abc import Mapping
from itertools import chain, islice
from typing import TYPE_CHECKING

from monitor.checkpoint.recalled import PACKS_MAX, Recalled
from monitor.incident.calls import SHOWN_MAX
from monitor.incident.events import Heard, PackClock
from monitor.incident.rows import Standing
from monitor.incident.still_heard import PACKS_MAX as THINNED_PACKS_MAX
from monitor.incident.still_heard import StillHeard, Thinned
from monitor.recorder.beacons import ADDRESS_NS_MAX, BeaconSender
from monitor.recorder.keyless import LostKeys, NothingProven
from monitor.recorder.receivers import Receivers
from monitor.recorder.refusals import Refusals
from protocol.codec import receive, unproven_call
from protocol.delays import HELD_LIMIT_NS, DelayGauge
from protocol.framing import Splitter
from protocol.freshness import BEACON_INTERVAL_NS, NS_PER_S, Numbers, PackFreshness, Proof
from protocol.integrity import Keyring
from protocol.packets import Beat, Envelope, Kind, Motion, Receipt, Report, UpPacket
from protocol.rejects import Reject

if TYPE_CHECKING:
    from monitor.links.chunk import Address, Chunk

OLD_ROW_NS = 1_000_000_000
"""One row a pack in this time says that its numbers went back, one that it says help with such
numbers, and one more of each if it answers to now; the rest are only counted."""
NOTED_NS = 1_000_000_000
"""How often a pack's address is noted for beacons, if it stays the same."""
NOW_NS = 3 * BEACON_INTERVAL_NS
"""Old numbers that answer with a beacon sent within this are of now: no pack, however fast it
reports, sends 64 numbers in it."""
MEASURED_NS = 10_000_000_000
"""How often a pack's clock is measured: it changes with the weather."""
STRANGERS_A_SECOND = 1_000
"""So many frames of identities that are neither on the board nor heard before get a key made: a
hundredth of a core ..."""
STRANGERS_BURST = 8_000
"""... and so many at once: a whole fleet that is switched on."""
DISTRESS_ROW_NS = 10_000_000_000
"""So with a frame that shows distress under no key that is held ..."""
DISTRESS_ROWS_MAX = 8
"""... and of at most so many identities that nobody on the board has: an attacker must neither
fill the disk nor crowd out a wearer."""

DISTRESS_SHOWN_MAX = 4_096
"""Such frames known again: the same once more says nothing new, and takes nobody's place."""

WHOLE_NS = 30_000_000_000
"""Of a pack that says nothing new one frame in this time is kept whole while memory is full; the
others in short."""

_NO_FRAME = (Reject.SHORT, Reject.LONG, Reject.CHECKSUM)
"""What noise is, or a line at the wrong speed."""
_NO_KEY_FITS = frozenset(
    {Reject.NOT_KEYED, Reject.KEYED_UNREADABLE, Reject.EPOCH_UNKNOWN, Reject.TAG}
)
"""Undamaged, and of no fleet of this base: what they say of a wearer may be true all the same."""
_FROM_PACK = (Report, Receipt)
_IDENTITY = slice(4, 8)
"""Of a frame of a pack."""
_LIVE, _NOT_PROVEN, _HELD = Standing.LIVE, Standing.NOT_PROVEN, Standing.HELD

Admitted = tuple[bytes, Heard]
"""A frame let through, without framing and envelope, and what it is."""


class _Shown:
    """Frames known again, by their hash; the oldest is forgotten first."""

    __slots__ = ("_frames", "_most")

    def __init__(self, most: int) -> None:
        self._frames: dict[int, None] = {}
        self._most = most

    def has(self, frame: bytes) -> bool:
        return hash(frame) in self._frames

    def add(self, frame: bytes) -> None:
        self._frames[hash(frame)] = None
        if len(self._frames) > self._most:
            del self._frames[next(iter(self._frames))]


class _Pack:
    """What is remembered of one pack."""

    __slots__ = (
        "began_ns", "clock_told", "fresh", "gauge", "known", "let_through", "let_through_ns",
        "link", "measured_ns", "noted_ns", "old_ns", "shown", "source",
    )  # fmt: skip

    def __init__(self) -> None:
        self.fresh = PackFreshness()
        self.gauge = DelayGauge()
        self.began_ns: int | None = None
        """When the first frame of its present boot was taken; None: not by this recorder."""
        self.old_ns: dict[tuple[bool, bool, bool], int] = {}
        """By whether it said help, whether it answered to now, and whether that very frame had a
        row before: the last row of old numbers."""
        self.shown = _Shown(SHOWN_MAX)
        """Frames with old numbers that said help."""
        self.known = False
        """Has been proven live."""
        self.link = 0
        self.source: Address | None = None
        self.let_through: UpPacket | None = None
        """The last frame let through, if it tells how its pack is now; and when."""
        self.let_through_ns = -WHOLE_NS
        self.noted_ns = -NOTED_NS
        """When its address was last noted for beacons."""
        self.measured_ns = -MEASURED_NS
        """When its clock was last measured."""
        self.clock_told = 0
        """The boot in which its clock was told to be wrong."""


class Intake:
    """All packs and links of one recorder."""

    def __init__(self, keyring: Keyring | None, beacons: BeaconSender) -> None:
        """``keyring`` None: an open base, where frames prove nothing of their origin."""
        self.refusals = Refusals()
        self.receivers = Receivers()
        self.full = False
        """Set while no disk takes anything and memory has taken much: frames that say nothing new
        are kept in short. Whatever else comes is let through."""
        self.thinned = 0
        """Frames kept so."""
        self.still_heard: dict[int, StillHeard] = {}
        """By pack: such frames since the last row. To be taken before any other frame."""
        self._follows = False
        """A frame of the same bytes goes before: the next must not come before it."""
        self._joined: frozenset[int] = frozenset()
        self.known: set[bytes] = set()
        """Identities, as in a frame, of packs that are on the board, remembered or proven: what
        they send comes before all else."""
        self._budget_ns = 0
        self.clocks: list[PackClock] = []
        """Clocks of packs found to be wrong, to be told."""
        self._keyring = keyring
        if keyring is not None:
            keyring.strangers_left = STRANGERS_BURST
        self._beacons = beacons
        lost = isinstance(keyring, LostKeys)
        self.proves = keyring is not None and not lost
        """What is heard shuts out what was heard before: nobody else can have sent it."""
        self._proof = NothingProven(beacons.recent) if lost else Proof(beacons.recent)
        self._packs: dict[int, _Pack] = {}
        self._splitters: dict[int, Splitter] = {}
        self._distress_rows: dict[tuple[int, bool], int] = {}
        """By identity, and whether it calls or lies still."""
        self._distress_shown = _Shown(DISTRESS_SHOWN_MAX)

    # ------------------------------------------------------------ who comes first

    @property
    def joined(self) -> frozenset[int]:
        """Packs of somebody on the board: they come before all others."""
        return self._joined

    @joined.setter
    def joined(self, packs: frozenset[int]) -> None:
        self._joined = packs
        self.known.update(identity.to_bytes(4, "big") for identity in packs)
        if self._keyring is not None:
            self._keyring.expected = packs

    def expected(
        self, link: int, at: int, packs: int
    ) -> tuple[set["Address"], dict[bytes, tuple[int, int] | None]]:
        """From where packs are heard by a link, and which are known: those on the board first.

        At most so many. Of each pack, by its identity as in a frame, boot counter and highest
        number; None where this recorder has not heard it.
        """
        first = dict.fromkeys(identity.to_bytes(4, "big") for identity in self._joined)
        known = islice(chain(first, self.known - first.keys()), packs)
        sources = self._beacons.sources(link, self._joined, at)
        return sources, {pack: self._last_heard(pack) for pack in known}

    def forged(self, frame: bytes) -> bool:
        """Whether a frame in a known pack's name cannot be genuine. Any thread may ask."""
        return self.proves and self._keyring is not None and self._keyring.forged(frame)

    def _last_heard(self, identity: bytes) -> tuple[int, int] | None:
        pack = self._packs.get(int.from_bytes(identity, "big"))
        heard = pack is not None and pack.link and pack.fresh.boot
        return (pack.fresh.boot, pack.fresh.highest) if pack is not None and heard else None

    def allow_strangers(self, now_ns: int) -> None:
        """Let more identities be looked at of which nobody has heard, by the time gone by."""
        keyring = self._keyring
        if keyring is not None and keyring.strangers_left < STRANGERS_BURST:
            more = (now_ns - self._budget_ns) * STRANGERS_A_SECOND // NS_PER_S
            if more > 0:
                left = keyring.strangers_left + more
                keyring.strangers_left = min(STRANGERS_BURST, left)
                self._budget_ns = now_ns
        else:
            self._budget_ns = now_ns

    # ------------------------------------------------------------ memory over restarts

    def remember(self, identity: int, numbers: Numbers) -> None:
        """Take up a pack's freshness where an earlier incident left it."""
        self._pack(identity).fresh = PackFreshness.restored(numbers)
        self.known.add(identity.to_bytes(4, "big"))

    def take_keys(self, keyring: Keyring, packs: Mapping[int, Numbers]) -> None:
        """Judge by these keys from now on, every pack anew. ``packs``: what is remembered."""
        keyring.strangers_left, keyring.expected = STRANGERS_BURST, self._joined
        self._keyring, self.proves = keyring, True
        self._proof = Proof(self._beacons.recent)
        self._packs.clear()
        for identity, numbers in packs.items():
            self.remember(identity, numbers)

    def recall(self, rows: Recalled, origin_boot_ns: int | None, *, proven: bool) -> None:
        """Take up what a journal's rows say of its packs. Nothing is judged anew.

        ``origin_boot_ns``: what the boot clock read at incident time 0, if it still runs: delays
        measured by another tell nothing. ``proven``: keep the proofs that packs are live, after a
        break too short for anybody to record and play one.
        """
        for identity, fresh in rows.fresh.items():
            pack = self._pack(identity)
            if identity in rows.enrolled:
                fresh.enrolled_after(pack.fresh)
                pack.fresh = fresh
            else:
                pack.fresh = fresh.after(pack.fresh)
        if origin_boot_ns is not None:
            for identity, gauge in rows.gauges.items():
                self._pack(identity).gauge = gauge.moved(origin_boot_ns)
        if proven:
            for identity, boot in rows.proven.items():
                self._proof.restore(identity, boot)
                self.known.add(identity.to_bytes(4, "big"))

    def freshness(self) -> dict[int, Numbers]:
        """Give every pack's numbers, to be kept for the next incident."""
        return {identity: pack.fresh.exported() for identity, pack in self._packs.items()}

    def enrol_again(self, identity: int) -> None:
        """Take the pack's next frame as a new beginning; it must prove itself anew.

        Its delays are measured anew too: it may be another set, whose uptime began later.
        """
        pack = self._pack(identity)
        pack.fresh.enrol_again()
        pack.gauge = DelayGauge()
        self._proof.forget(identity)

    def forget_delays(self) -> None:
        """Measure delays anew: the clock they were measured by is another now."""
        for pack in self._packs.values():
            pack.gauge = DelayGauge()

    # ------------------------------------------------------------ frames

    def set_link(self, link: int, *, framed: bool) -> None:
        """Begin a link anew. ``framed``: a line, whose bytes hold frames; else one a datagram."""
        if framed:
            self._splitters[link] = Splitter()
        else:
            self._splitters.pop(link, None)

    def admit(self, chunk: "Chunk") -> list[Admitted]:
        """Let through what is genuine in these bytes; count the rest.

        ``t`` and ``late_ns`` of what is let through are for the sequencer to fill in.
        """
        splitter = self._splitters.get(chunk.link)
        if splitter is None:
            one = self._judge(chunk.data, chunk, None)
            return [one] if one is not None else []
        admitted: list[Admitted] = []
        for piece in splitter.feed(chunk.data):
            if isinstance(piece, Reject):
                self.refusals.count(chunk.link, piece, b"")
                self.receivers.junk(chunk.link, chunk.stamp.boot_ns)
            elif (one := self._judge(piece, chunk, None)) is not None:
                admitted.append(one)
                self._follows = True
        self._follows = False
        return admitted

    def take_thinned(self) -> list[Thinned]:
        """What was kept in short since the last call, as facts."""
        packs, self.still_heard = tuple(self.still_heard.values()), {}
        firsts = range(0, len(packs), THINNED_PACKS_MAX)
        return [Thinned(packs=packs[first : first + THINNED_PACKS_MAX]) for first in firsts]

    def _judge(self, frame: bytes, chunk: "Chunk", signal_dbm: int | None) -> Admitted | None:
        packet = receive(frame, self._keyring)
        if isinstance(packet, _FROM_PACK):
            return self._judge_genuine(frame, packet, chunk, signal_dbm)
        if isinstance(packet, Envelope):
            return self._judge(packet.frame, chunk, packet.signal_dbm)
        if isinstance(packet, Beat):
            self.receivers.beat(chunk.link, chunk.stamp.boot_ns)
        elif isinstance(packet, Reject):
            self.refusals.count(chunk.link, packet, frame)
            if packet in _NO_FRAME:
                self.receivers.junk(chunk.link, chunk.stamp.boot_ns)
            if packet in _NO_KEY_FITS:
                return self._unproven_call(frame, chunk, signal_dbm)
        return None

    def _judge_genuine(
        self, frame: bytes, packet: UpPacket, chunk: "Chunk", signal_dbm: int | None
    ) -> Admitted | None:
        identity, boot = packet.identity, packet.boot
        now_ns = chunk.stamp.boot_ns
        pack = self._packs.get(identity) or self._pack(identity)
        began = boot != pack.fresh.boot
        fresh = pack.fresh.take(boot, packet.sequence, frame)
        if isinstance(fresh, Reject):
            ahead = (boot, packet.sequence) > (pack.fresh.boot, pack.fresh.highest)
            if not (ahead and self._answers_to_now(packet, pack, now_ns)):
                return self._judge_old(frame, packet, pack, fresh, chunk)
            # It has come by itself to numbers that were heard before it was enrolled again.
            pack.fresh.take(boot, packet.sequence, frame, of_now=True)
        if began:
            pack.began_ns = now_ns
        self.receivers.frame(chunk.link, now_ns)
        oldest_ns = self._beacons.recent.oldest_ns(packet.beacon_heard, now_ns)
        age_ns = pack.gauge.take(boot, packet.uptime_ms, now_ns, oldest_ns)
        if oldest_ns is not None and now_ns - pack.measured_ns >= MEASURED_NS:
            self._measure_clock(pack, packet, now_ns, oldest_ns)
        if (
            began
            or now_ns - pack.noted_ns >= NOTED_NS
            or chunk.source != pack.source
            or chunk.link != pack.link
        ):
            pack.link, pack.source, pack.noted_ns = chunk.link, chunk.source, now_ns
            self._beacons.heard_at(identity, chunk.link, chunk.source, now_ns, began=began)
        if not self._proof.take(identity, boot, packet.beacon_heard, now_ns):
            standing = _NOT_PROVEN
        else:
            standing = _HELD if age_ns > HELD_LIMIT_NS else _LIVE
            if not pack.known:
                pack.known = True
                self.known.add(frame[_IDENTITY])
            if self.full and standing is _LIVE and self._kept_in_short(pack, packet, now_ns):
                return None
        # What was held up or overtaken tells no state: nothing that comes after is like it.
        tells = standing is _LIVE and packet.sequence == pack.fresh.highest
        pack.let_through, pack.let_through_ns = packet if tells else None, now_ns
        return frame, Heard(0, packet, standing, chunk.link, 0, signal_dbm)

    def _kept_in_short(self, pack: _Pack, packet: UpPacket, now_ns: int) -> bool:
        """Keep a frame that repeats what its pack said last among others; False: it is no such."""
        before = pack.let_through
        if (
            self._follows
            or now_ns - pack.let_through_ns >= WHOLE_NS
            or not isinstance(packet, Report)
            or not isinstance(before, Report)
            or packet.sequence != pack.fresh.highest
            or _state_of(packet) != _state_of(before)
        ):
            return False
        told = self.still_heard.get(packet.identity)
        frames = 1 if told is None else told.frames + 1
        self.still_heard[packet.identity] = StillHeard(
            packet.identity, frames, packet.sequence, packet.uptime_ms, packet.pressure_dbar
        )
        self.thinned += 1
        return True

    def _measure_clock(self, pack: _Pack, packet: UpPacket, now_ns: int, oldest_ns: int) -> None:
        """Learn how fast the pack's clock goes, and say once a boot if it is wrong."""
        pack.measured_ns = now_ns
        pack.gauge.measure(packet.uptime_ms, now_ns, oldest_ns)
        ppm = pack.gauge.clock_ppm
        if ppm and pack.clock_told != packet.boot:
            pack.clock_told = packet.boot
            self.clocks.append(PackClock(pack=packet.identity, ppm=ppm))

    def _judge_old(
        self, frame: bytes, packet: UpPacket, pack: _Pack, why: Reject, chunk: "Chunk"
    ) -> Admitted | None:
        self.refusals.count(chunk.link, why, frame)
        now_ns = chunk.stamp.boot_ns
        now = self._answers_to_now(packet, pack, now_ns)
        helps = _says_help(packet)
        # A call for help waits behind no row of before, nor who is there behind a recording, nor
        # another call behind one that was shown.
        says = (helps, now, helps and pack.shown.has(frame))
        last_ns = pack.old_ns.get(says, -OLD_ROW_NS)
        if not why.genuine_but_old or now_ns - last_ns < OLD_ROW_NS:
            return None
        pack.old_ns[says] = now_ns
        if helps:
            pack.shown.add(frame)
        if now or now_ns - pack.noted_ns >= ADDRESS_NS_MAX or pack.source is None:
            # It is there now, or nobody else answers for this pack: it gets the beacon that tells
            # it from a recording, and the orders that it may be the one to obey.
            self._beacons.heard_at(packet.identity, chunk.link, chunk.source, now_ns, new=False)
        standing = Standing.OLD_NOW if now else Standing.OLD
        return frame, Heard(0, packet, standing, chunk.link, 0, None)

    def _answers_to_now(self, packet: UpPacket, pack: _Pack, now_ns: int) -> bool:
        """Whether somebody with old numbers is there now.

        What a pack said just before it restarted, or 64 numbers ago, answers with a recent beacon
        too, and may come late or be played: only one of the last few, sent since the pack's present
        boot began, is none of that.
        """
        oldest_ns = self._beacons.recent.oldest_ns(packet.beacon_heard, now_ns)
        if oldest_ns is None or oldest_ns > NOW_NS:
            return False
        return pack.began_ns is None or now_ns - oldest_ns > pack.began_ns

    def _unproven_call(
        self, frame: bytes, chunk: "Chunk", signal_dbm: int | None
    ) -> Admitted | None:
        """Let through what may be somebody who calls under a key that is not held here.

        Of packs that nobody on the board has only a distress: another fleet's sets lie about, too.
        """
        report = unproven_call(frame)
        if report is None or not (report.distress or report.identity in self.joined):
            return None
        now_ns = chunk.stamp.boot_ns
        rows, says = self._distress_rows, (report.identity, report.distress)
        for old in [one for one, last in rows.items() if now_ns - last >= DISTRESS_ROW_NS]:
            del rows[old]
        if says in rows or self._distress_shown.has(frame):
            return None
        if report.identity not in self.joined:
            strangers = sum(identity not in self.joined for identity, _ in rows)
            if strangers >= DISTRESS_ROWS_MAX:
                return None
        rows[says] = now_ns
        self._distress_shown.add(frame)
        standing = Standing.UNPROVEN_DISTRESS
        return frame, Heard(0, report, standing, chunk.link, 0, signal_dbm)

    def _pack(self, identity: int) -> _Pack:
        pack = self._packs.get(identity)
        if pack is None:
            if len(self._packs) >= PACKS_MAX:
                self._drop_one()
            pack = self._packs[identity] = _Pack()
        return pack

    def _drop_one(self) -> None:
        """Forget the pack that came first, but none of somebody on the board."""
        for _ in range(len(self._packs)):
            gone = next(iter(self._packs))
            pack = self._packs.pop(gone)
            if gone not in self._joined:
                self.known.discard(gone.to_bytes(4, "big"))
                return
            self._packs[gone] = pack  # at the end, so that none is looked at twice


def _says_help(packet: UpPacket) -> bool:
    """Whether its wearer calls, or does not move."""
    return isinstance(packet, Report) and (packet.distress or packet.motion is Motion.ALARM)


def _state_of(report: Report) -> tuple[object, ...] | Report:
    """What a report tells but for the numbers that always change, and the pressure.

    An event, a sign-on and a sign-off tell only themselves: they are like no other.
    """
    if report.kind is not Kind.STATUS:
        return report
    return (
        report.boot, report.epoch, report.motion, report.distress, report.low_air,
        report.coming_out, report.order_received, report.order_acknowledged, report.interval_s,
        report.self_test, report.air_warning_test, report.motion_warning_test,
        report.battery_percent, report.gas_temperature_c, report.pressure_dbar is None,
        report.equipment, report.extras,
    )  # fmt: skip
