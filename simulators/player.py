"""Plays a fleet in real time: the thin shell around the virtual one.

The clock is handed in.
"""

from collections.abc import Callable

from simulators.base_radio import BaseRadio
from simulators.fleet import Fleet
from simulators.outlets import Outlet
from simulators.truth import TruthFile

WAIT_S_MAX = 0.25
"""The longest wait in one go, so that a stop is heeded soon."""
WAIT_S_MIN = 0.001
"""The shortest: what hundreds of packs do within a millisecond is done in one go."""
SECOND_NS = 1_000_000_000


class Player:
    """One run."""

    def __init__(
        self,
        fleet: Fleet,
        outlet: Outlet,
        now_ns: Callable[[], int],
        *,
        speed: float = 1.0,
        radio: BaseRadio | None = None,
        truth: TruthFile | None = None,
    ) -> None:
        """``radio`` None: frames go out as they left the pack, without level or beat."""
        self._fleet = fleet
        self._outlet = outlet
        self._now_ns = now_ns
        self._speed = speed
        self._radio = radio
        self._truth = truth
        self._start_ns = now_ns()

    @property
    def run_ns(self) -> int:
        """Time in the run, now."""
        return round((self._now_ns() - self._start_ns) * self._speed)

    def play(self, go_on: Callable[[int], bool] | None = None) -> None:
        """Play to the end of the scenario, or as long as ``go_on`` says.

        ``go_on`` is asked several times a second, with the run's time. After the end of the
        scenario only the base radio is still heard.
        """
        try:
            while True:
                now_ns = self.run_ns
                if now_ns > self._fleet.end_ns if go_on is None else not go_on(now_ns):
                    break
                self.catch_up(now_ns)
                for frame in self._outlet.wait(self._wait_s(now_ns)):
                    self._fleet.hear(frame)
            self.catch_up(min(now_ns, self._fleet.end_ns))
        finally:
            if self._truth is not None:
                self._truth.write([*self._fleet.take_notes(), self._fleet.channel_line()])

    def catch_up(self, now_ns: int) -> None:
        """Send everything that is due."""
        air = self._fleet.step(now_ns)
        if self._radio is None:
            frames = [sent.frame for sent in air]
        else:
            frames = self._radio.frames(air, now_ns)
        for frame in frames:
            self._outlet.send(frame)
        if self._truth is not None:
            self._truth.write(self._fleet.take_notes())

    def _wait_s(self, now_ns: int) -> float:
        due_ns = now_ns + SECOND_NS
        for instant_ns in (self._fleet.due_ns, self._radio.due_ns if self._radio else None):
            if instant_ns is not None:
                due_ns = min(due_ns, instant_ns)
        wait_s = (due_ns - now_ns) / SECOND_NS / self._speed
        return min(max(wait_s, WAIT_S_MIN), WAIT_S_MAX)
