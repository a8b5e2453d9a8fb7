"""Is it new, and is it now? What tells a live frame from a recorded, repeated or delayed one.

Upward, boot counter and sequence number feed a sliding window, and a base's random beacons must
come back; how long a frame was on its way is told by ``delays``. Downward, an order names the last
frame heard from its pack. Losses are counted from the same sequence numbers.

Nothing here knows a key: everything is to be called for frames that have passed authentication,
since a forged number must not move a window. Times are ns, given by the caller, never running
backwards. No counter wraps: a pack that would pass the highest sequence number or uptime begins
a new boot instead.
"""

import struct
from array import array
from collections import deque
from collections.abc import Iterable
from enum import Enum, auto
from random import Random

from protocol.fields import U32_MAX
from protocol.packets import CONFIRMATIONS, Order
from protocol.rejects import Reject

NS_PER_S = 1_000_000_000
NS_PER_MS = 1_000_000
PPM = 1_000_000

WINDOW_WIDTH = 64
"""RFC 4303 3.4.3: at least 32, 64 preferred."""
_WINDOW_MASK = (1 << WINDOW_WIDTH) - 1

COPIES_REMEMBERED = 8
"""How many sequence numbers back a byte-identical frame counts as a copy, not as a repetition."""

BEACON_INTERVAL_NS = 5 * NS_PER_S
BEACON_RECENT_NS = 60 * NS_PER_S
"""A pack that answers with a beacon no older than this is alive now."""
BEACONS_MAX = 64
"""Beacons remembered: five times what 60 s need."""
PROVEN_MAX = 16_384
"""Packs whose proof one base session remembers; more than the largest fleet."""

ORDER_WINDOW = 64
"""An order that names a frame further back than this is not obeyed."""
ORDER_AGE_NS = 60 * NS_PER_S
"""Nor one that names a frame sent longer ago than this."""

GAP_MAX = 10_000
"""A longer leap in sequence numbers (14 h at 5 s) is not loss: the account begins anew."""


class Fresh(Enum):
    """What is well."""

    NEW = auto()
    REPEAT = auto()
    """An order received before: answer again, do nothing."""


# ---------------------------------------------------------------- upward: new


class Window:
    """Sliding window over sequence numbers (RFC 4303 3.4.3), 64 wide.

    ``judge`` looks, ``mark`` moves: mark only what has passed authentication.
    """

    __slots__ = ("bitmap", "highest")

    def __init__(self, highest: int = 0, bitmap: int = 0) -> None:
        self.highest = highest
        """Highest number marked; 0 before the first."""
        self.bitmap = bitmap
        """Bit n: number ``highest - n`` has been marked."""

    def judge(self, sequence: int) -> Fresh | Reject:
        """NEW, REPEATED, TOO_OLD, or SEQUENCE for the number 0, which is never used."""
        if sequence > self.highest:
            return Fresh.NEW
        if sequence < 1:
            return Reject.SEQUENCE
        back = self.highest - sequence
        if back >= WINDOW_WIDTH:
            return Reject.TOO_OLD
        return Reject.REPEATED if self.bitmap >> back & 1 else Fresh.NEW

    def seen(self, highest: int) -> int:
        """The bitmap of a window that has moved on to ``highest``, not below its own."""
        ahead = highest - self.highest
        return self.bitmap << ahead & _WINDOW_MASK if ahead < WINDOW_WIDTH else 0

    def mark(self, sequence: int) -> None:
        """Note ``sequence`` as taken. Call it for a number that ``judge`` has called NEW."""
        ahead = sequence - self.highest
        if ahead <= 0:
            self.bitmap |= 1 << -ahead
            return
        self.bitmap = (self.bitmap << ahead & _WINDOW_MASK | 1) if ahead < WINDOW_WIDTH else 1
        self.highest = sequence


_MARK_BYTES = 8
"""What tells two frames with one number apart: the end of the tag, and the checksum over all."""
_NO_MARKS = array("Q", bytes(_MARK_BYTES * WINDOW_WIDTH))
assert _NO_MARKS.itemsize == _MARK_BYTES
_SHORT_BITS = 32
_SHORT_BYTES = _SHORT_BITS // 8
MARKS_BYTES = _SHORT_BYTES * WINDOW_WIDTH
"""Of the marks of a window as they are kept across incidents."""
_MARKS = struct.Struct(f">{WINDOW_WIDTH}I")

Numbers = tuple[int, int, int, bytes]
"""What is kept of one pack: boot counter, highest sequence number, window, marks."""


_PASSED = 0xFFFF_FFFF_FFFF_FFFF
"""The mark of a number that has passed. A frame has it by chance once in 2^64."""


