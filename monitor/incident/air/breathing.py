"""What the gauge readings of one wear say: how fast air goes, whether it runs away, what it did.

Fed with every gauge pressure told while the wearer breathes from their own cylinder. Litres, not
bar, are what is counted. For what is used and forecast they are those at one fixed temperature,
see ``forecast``; for a leak those at the gas temperature told, so that cooling gas is none.

Air only falls, so a reading that is higher than those before is believed only once the next one
confirms it. Until then the reading before it stands; if it is not confirmed, nothing of it was
counted, and the way back down is no air used. A reading that is lower is believed at once: it is
the worse case. So it is not with the first reading of all, which may be the one that is too high:
air that would be gone at once from it only counts from the next. Nor is it with a reading by voice:
two gauges differ, so air that would be gone at once between one and the pack's is none.
"""

import math

from monitor.incident.air.flow import FREE_FLOW_L_S, LossOfPressure, limit_l
from monitor.incident.air.forecast import Outlooks
from monitor.incident.air.gas import usable_l, usable_per_litre
from monitor.incident.air.gauge import (
    LARGEST_L,
    LITRES_PER_BAR_MOST,
    NOT_BELIEVED,
    RISING_STEPS,
    GaugeCheck,
    GaugeFault,
    most_bar,
)
from monitor.incident.air.history import PressureHistory
from monitor.incident.air.rate import Consumption, Sums
from monitor.incident.air.shown import SECOND_NS, Cylinder, Reading
from monitor.incident.picture import AirFrom
from protocol.packets import Motion

NEW_CYLINDER_BAR = 20
"""A rise by so much is another cylinder or a refill, not a flicker of the sensor."""


_STUCK = GaugeFault.STUCK


