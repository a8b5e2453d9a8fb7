"""The evacuation tone of a virtual pack: the temporal pattern of ISO 8201, as instants.

Three pulses of 0.5 s, 0.5 s apart, then 1.5 s of silence: a cycle of 4.0 s, again and again. It
means "everybody out" and nothing else. The standard allows a tenth to each time; a virtual pack
keeps them exactly.
"""

from collections.abc import Iterator
from dataclasses import dataclass

MS_NS = 1_000_000
PULSE_NS = 500 * MS_NS
APART_NS = 500 * MS_NS
PULSES = 3
PAUSE_NS = 1500 * MS_NS
CYCLE_NS = PULSES * PULSE_NS + (PULSES - 1) * APART_NS + PAUSE_NS


@dataclass(frozen=True, slots=True)
class Tone:
    """A tone that began at an instant, for an order."""

    order: int
    from_ns: int

    def on(self, now_ns: int) -> bool:
        """Whether there is sound at an instant from the beginning on."""
        within_ns = (now_ns - self.from_ns) % CYCLE_NS
        number, into_ns = divmod(within_ns, PULSE_NS + APART_NS)
        return number < PULSES and into_ns < PULSE_NS

    def pulses(self, to_ns: int) -> Iterator[tuple[int, int]]:
        """Give the pulses that begin before ``to_ns``, each from when to when; the last is cut."""
        cycle_ns = self.from_ns
        while cycle_ns < to_ns:
            for number in range(PULSES):
                on_ns = cycle_ns + number * (PULSE_NS + APART_NS)
                if on_ns < to_ns:
                    yield on_ns, min(on_ns + PULSE_NS, to_ns)
            cycle_ns += CYCLE_NS