def _mark(frame: bytes) -> int:
    return int.from_bytes(frame[-_MARK_BYTES:], "big")


def _short(mark: int) -> int:
    """A mark in half the room; never 0, which means that nothing is known."""
    return (mark ^ mark >> _SHORT_BITS) & (1 << _SHORT_BITS) - 1 or 1


class PackFreshness:
    """Whether a pack's genuine frames are new: its boot counter and its window.

    Kept across incidents, with a short mark of each frame in the window: a recording of an earlier
    incident is then old, and a pack that has lost its counter is told from one.
    """

    __slots__ = ("_marks", "_past", "_window", "boot")

    def __init__(self) -> None:
        self._past = (0, 0)
        """Boot counter and highest number of before the pack was enrolled again."""
        self.boot = 0
        """Boot counter of the newest boot heard; 0: nothing heard yet."""
        self._window = Window()
        self._marks = _NO_MARKS[:]
        """What each number in the window was taken with; zeros where that is not known: then a
        frame with that number is no repetition, for it may be a pack that has lost its counter."""

    @classmethod
    def restored(cls, numbers: Numbers) -> "PackFreshness":
        """From what ``exported`` gave. ValueError if it cannot be that."""
        boot, highest, bitmap, marks = numbers
        if boot < 0 or highest < 0 or not 0 <= bitmap <= _WINDOW_MASK:
            raise ValueError("not the numbers of a pack's freshness")
        if len(marks) not in (0, MARKS_BYTES):
            raise ValueError("not the marks of a pack's freshness")
        fresh = cls()
        fresh.boot = boot
        fresh._window = Window(highest, bitmap)
        if marks:
            fresh._marks = array("Q", _MARKS.unpack(marks))
        return fresh

    def exported(self) -> Numbers:
        """Boot counter, highest sequence number, window bitmap (64 bits), marks.

        The marks by number modulo 64, 4 bytes each in network byte order, 0 where none is known.
        """
        window, marks = self._window, [0] * WINDOW_WIDTH
        for back in range(WINDOW_WIDTH):
            at = (window.highest - back) % WINDOW_WIDTH
            if window.bitmap >> back & 1 and self._marks[at]:
                marks[at] = _short(self._marks[at])
        packed = _MARKS.pack(*marks)
        return self.boot, window.highest, window.bitmap, packed

    def after(self, earlier: "PackFreshness") -> "PackFreshness":
        """What would be known had ``earlier`` been where this one began; neither is changed."""
        if earlier.boot != self.boot:
            return self if self.boot > earlier.boot else earlier
        old, own = earlier._window, self._window  # noqa: SLF001 - one of our own
        highest = max(old.highest, own.highest)
        joined = PackFreshness()
        joined.boot = self.boot
        joined._past = max(self._past, earlier._past)  # noqa: SLF001
        joined._window = Window(highest, old.seen(highest) | own.seen(highest))
        joined._marks = self._marks[:]
        for back in range(WINDOW_WIDTH):
            number = old.highest - back
            # What was known before was not taken as new, and so left no mark of its own here.
            if old.bitmap >> back & 1 and highest - number < WINDOW_WIDTH:
                at = number % WINDOW_WIDTH
                joined._marks[at] = earlier._marks[at]  # noqa: SLF001
        return joined

    @property
    def highest(self) -> int:
        """Highest sequence number taken in this boot; what an order to the pack names."""
        return self._window.highest

    def take(
        self, boot: int, sequence: int, frame: bytes, *, of_now: bool = False
    ) -> Fresh | Reject:
        """Judge a frame that has passed authentication, and remember it if it is new.

        NEW; COPY: byte-identical to one of the last few, neither loss nor repetition; REPEATED;
        TOO_OLD: out of the window, or in a later boot that was heard before the pack was enrolled
        again; BOOT_BACK; TWIN: a number taken before, other contents. ``of_now``: something else
        tells that it is no recording, so the pack may have come to that boot anew.
        """
        if boot != self.boot:
            if boot < self.boot:
                return Reject.BOOT_BACK
            if self.boot and not of_now and (boot, sequence) <= self._past:
                return Reject.TOO_OLD
            self._begin(boot)
        window = self._window
        ahead = sequence - window.highest
        if ahead <= 0:
            verdict = window.judge(sequence)
            if verdict is Reject.REPEATED:
                return self._same_number(sequence, frame)
            if verdict is not Fresh.NEW:
                return verdict
        elif (
            ahead > WINDOW_WIDTH
            and window.highest
            and not of_now
            and (boot, sequence) <= self._past
        ):
            # No pack leaps so far where it has been before, but a recording does.
            return Reject.TOO_OLD
        window.mark(sequence)
        # Written out: a call would cost a tenth of the whole.
        self._marks[sequence % WINDOW_WIDTH] = int.from_bytes(frame[-_MARK_BYTES:], "big")
        return Fresh.NEW

    def passed(self, boot: int, sequence: int) -> None:
        """Take every number of this boot up to ``sequence`` as taken, by reports with no news.

        What they were is not kept, so the same number again is a repetition, whatever it holds.
        """
        ahead = sequence - self._window.highest
        if boot != self.boot or ahead < 1:
            return
        first = max(0, sequence - WINDOW_WIDTH, sequence - ahead) + 1
        for number in range(first, sequence + 1):
            self._window.mark(number)
            self._marks[number % WINDOW_WIDTH] = _PASSED

    def enrol_again(self) -> None:
        """Take the next frame as a new beginning, whatever its numbers. An officer's act.

        If it has lower numbers, those of before stay old: one recording would else shut it out.
        """
        self._past = max(self._past, (self.boot, self._window.highest))
        self._begin(0)

    def enrolled_after(self, earlier: "PackFreshness") -> None:
        """Keep numbers old that were known before this began."""
        self._past = max(self._past, earlier._past, (earlier.boot, earlier.highest))  # noqa: SLF001

    def _begin(self, boot: int) -> None:
        self.boot = boot
        self._window = Window()
        self._marks = _NO_MARKS[:]

    def _same_number(self, sequence: int, frame: bytes) -> Reject:
        """Tell a copy or a repetition from a frame that only has the number of another."""
        known, mark = self._marks[sequence % WINDOW_WIDTH], _mark(frame)
        if known == mark and self._window.highest - sequence < COPIES_REMEMBERED:
            return Reject.COPY
        return Reject.REPEATED if known in (mark, _short(mark), _PASSED) else Reject.TWIN