class Breathing:
    """The air of one wear, from connecting on. Readings come in order of time."""

    __slots__ = (
        "_before_bar",
        "_before_word",
        "_by_voice",
        "_is_first",
        "_last_bar",
        "_last_l",
        "_last_ns",
        "_level_bar",
        "_limit_l",
        "_loss",
        "_most_bar",
        "_read_ns",
        "_rise_bar",
        "_risen",
        "_step_bar",
        "_temperature_c",
        "_told_l",
        "_volume_l",
        "at_entry",
        "before_ns",
        "consumption",
        "cylinder",
        "fault",
        "gauge",
        "history",
        "leaking",
        "most_l_per_bar",
        "outlooks",
        "own",
        "risen",
        "risen_after_ns",
        "start_ns",
        "until_s",
    )

    def __init__(self, start_ns: int, cylinder: Cylinder, step_bar: float) -> None:
        """``start_ns``: connecting; ``step_bar``: the smallest step in which pressure is told."""
        self.start_ns = start_ns
        self.consumption = Consumption()
        self.history = PressureHistory()
        self.gauge = GaugeCheck()
        self.fault: GaugeFault | None = None
        """What is wrong with the gauge, judged by itself."""
        self.leaking = False
        """Air goes faster than anybody breathes, and the next reading said so too."""
        self.own = True
        """What the gauge loses is what the wearer breathes; False on another supply."""
        self.at_entry: Sums | None = None
        """What was counted until the wearer went in: forecasts learn from then on. None: not in."""
        self.outlooks: Outlooks | None = None
        """What was reckoned from the readings so far, kept until the next one."""
        self.until_s: dict[tuple[float, ...], float] = {}
        """So with times: by mark, reading, gas temperature and bound."""
        self._loss = LossOfPressure()
        self._last_ns = start_ns
        self._last_l: float | None = None
        self._told_l: float | None = None
        """The same at the temperature told; None where none was."""
        self._by_voice = False
        """The last reading was not the pack's."""
        self._before_word: tuple[bytes, float | None, int, float] | None = None
        """What was counted before that one: sums, litres, time, pressure."""
        self._is_first = False
        """The litres of the last reading are those of a first one."""
        self._read_ns: int | None = None
        """When the last reading that is believed was read; None: there is none."""
        self._last_bar = self._before_bar = 0.0
        self.before_ns = start_ns
        """When the reading before the last was read."""
        self.risen_after_ns = 0
        """Before the last rise nothing had been read for so long."""
        self.risen: tuple[int, float, float] | None = None
        """The last rise as of another cylinder: when, from what, to what. None: there was none."""
        self._level_bar = math.inf
        """What is higher than this, and some steps more, must be confirmed."""
        self._risen: tuple[int, float] | None = None
        """A reading that was higher, and waits for the next one; with its time."""
        self._volume_l: float | None = None
        self.fit(cylinder, step_bar)

    def fit(self, cylinder: Cylinder, step_bar: float) -> None:
        """Say what is known of the cylinder now; of another volume, used air is counted anew."""
        volume = cylinder.water_volume_l
        self.cylinder = cylinder
        if volume != self._volume_l:
            self._last_l = self._told_l = None
            self.reckon_anew()
        self._volume_l = volume
        self._temperature_c = cylinder.temperature_c
        self._step_bar = step_bar
        self._rise_bar = RISING_STEPS * step_bar
        self._most_bar = most_bar(cylinder.rated_bar)
        self.most_l_per_bar = (volume or LARGEST_L) * LITRES_PER_BAR_MOST
        self._limit_l = limit_l(volume or 0.0, step_bar)

    def reckon_anew(self) -> None:
        """Forget what was reckoned from the readings: something it stands on has changed."""
        self.outlooks = None
        if self.until_s:
            self.until_s.clear()

    def look_anew(self) -> None:
        """Somebody looked, and the gauge is right as it is: doubt it only for what comes."""
        self.gauge = GaugeCheck()
        self.fault = None
        self._risen = None
        self._last_l = self._told_l = None

    def another_cylinder(self) -> None:
        """The gauge begins anew: what it showed before was another cylinder's."""
        self.look_anew()
        self.risen = None
        self._loss, self.leaking = LossOfPressure(), False
        self._read_ns = None
        self._last_bar, self._before_bar, self._level_bar = 0.0, 0.0, math.inf

    def not_entered(self) -> None:
        """That the wearer went in was a mistake: what is breathed is not work yet."""
        self.at_entry = None
        self.reckon_anew()

    def enter(self, t: int) -> None:
        """The wearer went in at this time: from then on it is work. Only the first time counts."""
        if self.at_entry is not None:
            return
        if t >= self._last_ns:
            self.at_entry = self.consumption.sums
        else:
            self.at_entry = self._counted_until((t - self.start_ns) // SECOND_NS)
        self.reckon_anew()

    def _counted_until(self, seconds: int) -> Sums:
        """The sums as they were, from the pressures kept: the step was noted late."""
        counted, last = Consumption(), None
        for at, bar in self.history.points():
            if at > seconds:
                break
            litres = usable_l(bar, self._volume_l or 0.0, self._temperature_c)
            if last is not None:
                counted.take(last[1] - litres, at - last[0])
            last = at, litres
        return counted.sums

    def begin_at(self, told: Reading) -> None:
        """The reading that stands at connecting: what is higher waits to be confirmed."""
        self._read_ns = told.t
        self._last_bar = self._level_bar = told.bar

    def believed(self, told: Reading) -> Reading | None:
        """What stands for the reading told last; None: nothing of this cylinder was believed."""
        if self._risen is None and self.fault not in NOT_BELIEVED:
            return told
        if self.gauge.trusted is not None:
            return Reading(self.gauge.trusted[0], self.gauge.trusted[1], AirFrom.TELEMETRY)
        if self._read_ns is None:
            return None
        return Reading(self._read_ns, self._last_bar, AirFrom.TELEMETRY)

    @property
    def confirmed_bar(self) -> float:
        """The pressure that the last two readings both came up to, or nearly so."""
        high, low = max(self._last_bar, self._before_bar), min(self._last_bar, self._before_bar)
        return high if high - low <= self._rise_bar else low

    def without_one_fall(self, bar: float) -> float:
        """A pressure, or the one before it where it stands alone far under that."""
        return self._before_bar if self.fell_once(bar) else bar

    def fell_once(self, bar: float) -> bool:
        """Whether this pressure is the last, and stands alone far under the one before it."""
        return bar == self._last_bar and self._before_bar - bar >= NEW_CYLINDER_BAR

    def take(
        self, t: int, bar: float, temperature_c: float | None, *, motion: Motion, told: bool
    ) -> bool:
        """Take one reading; tells whether a leak, a rise or a fault of the gauge has come or gone.

        ``told``: by telemetry; a reading by voice is too coarse to find a leak by.
        """
        passed = t - self._last_ns
        self.outlooks = None  # as ``reckon_anew``, once a frame
        if self.until_s:
            self.until_s.clear()
        if passed <= 0 and (passed < 0 or self._last_l is not None):
            return False
        risen = False
        if told:
            if not 0.0 <= bar <= self._most_bar:
                return self._not_read()
            if bar > self._level_bar + self._rise_bar:
                if self._risen is None:
                    self._risen = t, bar
                    return False
                risen = True
                self._confirm(self._risen, bar, motion)
            self._risen = None
        else:
            passed = self._begin_word(t, bar)
        self.history.take((t - self.start_ns) // SECOND_NS, round(bar * 10))
        leaks = self.leaking
        self._count(t, bar, temperature_c, passed / SECOND_NS, told)
        before = self.fault
        if not self.own:
            self.fault = None
        if not (told and self.own):
            return risen or self.fault is not before
        fault = self.fault = self.gauge.read(
            bar, t, motion, self._step_bar, self.most_l_per_bar, self.consumption.record
        )
        if fault is not before:
            if fault is _STUCK and self.gauge.trusted is not None:
                self._not_learnt(self.gauge.trusted[3])
            return True
        return risen or leaks is not self.leaking

    def _begin_word(self, t: int, bar: float) -> int:
        """A reading by voice: gives the time since the one that it is counted from.

        One that is higher puts the word before it right, and what that counted is forgotten.
        """
        rises = bar > self._last_bar + self._rise_bar
        if rises and self._by_voice and self._before_word is not None:
            mark, self._last_l, self._last_ns, self._last_bar = self._before_word
            self._not_learnt(mark)
        if bar > self._level_bar + self._rise_bar:
            self._last_l = None  # no air was given back
        counted = self.consumption.record
        self._before_word = counted, self._last_l, self._last_ns, self._last_bar
        return t - self._last_ns

    def _not_learnt(self, mark: bytes) -> None:
        """What a gauge did since it was last believed is no measure of what was breathed."""
        self.consumption.record = mark
        counted = self.consumption.sums
        if self.at_entry is not None and self.at_entry.seconds > counted.seconds:
            self.at_entry = counted

    def read_out_at_rest(self, mark: bytes) -> None:
        """Nor is what was read out since, where that showed no breathing."""
        self._not_learnt(mark)
        self._last_l = self._told_l = None
        self.reckon_anew()

    def _not_read(self) -> bool:
        """No cylinder can have this pressure: it is no reading."""
        before, self.fault = self.fault, GaugeFault.OUTSIDE
        return before is not self.fault

    def _confirm(self, risen: tuple[int, float], bar: float, motion: Motion) -> None:
        """Two readings were higher: so it is."""
        t, first = risen
        since = self.start_ns if self._read_ns is None else max(self._read_ns, self.start_ns)
        self.risen_after_ns = t - since
        if min(first, bar) >= self._level_bar + NEW_CYLINDER_BAR:
            self._last_l = None
            self._loss, self.leaking = LossOfPressure(), False
            both = max(first, bar) if abs(first - bar) <= self._rise_bar else min(first, bar)
            self.risen = t, self._last_bar, both
        self.history.take((t - self.start_ns) // SECOND_NS, round(first * 10))
        record = self.consumption.record
        self.gauge.read(first, t, motion, self._step_bar, self.most_l_per_bar, record)
        self._last_bar, self._read_ns = first, t

    def _count(
        self,
        t: int,
        bar: float,
        temperature_c: float | None,
        seconds: float,
        told: bool,  # noqa: FBT001 - once a frame: by place is quicker
    ) -> None:
        """Add what was used since the reading before, where the two are a measure of it."""
        litres = told_l = None
        volume, last_l = self._volume_l, self._last_l
        if volume is not None and self.own and self.fault is not _STUCK:
            litres = usable_per_litre(bar, self._temperature_c) * volume
            if temperature_c is not None:
                told_l = usable_per_litre(bar, temperature_c) * volume
        if litres is not None and last_l is not None:
            used = lost = last_l - litres
            if told_l is not None and self._told_l is not None:
                lost = self._told_l - told_l
            doubtful = self._is_first or (told and self._by_voice)
            if not (doubtful and lost > self._limit_l + FREE_FLOW_L_S * seconds):
                self.consumption.take(used, seconds)
                if told:
                    self.leaking = self._loss.take(lost, seconds, self._limit_l)
        self._is_first = told and last_l is None and litres is not None
        self.before_ns = self._last_ns if self._read_ns is None else self._read_ns
        self._last_ns = self._read_ns = t
        self._by_voice = not told
        self._last_l, self._told_l = litres, told_l
        before = self._before_bar = self._last_bar
        self._last_bar = bar
        self._level_bar = max(bar, before)
