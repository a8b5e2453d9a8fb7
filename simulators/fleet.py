"""A whole drill in virtual time: every unit, in one order, from one seed.

``step(to_ns)`` gives what the base's radio hears up to then; ``hear`` lets the packs hear the
base. No clock, no socket, no file: a shell plays it in real time, a test as fast as it likes.
The same drill, seed, keys and boots give the same bytes, as long as the base says the same at
the same times; a drill with one pack more gives the same bytes for all the others.
"""

import heapq
from dataclasses import dataclass

from protocol.integrity import Keyring
from simulators.drill import Drill
from simulators.pack import Outgoing
from simulators.unit import NEVER_NS, Unit, seconds, truth_line

NOTES_MAX = 1_000_000
"""Lines of truth held until somebody takes them; beyond it the oldest half is let go."""


@dataclass(frozen=True, slots=True)
class OnAir:
    """A frame as the base's radio hears it."""

    t_ns: int
    pack: int
    signal_dbm: int
    frame: bytes


class Fleet:
    """All the packs of a drill."""

    def __init__(
        self,
        drill: Drill,
        seed: int,
        keyring: Keyring | None = None,
        *,
        boots_before: int = 0,
        truth: bool = False,
    ) -> None:
        """``keyring`` None: open packs. ``boots_before`` is added to every boot counter.

        With ``truth``, what really was is noted for ``take_notes``.
        """
        self.drill = drill
        self.now_ns = 0
        self.end_ns = seconds(drill.length_s)
        self.lost_up = 0
        self.sent_up = 0
        self._truth = truth
        self._notes: list[dict[str, object]] = []
        self._units = [
            Unit(
                plan,
                drill.radio,
                seed,
                keys=keyring.pack_keys(plan.pack, keyring.current_epoch) if keyring else None,
                boots_before=boots_before,
            )
            for plan in drill.packs
        ]
        self._due = [(unit.due_ns, number) for number, unit in enumerate(self._units)]
        heapq.heapify(self._due)

    @property
    def due_ns(self) -> int | None:
        """When something will happen next; None once nothing ever will."""
        self._drop_stale()
        first = self._due[0][0] if self._due else NEVER_NS
        return None if first >= NEVER_NS else first

    def step(self, to_ns: int) -> list[OnAir]:
        """Live on to a time, which never goes back; what got through the air, in order."""
        heard: list[OnAir] = []
        while (due_ns := self.due_ns) is not None and due_ns <= to_ns:
            number = heapq.heappop(self._due)[1]
            unit = self._units[number]
            frames, done = unit.step(due_ns)
            for out in frames:
                self._send(unit, due_ns, out, heard)
            if self._truth:
                for deed in done:
                    self._note(due_ns, unit, "deed", **deed.model_dump(mode="json"))
            heapq.heappush(self._due, (unit.due_ns, number))
        self.now_ns = max(self.now_ns, to_ns)
        return heard

    def hear(self, frame: bytes) -> None:
        """Let every pack within reach hear a frame of the base, now."""
        for number, unit in enumerate(self._units):
            if unit.pack is None or not unit.channel.down(self.now_ns):
                continue
            before_ns = unit.due_ns
            order = unit.hear(self.now_ns, frame)
            if unit.due_ns < before_ns:
                heapq.heappush(self._due, (unit.due_ns, number))
            if order is not None and self._truth:
                self._note(self.now_ns, unit, "order", order=order.order, kind=order.what.name)

    def take_notes(self) -> list[dict[str, object]]:
        """Lines for the truth file since the last call."""
        notes, self._notes = self._notes, []
        return notes

    def _send(self, unit: Unit, t_ns: int, out: Outgoing, heard: list[OnAir]) -> None:
        level_dbm = unit.channel.up(t_ns)
        self.sent_up += 1
        if level_dbm is None:
            self.lost_up += 1
        else:
            heard.append(OnAir(t_ns, unit.plan.pack, level_dbm, out.frame))
        if self._truth:
            if not out.copy:
                self._notes.append(truth_line(unit.truth()))
            self._note(
                t_ns, unit, "frame", kind=out.kind.name.lower(), sequence=out.sequence,
                copy=out.copy, signal_dbm=level_dbm,
            )  # fmt: skip

    def _note(self, t_ns: int, unit: Unit, what: str, **more: object) -> None:
        if len(self._notes) >= NOTES_MAX:
            del self._notes[: NOTES_MAX // 2]
        self._notes.append({"what": what, "t_ns": t_ns, "pack": unit.plan.pack, **more})

    def _drop_stale(self) -> None:
        """Let go of instants that a unit no longer waits for."""
        while self._due and self._due[0][0] != self._units[self._due[0][1]].due_ns:
            heapq.heappop(self._due)
