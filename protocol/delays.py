"""How long a frame was on its way: by its pack's clock, and by the beacon that it answers with.

Nothing here knows a key: it is to be called for frames that are genuine and new. Times are ns,
given by the caller, never running backwards.
"""

from protocol.freshness import NS_PER_MS, NS_PER_S, PPM

HELD_LIMIT_NS = 10 * NS_PER_S
"""A frame delayed by more than this is not the present state."""
DRIFT_PPM = 500
"""How far a pack's clock may be off against the base's, either way: 1.8 s an hour."""
DRIFT_MOST_PPM = 20_000
"""No clock that is worse than this is followed, whatever its frames prove."""
CLOCK_FIRST_NS = 60 * NS_PER_S
"""A pack's clock is measured from the surest instant of so long a beginning, and over no less."""


class DelayGauge:
    """How long a pack's frames were on their way, from its uptime and the beacons it answers with.

    Arrival less uptime is constant but for delay and the rate of the pack's clock. The smallest
    difference so far stands for no delay at all; it may rise by what a pack's clock may be slow. A
    frame that answers with a beacon was made after that beacon, so its difference is at most so
    much too large: two such frames prove between which bounds the clock's rate lies. Whoever holds
    frames back can widen these bounds and never move them off the truth, so the rise that is
    allowed follows what is proven, and nothing else. A delay common to all frames of a boot cannot
    be seen: the beacon bounds it.
    """

    __slots__ = (
        "_at", "_best", "_boot", "_first_at", "_first_high", "_first_low", "_least", "_most",
        "_rise",
    )  # fmt: skip

    def __init__(self) -> None:
        self._begin(0, 0, 0)

    def _begin(self, boot: int, offset: int, now: int) -> None:
        self._boot, self._best, self._at = boot, offset, now
        self._first_at: int | None = None
        """When the surest frame of the beginning came, with ..."""
        self._first_high = self._first_low = 0
        """... the largest and the smallest difference that it can have had without delay."""
        self._least, self._most = -PPM, PPM
        """The clock is at least and at most so much slow, ppm."""
        self._rise = DRIFT_PPM

    def take(self, boot: int, uptime_ms: int, now: int, oldest_ns: int | None = None) -> int:
        """Age in ns of a frame taken as new, 0 or more; the first of a boot has 0.

        ``oldest_ns``: what it can be at most, by the beacon that it answers with.
        """
        offset = now - uptime_ms * NS_PER_MS
        if boot != self._boot:
            self._begin(boot, offset, now)
            return 0
        best = self._best + (now - self._at) * self._rise // PPM
        if oldest_ns is not None and offset - oldest_ns > best:
            best = offset - oldest_ns
            self._best, self._at = best, now
        if offset <= best:
            self._best, self._at = offset, now
            return 0
        return offset - best

    def measure(self, uptime_ms: int, now: int, oldest_ns: int) -> None:
        """Learn what a frame just taken proves of the pack's clock."""
        high = now - uptime_ms * NS_PER_MS
        low = high - oldest_ns
        at = self._first_at
        if at is None or (
            now - at <= CLOCK_FIRST_NS and oldest_ns < self._first_high - self._first_low
        ):
            self._first_at, self._first_high, self._first_low = now, high, low
        elif now - oldest_ns - at >= CLOCK_FIRST_NS:
            # Between the making of both lay at least and at most so long.
            shortest, longest = now - oldest_ns - at, now - at + self._first_high - self._first_low
            rose, fell = low - self._first_high, high - self._first_low
            least = rose * PPM // (longest if rose > 0 else shortest)
            most = -(-fell * PPM // (shortest if fell > 0 else longest))
            self._least, self._most = max(self._least, least), min(self._most, most)
            rise = min(max(DRIFT_PPM, self._least), self._most)
            self._rise = max(-DRIFT_MOST_PPM, min(rise, DRIFT_MOST_PPM))

    @property
    def clock_ppm(self) -> int:
        """So much too slow, or if negative too fast, the clock is at least; 0: none is proven."""
        if self._least > DRIFT_PPM:
            return self._least
        return self._most if self._most < -DRIFT_PPM else 0

    def moved(self, ns: int) -> "DelayGauge":
        """The same by a clock that reads ``ns`` more."""
        moved = DelayGauge()
        for name in self.__slots__:
            setattr(moved, name, getattr(self, name))
        moved._best += ns
        moved._at += ns
        if moved._first_at is not None:
            moved._first_at += ns
        moved._first_high += ns
        moved._first_low += ns
        return moved

    @staticmethod
    def held(age_ns: int, limit_ns: int = HELD_LIMIT_NS) -> bool:
        """Whether a frame of this age was held back too long to show the present state."""
        return age_ns > limit_ns
