"""What every part of the report needs to say things: times, pressures and people in words. Pure."""

from dataclasses import dataclass

from monitor.incident import units
from monitor.incident.events import Opened
from monitor.incident.picture import FALLING, AirFrom
from monitor.report import words
from monitor.report.alarm_lives import AlarmLife, Spell
from monitor.report.gathering import Gathered
from monitor.report.reading import Told
from monitor.report.wears import Moment, WearRecord

NONE = ""
"""An empty cell: there was none."""


@dataclass(frozen=True, slots=True)
class Teller:
    """A journal that is told in one zone."""

    told: Told
    zone: words.Zone

    @property
    def found(self) -> Gathered:
        """What was gathered."""
        return self.told.gathered

    @property
    def opened(self) -> Opened:
        """The first event."""
        opened = self.told.gathered.opened
        assert opened is not None, "reading refuses a journal without an incident"
        return opened

    @property
    def unit(self) -> str:
        """``bar`` or ``psi``, as the procedure has it."""
        return self.opened.procedure.pressure_unit

    # ------------------------------------------------------------ times

    def clock(self, t: int) -> str:
        """Time of day of an instant of the record."""
        return words.clock(self.found.wall.at(t), self.zone)

    def at(self, t: int | None) -> str:
        """Time of day, with the day where it is not that of the opening; empty for None."""
        if t is None:
            return NONE
        wall = self.found.wall.at(t)
        if words.date(wall, self.zone) == words.date(self.found.wall.at(0), self.zone):
            return words.clock(wall, self.zone)
        return words.moment(wall, self.zone)

    def moment(self, t: int) -> str:
        """Day and time of day."""
        return words.moment(self.found.wall.at(t), self.zone)

    def spell(self, spell: Spell) -> str:
        """From when to when, and how long."""
        length = words.span(spell.length_ns(self.found.end_ns))
        if spell.to_ns is None:
            return f"{self.at(spell.from_ns)}, {length}, goes on where the record ends"
        return f"{self.at(spell.from_ns)} to {self.at(spell.to_ns)}, {length}"

    # ------------------------------------------------------------ figures

    def pressure(self, bar: float | None, source: AirFrom = AirFrom.TELEMETRY) -> str:
        """What is left, cut off; an estimate says so."""
        if bar is None:
            return words.NOT_KNOWN
        figure = f"{units.left(bar, self.unit)} {self.unit}"
        return f"about {figure}, estimate" if source in FALLING else figure

    def limit(self, bar: float | None) -> str:
        """A pressure at which something must be done: never rounded down."""
        return words.NOT_KNOWN if bar is None else f"{units.turn(bar, self.unit)} {self.unit}"

    def left(self, litres: float | None) -> str:
        """Air that is left, cut off."""
        if litres is None:
            return words.NOT_KNOWN
        return f"{units.down(self._volume(litres))} {self._name()}"

    def used(self, litres: float | None) -> str:
        """Air that was used, rounded up."""
        if litres is None:
            return words.NOT_KNOWN
        return f"{units.up(self._volume(litres))} {self._name()}"

    def _volume(self, litres: float) -> float:
        return units.volume(litres, self.opened.procedure.volume_unit)

    def _name(self) -> str:
        return "litres" if self.opened.procedure.volume_unit == "litre" else "cubic feet"

    # ------------------------------------------------------------ who

    def of_moment(self, moment: Moment | None) -> str:
        """When, and the pressure on the board then."""
        if moment is None:
            return words.NOT_RECORDED
        shown = self.pressure(moment.bar, moment.source)
        later = NONE
        if moment.logged_ns != moment.t:
            later = f" (when logged, {self.at(moment.logged_ns)})"
        return f"{self.at(moment.t)}, {shown}{later}"

    def alarms_of(self, wear: WearRecord) -> list[AlarmLife]:
        """Alarms of this wear: those from the wear before on, and of the last all that follow."""
        wears = [other for other in self.found.wears.all if other.number == wear.number]
        before = [w for w in wears if w.nth == wear.nth - 1]
        after = [w for w in wears if w.nth == wear.nth + 1]
        start = before[0].spell.to_ns if before else None
        end = wear.spell.to_ns if after else None
        return [
            life
            for life in self.found.lives.in_order()
            if wear.number in life.wearers
            and (start is None or life.raised_ns > start)
            and (end is None or life.raised_ns <= end)
        ]

    def heard_of(self, wear: WearRecord) -> list[Spell]:
        """Spells of this wear in which nothing was heard of its pack."""
        pack = self.found.links.packs.get(wear.pack or 0)
        if pack is None:
            return []
        start, end = wear.spell.until(self.found.end_ns)
        return [
            Spell(max(start, s.from_ns), s.to_ns if s.to_ns is None else min(end, s.to_ns))
            for s in pack.silences
            if s.from_ns < end and (s.to_ns is None or s.to_ns > start)
        ]

    def name_of(self, wear: WearRecord) -> str:
        """How a wear is called in headings."""
        again = f", wear {wear.nth}" if wear.nth > 1 else ""
        return f"{wear.label} ({wear.number}){again}"
