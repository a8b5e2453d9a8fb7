"""A part of what a journal tells: some wearers or crews, with everything that is theirs. Pure."""

from collections.abc import Collection
from copy import copy
from dataclasses import dataclass, replace

from monitor.report.reading import Told


@dataclass(frozen=True, slots=True)
class Part:
    """Whom a report is of."""

    wearers: Collection[int] = ()
    crews: Collection[str] = ()

    @property
    def words(self) -> str:
        """As a page says it; empty: of everybody."""
        numbers = [f"wearer {number}" for number in sorted(self.wearers)]
        return ", ".join([*numbers, *(f"crew {crew}" for crew in sorted(self.crews))])

    def unknown(self, told: Told) -> str:
        """What of it nobody on the board is; empty: all of it is known."""
        wears = told.gathered.wears
        crews = {person.crew for person in wears.people.values()}
        crews |= {wear.crew for wear in wears.all}
        missing = [f"wearer {n}" for n in sorted(self.wearers) if n not in wears.people]
        missing += [f"crew {crew}" for crew in sorted(self.crews) if crew not in crews]
        return ", ".join(missing)

    def of(self, told: Told) -> Told:
        """The same journal with their people and wears alone. A wear is its crew's of then."""
        wears = copy(told.gathered.wears)
        wears.all = [
            wear for wear in wears.all if wear.number in self.wearers or wear.crew in self.crews
        ]
        numbers = {wear.number for wear in wears.all} | set(self.wearers)
        wears.people = {
            number: person
            for number, person in wears.people.items()
            if number in numbers or person.crew in self.crews
        }
        return replace(told, gathered=replace(told.gathered, wears=wears))