# ---------------------------------------------------------------- upward: now


class Beacons:
    """The values one base has sent lately."""

    __slots__ = ("_at", "_sent")

    def __init__(self, sent: Iterable[tuple[int, int]] = ()) -> None:
        self._sent: deque[tuple[int, int]] = deque(sent, BEACONS_MAX)
        self._at = dict(self._sent)

    def next_value(self, random: Random) -> int:
        """A value from 1 to 4294967295 that is not among those remembered."""
        used = {value for value, _ in self._sent}
        while (value := random.randint(1, U32_MAX)) in used:
            pass
        return value

    def sent(self, value: int, now: int) -> None:
        """Remember that ``value`` went out at ``now``."""
        if len(self._sent) == BEACONS_MAX:
            self._at.pop(self._sent[0][0], None)
        self._sent.append((value, now))
        self._at[value] = now

    def recent(self, value: int, now: int) -> bool:
        """Whether ``value`` was sent within the last 60 s. 0 means "none" and never is."""
        sent = self._at.get(value)
        return sent is not None and now - sent <= BEACON_RECENT_NS

    def oldest_ns(self, value: int, now: int) -> int | None:
        """How old a frame can be at most that answers with ``value``; None: nothing says.

        It was made after that beacon had gone out, whatever its pack's clock says.
        """
        sent = self._at.get(value)
        return None if sent is None else max(0, now - sent)


class Proof:
    """Which packs have been proven live in this base session.

    A pack is proven once an accepted frame of its present boot has answered with a recent
    beacon, and stays so for that boot: the window keeps recordings of it out from then on.
    """

    __slots__ = ("_beacons", "_boots")

    def __init__(self, beacons: Beacons) -> None:
        self._beacons = beacons
        self._boots: dict[int, int] = {}

    def take(self, identity: int, boot: int, beacon_heard: int, now: int) -> bool:
        """Whether the pack is proven live, this frame included."""
        if self._boots.get(identity) == boot:
            return True
        if not self._beacons.recent(beacon_heard, now):
            return False
        self.restore(identity, boot)
        return True

    def restore(self, identity: int, boot: int) -> None:
        """Take a pack as proven, as it was before a break too short to play a recording in."""
        if len(self._boots) >= PROVEN_MAX and identity not in self._boots:
            del self._boots[next(iter(self._boots))]
        self._boots[identity] = boot

    def forget(self, identity: int) -> None:
        """Ask for a new proof, as after enrolling again."""
        self._boots.pop(identity, None)


# ---------------------------------------------------------------- downward


