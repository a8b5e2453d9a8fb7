"""A part of what a journal tells: some wearers or crews, or a stretch of time. Pure."""

from collections.abc import Collection
from copy import copy
from dataclasses import dataclass, replace

from monitor.incident.picture import OrderView
from monitor.report.alarm_lives import AlarmLife, Spell
from monitor.report.gathering import Gathered
from monitor.report.reading import Told
from monitor.report.wears import WearRecord, Wears


@dataclass(frozen=True, slots=True)
class Part:
    """Whom a report is of, and of when."""

    wearers: Collection[int] = ()
    crews: Collection[str] = ()
    from_ns: int | None = None
    """Incident time; None: from the start."""
    to_ns: int | None = None
    """Incident time, itself included; None: to the end."""
    when: str = ""
    """The stretch in words, as it was asked for; empty: of all the time."""

    @property
    def of_some(self) -> bool:
        """Whether it is of some people alone."""
        return bool(self.wearers or self.crews)

    @property
    def words(self) -> str:
        """As a page says it; empty: of everybody and all the time."""
        numbers = [f"wearer {number}" for number in sorted(self.wearers)]
        some = [*numbers, *(f"crew {crew}" for crew in sorted(self.crews))]
        return ", ".join([*some, *([self.when] if self.when else [])])

    def unknown(self, told: Told) -> str:
        """What of it nobody on the board is; empty: all of it is known."""
        wears = told.gathered.wears
        crews = {person.crew for person in wears.people.values()}
        crews |= {wear.crew for wear in wears.all}
        missing = [f"wearer {n}" for n in sorted(self.wearers) if n not in wears.people]
        missing += [f"crew {crew}" for crew in sorted(self.crews) if crew not in crews]
        return ", ".join(missing)

    def of(self, told: Told) -> Told:
        """The same journal with what is theirs, and of then, alone. A wear is its crew's of then.

        What reaches into the stretch is told whole: a wear, an alarm, an order.
        """
        found = self._at_that_time(told.gathered) if self._some_time else told.gathered
        if self.of_some:
            found = replace(found, wears=self._of_them(found.wears))
        return replace(told, gathered=found)

    # ------------------------------------------------------------ whom

    def _of_them(self, all_wears: Wears) -> Wears:
        wears = copy(all_wears)
        wears.all = [
            wear for wear in wears.all if wear.number in self.wearers or wear.crew in self.crews
        ]
        numbers = {wear.number for wear in wears.all} | set(self.wearers)
        wears.people = {
            number: person
            for number, person in wears.people.items()
            if number in numbers or person.crew in self.crews
        }
        return wears

    # ------------------------------------------------------------ when

    @property
    def _some_time(self) -> bool:
        return self.from_ns is not None or self.to_ns is not None

    def _at_that_time(self, found: Gathered) -> Gathered:
        wears, lives, timeline = copy(found.wears), copy(found.lives), copy(found.timeline)
        wears.all = [wear for wear in wears.all if self._worn(wear)]
        lives.by_number = {
            n: life
            for n, life in lives.by_number.items()
            if self._stood(life) or any(_was_in(wear, life) for wear in wears.all)
        }
        timeline.lines = [line for line in timeline.lines if self._reaches(line.t, line.t)]
        orders = tuple(order for order in found.orders if self._given(order))
        remarks = [said for said in found.remarks if self._reaches(said[0], said[0])]
        corrections = [said for said in found.corrections if self._reaches(said[0], said[0])]
        return replace(
            found, wears=wears, lives=lives, timeline=timeline, orders=orders, remarks=remarks,
            corrections=corrections,
        )  # fmt: skip

    def _reaches(self, from_ns: int, to_ns: int | None) -> bool:
        """Whether a spell reaches into the stretch; ``to_ns`` None: it goes on."""
        ends_before = to_ns is not None and self.from_ns is not None and to_ns < self.from_ns
        return not ends_before and (self.to_ns is None or from_ns <= self.to_ns)

    def _spell(self, spell: Spell) -> bool:
        return self._reaches(spell.from_ns, spell.to_ns)

    def _worn(self, wear: WearRecord) -> bool:
        return self._spell(wear.spell)

    def _stood(self, life: AlarmLife) -> bool:
        return any(map(self._spell, (*life.conditions, *life.lines)))

    def _given(self, order: OrderView) -> bool:
        return self._reaches(order.given_at_ns, order.given_at_ns + order.for_ns)


def _was_in(wear: WearRecord, life: AlarmLife) -> bool:
    """Whether it was raised of that wearer in that stay on air, which is told whole."""
    to_ns = wear.spell.to_ns
    raised = life.raised_ns
    return (
        wear.number in life.wearers
        and raised >= wear.spell.from_ns
        and (to_ns is None or raised <= to_ns)
    )
