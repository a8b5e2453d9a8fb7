"""What the gauge readings of one wear say: how fast air goes, whether it runs away, what it did.

Fed with every gauge pressure told while the wearer breathes from their own cylinder. Litres, not
bar, are what is counted. For what is used and forecast they are those at one fixed temperature,
see ``forecast``; for a leak those at the gas temperature told, so that cooling gas is none.
"""

from monitor.incident.air import gas
from monitor.incident.air.flow import LossOfPressure, limit_l
from monitor.incident.air.forecast import Outlooks
from monitor.incident.air.gauge import GaugeCheck, GaugeFault
from monitor.incident.air.history import PressureHistory
from monitor.incident.air.rate import Consumption, Sums
from monitor.incident.air.shown import SECOND_NS, Cylinder

NEW_CYLINDER_BAR = 20
"""A rise by so much is another cylinder or a refill, not a flicker of the sensor."""


class Breathing:
    """The air of one wear, from connecting on. Readings come in order of time."""

    __slots__ = (
        "_before_bar",
        "_last_bar",
        "_last_l",
        "_last_ns",
        "_limit_l",
        "_loss",
        "_step_bar",
        "_temperature_c",
        "_told_l",
        "_volume_l",
        "at_entry",
        "consumption",
        "cylinder",
        "fault",
        "gauge",
        "history",
        "leaking",
        "outlooks",
        "own",
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
        self._last_bar = self._before_bar = 0.0
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
        self._limit_l = limit_l(volume or 0.0, step_bar)

    def reckon_anew(self) -> None:
        """Forget what was reckoned from the readings: something it stands on has changed."""
        self.outlooks = None
        if self.until_s:
            self.until_s.clear()

    def another_cylinder(self) -> None:
        """The gauge begins anew: what it showed before was another cylinder's."""
        self.gauge = GaugeCheck()
        self.fault = None
        self._last_l = self._told_l = None

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
            litres = gas.usable_l(bar, self._volume_l or 0.0, self._temperature_c)
            if last is not None:
                counted.take(last[1] - litres, at - last[0])
            last = at, litres
        return counted.sums

    def take(
        self, t: int, bar: float, temperature_c: float | None, *, moving: bool, told: bool
    ) -> bool:
        """Take one reading; tells whether a leak or a fault of the gauge has come or gone.

        ``told``: by telemetry; a reading by voice is too coarse to find a leak by.
        """
        passed = t - self._last_ns
        self.reckon_anew()
        if passed < 0 or (passed == 0 and self._last_l is not None):
            return False
        self.history.take((t - self.start_ns) // SECOND_NS, round(bar * 10))
        volume = self._volume_l
        if not self.own:
            self._last_ns, self._last_l, self._told_l = t, None, None
        elif volume is not None:
            litres = gas.usable_per_litre(bar, self._temperature_c) * volume
            last = self._last_l
            told_l = None
            if temperature_c is not None:
                told_l = gas.usable_per_litre(bar, temperature_c) * volume
            # One bad reading that was too low is not a cylinder that was changed.
            if last is not None and bar < max(self._last_bar, self._before_bar) + NEW_CYLINDER_BAR:
                used = last - litres
                seconds = passed / SECOND_NS
                self.consumption.take(used, seconds)
                if told:
                    if told_l is not None and self._told_l is not None:
                        used = self._told_l - told_l
                    leaking = self._loss.take(used, seconds, self._limit_l)
                    if leaking is not self.leaking:
                        self.leaking = leaking
                        self._note(t, bar, litres, told_l)
                        return True
            self._note(t, bar, litres, told_l)
        if not (told and self.own):
            return False
        before = self.fault
        self.fault = self.gauge.take(bar, t, moving, self.cylinder.rated_bar, self._step_bar)
        return self.fault is not before

    def _note(self, t: int, bar: float, litres: float, told_l: float | None) -> None:
        self._before_bar = self._last_bar
        self._last_ns, self._last_bar, self._last_l, self._told_l = t, bar, litres, told_l