class OrderGate:
    """A pack's side: which orders it obeys. Begins anew with each boot; nothing is stored."""

    __slots__ = ("_boot", "_sent", "asked", "highest")

    def __init__(self, boot: int) -> None:
        self._boot = boot
        self._sent: deque[tuple[int, int]] = deque(maxlen=ORDER_WINDOW)
        self.highest = 0
        """Highest order number received: what the pack's reports repeat."""
        self.asked = 0
        """Highest received that asks for an answer: what the wearer's button acknowledges."""

    def sent(self, sequence: int, now: int) -> None:
        """Note that the pack's own frame ``sequence`` first went out at ``now``."""
        self._sent.append((sequence, now))

    def take(self, order: Order, now: int) -> Fresh | Reject:
        """Judge an order that has passed authentication.

        NEW: obey and answer; REPEAT: answer only; else ORDER_BOOT, ORDER_AHEAD, ORDER_TOO_OLD,
        ORDER_LATE or ORDER_PASSED, and no answer.
        """
        if order.boot != self._boot:
            return Reject.ORDER_BOOT
        if not self._sent or order.sequence > self._sent[-1][0]:
            return Reject.ORDER_AHEAD
        sent_at = next((t for number, t in self._sent if number == order.sequence), None)
        if sent_at is None:
            return Reject.ORDER_TOO_OLD
        if now - sent_at > ORDER_AGE_NS:
            return Reject.ORDER_LATE
        if order.order < self.highest:
            return Reject.ORDER_PASSED
        if order.order == self.highest:
            return Fresh.REPEAT
        self.highest = order.order
        if order.what not in CONFIRMATIONS:
            self.asked = order.order
        return Fresh.NEW


# ---------------------------------------------------------------- losses


class SequenceAccount:
    """Frames taken and lost of one pack, from its sequence numbers.

    Feed it frames that ``PackFreshness`` has called NEW, and no others: so copies and repeats
    never count; a number taken before changes nothing. A frame that comes late takes its loss
    back. What went before the first frame heard of a boot is not loss, nor is a leap of more than
    ``GAP_MAX``.
    """

    __slots__ = ("_boot", "_first", "_taken_bits", "bursts", "highest", "lost", "taken")

    def __init__(self) -> None:
        self.taken = 0
        self.lost = 0
        self.bursts = 0
        """Runs of losses without a frame between them."""
        self.highest = 0
        """Highest sequence number of the present boot."""
        self._boot = 0
        self._first = 0
        self._taken_bits = 0

    @property
    def loss_share(self) -> float:
        """Lost of all that were sent, 0 to 1; 0 before the first frame."""
        sent = self.taken + self.lost
        return self.lost / sent if sent else 0.0

    @property
    def mean_burst(self) -> float:
        """Frames lost in a row, on average; 0 if none was lost."""
        return self.lost / self.bursts if self.bursts else 0.0

    def take(self, boot: int, sequence: int) -> int:
        """Count a new frame. Answers with how many were lost just before it.

        -1: it came late, and took a loss back.
        """
        self.taken += 1
        gap = sequence - self.highest - 1
        if boot != self._boot or gap > GAP_MAX:
            self._boot, self._first, self.highest, self._taken_bits = boot, sequence, sequence, 1
            return 0
        if gap < 0:
            return self._late(sequence)
        if gap or self._taken_bits != _ACCOUNT_MASK:
            self._taken_bits = (self._taken_bits << gap + 1 | 1) & _ACCOUNT_MASK
        self.highest = sequence
        if gap:
            self.lost += gap
            self.bursts += 1
        return gap

    def also(self, sequence: int, frames: int) -> None:
        """Count so many new frames with numbers up to ``sequence``, none of them told by itself.

        Which of the numbers are missing is not known: they are taken for one burst, the first ones.
        """
        gap = sequence - self.highest
        if gap < 1 or gap > GAP_MAX:
            return
        frames = min(frames, gap)
        self.taken += frames
        self.lost += gap - frames
        self.bursts += gap > frames
        bits = self._taken_bits << min(gap, WINDOW_WIDTH + 1)
        told = (1 << min(frames, WINDOW_WIDTH + 1)) - 1
        self._taken_bits = (bits | told) & _ACCOUNT_MASK
        self.highest = sequence

    def begin_again(self) -> None:
        """Take the next number as a new beginning, as after enrolling again. Counts stay."""
        self._boot = 0

    def _late(self, sequence: int) -> int:
        back = self.highest - sequence
        if sequence < self._first or back >= WINDOW_WIDTH:
            return 0
        if self._taken_bits >> back & 1:
            self.taken -= 1
            return 0
        self.lost -= 1
        # The burst it belonged to is now shorter, gone, or cut in two.
        missing_after = not self._taken_bits >> back - 1 & 1
        missing_before = not self._taken_bits >> back + 1 & 1 and sequence > self._first
        self.bursts += missing_after + missing_before - 1
        self._taken_bits |= 1 << back
        return -1


_ACCOUNT_MASK = (1 << WINDOW_WIDTH + 1) - 1
"""One more than the window: a late frame's neighbour must be known too."""
