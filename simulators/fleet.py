"""A whole scenario in virtual time: every unit and the radio, in one order, from one seed.

``step(to_ns)`` gives what the base's radio hears up to then; ``hear`` lets the packs hear the
base. No clock, no socket, no file: a shell plays it in real time, a test as fast as it likes.
The same scenario, seed, keys and boots give the same bytes, as long as the base says the same at
the same times. With one pack more the others' bytes are the same, and so is what arrives of them;
only on a shared channel does another pack make more collisions.
"""

import heapq
from dataclasses import dataclass

from protocol import codec
from protocol.integrity import Keyring
from protocol.packets import Order
from simulators.air import BASE, Air, Counts, Heading, Passage, count_lines
from simulators.scenario import Scenario
from simulators.unit import NEVER_NS, Unit, seconds, truth_line

NOTES_MAX = 1_000_000
"""Lines of truth held until somebody takes them; beyond it the oldest half is let go."""
COUNTS_NS = 60_000_000_000
"""How often the truth says what the radio has done."""


@dataclass(frozen=True, slots=True)
class OnAir:
    """A frame as the base's radio hears it."""

    t_ns: int
    pack: int
    signal_dbm: int
    frame: bytes


class Fleet:
    """All the packs of a scenario."""

    def __init__(
        self,
        scenario: Scenario,
        seed: int,
        keyring: Keyring | None = None,
        *,
        boots_before: int = 0,
        truth: bool = False,
    ) -> None:
        """``keyring`` None: open packs. ``boots_before`` is added to every boot counter.

        With ``truth``, what really was is noted for ``take_notes``.
        """
        self.now_ns = 0
        self.end_ns = seconds(scenario.length_s)
        self._truth = truth
        self._notes: list[dict[str, object]] = []
        self._next_counts_ns = COUNTS_NS
        self._air = Air(scenario.radio.shared)
        self._units = [
            Unit(
                plan,
                scenario.radio,
                seed,
                keys=keyring.pack_keys(plan.pack, keyring.current_epoch) if keyring else None,
                boots_before=boots_before,
            )
            for plan in scenario.plans()
        ]
        self._numbers = {unit.plan.pack: number for number, unit in enumerate(self._units)}
        self._due = [(unit.due_ns, number) for number, unit in enumerate(self._units)]
        heapq.heapify(self._due)

    @property
    def due_ns(self) -> int | None:
        """When something will happen next; None once nothing ever will."""
        first = min(self._unit_due_ns(), self._air.due_ns)
        return None if first >= NEVER_NS else first

    @property
    def counts(self) -> dict[Heading, Counts]:
        """What the radio has done so far, each way."""
        return self._air.counts

    def step(self, to_ns: int) -> list[OnAir]:
        """Live on to a time, which never goes back; what the base's radio heard, in order."""
        heard: list[OnAir] = []
        while True:
            unit_ns, air_ns = self._unit_due_ns(), self._air.due_ns
            if min(unit_ns, air_ns) > to_ns:
                break
            # What ends at an instant has ended before anything begins at it.
            if air_ns <= unit_ns:
                self._pass(air_ns, heard)
            else:
                self._live(unit_ns)
        self.now_ns = max(self.now_ns, to_ns)
        return heard

    def hear(self, frame: bytes) -> None:
        """Let the base send a frame, now. Packs pass over an order to another pack."""
        packet = codec.decode(frame)
        if isinstance(packet, Order):
            number = self._numbers.get(packet.identity)
            hearers = [] if number is None else [number]
        else:
            hearers = list(range(len(self._units)))
        start_ns, end_ns = self._air.slot(BASE, self.now_ns, frame)
        passages = [
            Passage(
                Heading.DOWN,
                number,
                start_ns,
                self._units[number].channel.down(start_ns, end_ns, frame),
            )
            for number in hearers
            if self._units[number].on
        ]
        self._air.send(start_ns, end_ns, passages)

    def take_notes(self) -> list[dict[str, object]]:
        """Lines for the truth file since the last call."""
        notes, self._notes = self._notes, []
        return notes

    def channel_line(self) -> dict[str, object]:
        """Give what the radio has done so far as one object of the truth file."""
        return {"what": "channel", "t_ns": self.now_ns, **count_lines(self.counts)}

    def _live(self, now_ns: int) -> None:
        """Let the unit that is due now do what it has to, and send."""
        number = heapq.heappop(self._due)[1]
        unit = self._units[number]
        frames, done = unit.step(now_ns)
        for out in frames:
            start_ns, end_ns = self._air.slot(number, now_ns, out.frame)
            fate = unit.channel.up(start_ns, end_ns, out.frame)
            self._air.send(start_ns, end_ns, [Passage(Heading.UP, number, start_ns, fate, out)])
        if self._truth:
            for deed in done:
                self._note(now_ns, unit, "deed", **deed.model_dump(mode="json"))
            if any(not out.copy for out in frames):
                self._keep(truth_line(unit.truth()))
        heapq.heappush(self._due, (unit.due_ns, number))

    def _pass(self, now_ns: int, heard: list[OnAir]) -> None:
        """Let what is in the air now come down at its hearers."""
        settled = self._air.settled(now_ns)
        if self._truth:
            for passage in settled:
                self._note_frame(passage)
            if now_ns >= self._next_counts_ns:
                self._next_counts_ns = now_ns - now_ns % COUNTS_NS + COUNTS_NS
                self._keep({**self.channel_line(), "t_ns": now_ns})
        for at_ns, passage in self._air.arrived(now_ns):
            unit, fate = self._units[passage.unit], passage.fate
            if passage.heading is Heading.UP:
                heard.append(OnAir(at_ns, unit.plan.pack, fate.level_dbm, fate.frame))
            else:
                self._reach(at_ns, passage.unit, fate.frame)

    def _reach(self, now_ns: int, number: int, frame: bytes) -> None:
        """Let one pack hear a frame."""
        unit = self._units[number]
        before_ns = unit.due_ns
        order = unit.hear(now_ns, frame)
        if unit.due_ns < before_ns:
            heapq.heappush(self._due, (unit.due_ns, number))
        if order is not None and self._truth:
            self._note(now_ns, unit, "order", order=order.order, kind=order.what.name)

    def _note_frame(self, passage: Passage) -> None:
        """Note a frame of a pack, whose fate is certain now."""
        out, fate = passage.out, passage.fate
        if out is None:
            return
        more: dict[str, object] = {"lost": fate.lost}
        if fate.lost is None:
            more["signal_dbm"] = fate.level_dbm
            more["arrives_ns"] = fate.arrives_ns
            more["corrupted"] = fate.corrupted
        self._note(
            passage.sent_ns, self._units[passage.unit], "frame", kind=out.kind.name.lower(),
            sequence=out.sequence, copy=out.copy, **more,
        )  # fmt: skip

    def _note(self, t_ns: int, unit: Unit, what: str, **more: object) -> None:
        self._keep({"what": what, "t_ns": t_ns, "pack": unit.plan.pack, **more})

    def _keep(self, note: dict[str, object]) -> None:
        if len(self._notes) >= NOTES_MAX:
            del self._notes[: NOTES_MAX // 2]
        self._notes.append(note)

    def _unit_due_ns(self) -> int:
        """When a unit is due next; lets go of instants that a unit no longer waits for."""
        while self._due and self._due[0][0] != self._units[self._due[0][1]].due_ns:
            heapq.heappop(self._due)
        return self._due[0][0] if self._due else NEVER_NS
