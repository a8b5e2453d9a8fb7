"""The base's own radio: wraps what it hears in an envelope, and beats once a second.

The envelope tells the level of the signal; the beat tells that the radio is alive when no pack
speaks. Pulled off its line it does neither. Pure: time is the run's.
"""

from collections.abc import Callable, Iterable

from protocol import codec
from protocol.packets import Beat, Envelope
from simulators.fleet import OnAir

BEAT_NS = 1_000_000_000
MS_NS = 1_000_000


class BaseRadio:
    """Turns what is on the air into what goes down the wire to the base."""

    def __init__(
        self, radio: int = 1, plugged: Callable[[int, int], bool] = lambda _radio, _t_ns: True
    ) -> None:
        """Start its clock with the run. ``plugged`` tells of a radio and a time whether it is."""
        self.radio = radio
        self._plugged = plugged
        self.heard = 0
        self._next_beat_ns = 0

    def frames(self, air: Iterable[OnAir], to_ns: int) -> list[bytes]:
        """Frames for the wire, up to a time: envelopes with beats between, in order.

        Of ``air`` it passes over what another base radio hears.
        """
        return [frame for _, frame in self.stamped(air, to_ns)]

    def stamped(self, air: Iterable[OnAir], to_ns: int) -> list[tuple[int, bytes]]:
        """Give the same, each with when it goes down the wire."""
        wire: list[tuple[int, bytes]] = []
        for sent in air:
            if sent.base != self.radio:
                continue
            self._beat_until(sent.t_ns, wire)
            self.heard += 1
            envelope = Envelope(self.radio, sent.signal_dbm, sent.t_ns // MS_NS, sent.frame)
            wire.append((sent.t_ns, codec.encode(envelope, None)))
        self._beat_until(to_ns, wire)
        return wire

    @property
    def due_ns(self) -> int:
        """When it will beat next."""
        return self._next_beat_ns

    def _beat_until(self, to_ns: int, wire: list[tuple[int, bytes]]) -> None:
        while self._next_beat_ns <= to_ns:
            if self._plugged(self.radio, self._next_beat_ns):
                beat = Beat(self.radio, self._next_beat_ns // MS_NS, self.heard)
                wire.append((self._next_beat_ns, codec.encode(beat, None)))
            self._next_beat_ns += BEAT_NS
