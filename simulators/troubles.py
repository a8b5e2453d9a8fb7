"""The injects of a run: which are due, and which wait until something is so."""

import heapq
from collections.abc import Iterable

from simulators.agenda import seconds
from simulators.injects import ORDERS, Inject, When
from simulators.movement import FOREVER_NS
from simulators.unit import Unit


class Troubles:
    """Each inject comes once; those of one instant in the order of the scenario."""

    def __init__(self, injects: Iterable[Inject]) -> None:
        """Begin with all of them to come."""
        self._timed: list[tuple[int, int, Inject]] = []
        self._waiting: dict[int, list[Inject]] = {}
        self._put = 0
        for inject in injects:
            if inject.when is not None:
                self._waiting.setdefault(inject.when.wearer, []).append(inject)
            else:
                self.put(seconds(inject.at_s or 0.0), inject)

    @property
    def due_ns(self) -> int:
        """When the next one comes that is known to come."""
        return self._timed[0][0] if self._timed else FOREVER_NS

    def put(self, at_ns: int, inject: Inject) -> None:
        """Let one come at an instant, as by an instructor's hand."""
        heapq.heappush(self._timed, (at_ns, self._put, inject))
        self._put += 1

    def sooner(self, now_ns: int, name: str) -> bool:
        """Let the one of this name that is still to come come now. False: there is none."""
        for place, (_, _, inject) in enumerate(self._timed):
            if inject.name == name:
                del self._timed[place]
                heapq.heapify(self._timed)
                self.put(now_ns, inject)
                return True
        for waiting in self._waiting.values():
            for inject in waiting:
                if inject.name == name:
                    waiting.remove(inject)
                    self.put(now_ns, inject)
                    return True
        return False

    def to_come(self) -> list[tuple[int | None, Inject]]:
        """What is still to come, the next first, with when; None: once something is so."""
        timed: list[tuple[int | None, Inject]] = [
            (at_ns, inject) for at_ns, _, inject in sorted(self._timed, key=lambda one: one[:2])
        ]
        waits: list[tuple[int | None, Inject]] = [
            (None, inject) for waiting in self._waiting.values() for inject in waiting
        ]
        return timed + waits

    def take(self) -> Inject:
        """Give the next one."""
        return heapq.heappop(self._timed)[2]

    def look(self, now_ns: int, unit: Unit) -> None:
        """See whether what is waited for is so of this wearer now."""
        waiting = self._waiting.get(unit.plan.wearer)
        if not waiting:
            return
        for inject in [one for one in waiting if one.when is not None and _holds(one.when, unit)]:
            waiting.remove(inject)
            self.put(now_ns + seconds(inject.after_s), inject)


def _holds(when: When, unit: Unit) -> bool:
    if when.under_bar is not None:
        return unit.person.on_air and unit.person.gauge_bar < when.under_bar
    if when.at is not None:
        return unit.person.place == when.at
    assert when.ordered is not None, "a condition has one of the three"
    return unit.ordered is ORDERS[when.ordered]
