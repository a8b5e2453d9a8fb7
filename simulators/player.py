"""Plays a fleet in real time: the thin shell around the virtual one.

The clock is handed in.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace

from simulators.base_radio import BaseRadio
from simulators.fleet import Fleet
from simulators.instructions import (
    InjectNow,
    Instruction,
    Instructions,
    Sooner,
    Stand,
    note_of,
)
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
        outlets: Sequence[Outlet],
        now_ns: Callable[[], int],
        *,
        speed: float = 1.0,
        bare: bool = True,
        truth: TruthFile | None = None,
        instructions: Instructions | None = None,
    ) -> None:
        """``outlets``: one for each base radio of the fleet, in their order.

        ``bare``: frames go out as they left the pack, without level or beat.
        """
        assert len(outlets) == fleet.bases, "each base radio has its own way to the base"
        numbers = range(1, fleet.bases + 1)
        self._fleet = fleet
        self._outlets = dict(zip(numbers, outlets, strict=True))
        self._radios = [] if bare else [BaseRadio(number, fleet.plugged) for number in numbers]
        self._now_ns = now_ns
        self._speed = speed
        self._truth = truth
        self._instructions = instructions
        self._start_ns = now_ns()
        self._stands_since_ns: int | None = None
        self._stood_ns = 0

    @property
    def run_ns(self) -> int:
        """Time in the run, now: it stands still while the instructor wants that."""
        now_ns = self._now_ns() if self._stands_since_ns is None else self._stands_since_ns
        return round((now_ns - self._start_ns - self._stood_ns) * self._speed)

    @property
    def _ahead_ns(self) -> int:
        """How far the base radios are ahead: they never stand still, but beat to say they live."""
        since_ns = self._stands_since_ns
        stands_ns = 0 if since_ns is None else self._now_ns() - since_ns
        return round((self._stood_ns + stands_ns) * self._speed)

    def play(self, go_on: Callable[[int], bool] | None = None) -> None:
        """Play to the end of the scenario, or as long as ``go_on`` says.

        ``go_on`` is asked several times a second, with the run's time. After the end of the
        scenario only the base radio is still heard.
        """
        try:
            while True:
                self._follow()
                now_ns = self.run_ns
                if now_ns > self._fleet.end_ns if go_on is None else not go_on(now_ns):
                    break
                self.catch_up(now_ns)
                self._listen(self._wait_s(now_ns))
            self.catch_up(min(now_ns, self._fleet.end_ns))
        finally:
            if self._truth is not None:
                self._truth.write(self._fleet.last_notes())

    def catch_up(self, now_ns: int) -> None:
        """Send everything that is due."""
        air = self._fleet.step(now_ns)
        if not self._radios:
            for sent in air:
                self._outlets[sent.base].send(sent.frame)
        ahead_ns = self._ahead_ns
        heard = [replace(sent, t_ns=sent.t_ns + ahead_ns) for sent in air] if ahead_ns else air
        for radio in self._radios:
            for frame in radio.frames(heard, now_ns + ahead_ns):
                self._outlets[radio.radio].send(frame)
        if self._truth is not None:
            self._truth.write(self._fleet.take_notes())

    def _follow(self) -> None:
        """Do what the instructor has asked for since the last look."""
        for instruction in self._instructions.take() if self._instructions else ():
            why = instruction if isinstance(instruction, str) else self._do(instruction)
            if self._truth is not None:
                self._truth.write([note_of(self.run_ns, instruction)])
                if why and not isinstance(instruction, str):
                    self._truth.write([note_of(self.run_ns, why)])

    def _do(self, instruction: Instruction) -> str:
        """Do it; why not, if it cannot be done."""
        match instruction:
            case InjectNow():
                return self._fleet.befall(instruction.inject)
            case Sooner():
                return self._fleet.sooner(instruction.name)
            case Stand():
                self._stand(still=instruction.still)
        return ""

    def _stand(self, *, still: bool) -> None:
        if still and self._stands_since_ns is None:
            self._stands_since_ns = self._now_ns()
        elif not still and self._stands_since_ns is not None:
            self._stood_ns += self._now_ns() - self._stands_since_ns
            self._stands_since_ns = None

    def _listen(self, wait_s: float) -> None:
        """Wait for frames of the base, in turn where there are several ways."""
        for base, outlet in self._outlets.items():
            for frame in outlet.wait(wait_s / len(self._outlets)):
                self._fleet.hear(frame, base)

    def _wait_s(self, now_ns: int) -> float:
        due_ns = now_ns + SECOND_NS
        ahead_ns = self._ahead_ns
        instants = [radio.due_ns - ahead_ns for radio in self._radios]
        if self._stands_since_ns is None and self._fleet.due_ns is not None:
            instants.append(self._fleet.due_ns)
        due_ns = min([due_ns, *instants])
        wait_s = (due_ns - now_ns) / SECOND_NS / self._speed
        return min(max(wait_s, WAIT_S_MIN), WAIT_S_MAX)
