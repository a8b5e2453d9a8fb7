"""Turn-back: the gauge pressure at which a crew must start back.

The rules, with ``start`` the pressure at connecting and ``reserve`` what must be left when out:

- half: half of the usable air, ``reserve + (start - reserve) / 2``, wherever the work is;
- thirds: the same, with at least a third of the start as the reserve: one third in, one third
  out, one third kept;
- double: twice the air of the way in for the way back, ``reserve + 2 x way in``. Until the
  objective is reached the way in still grows: the mark is the deepest point from which that can be
  kept, ``(reserve + 2 x start) / 3``;
- fixed: a pressure, or a fraction of rated pressure.

Each is reckoned twice: in bar, as it is done at the door by hand (the bar rule), and in litres of
real gas (the litre rule). **The stricter governs.** Because the first bars of a full cylinder hold
the fewest litres, that is nearly always the bar rule, whose surplus is meant to be kept.

A crew goes the same way together, so with double air the litre rule of each takes the most litres
that any of them used on the way in; in litres, because cylinders differ. Whoever has the least
margin left to their own mark turns the crew.

Pressures are exact here. Whatever shows one rounds it up.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple, Self

from monitor.incident.air import gas
from monitor.incident.air.shown import HIGHEST_RATED_BAR, SMALLEST_CYLINDER_L, Cylinder
from monitor.incident.procedure import Procedure

MARGIN_DIGITS = 2
"""Of a margin, to say whose is the least: nearer ones are alike, and the first of them governs."""
LEGS_MAX = 20
"""Objectives one after another that are kept apart; the two oldest of more become one."""
_WAY_BACK = {"half": 1, "thirds": 1, "double": 2}
"""Air for the way back, as a multiple of the way in."""
_WHY = {
    "half": "half of the usable air",
    "thirds": "a third in, a third out, a third kept",
    "double": "double air for the way back",
}
_WHY_MORE_THAN_A_THIRD = "half of what is above the reserve, more than a third kept"
"""Thirds where the reserve is more than a third of the start: a low fill, or a late warning."""


class Way(NamedTuple):
    """What one wearer's gauge said on the way in. Never changed; each step gives a new one."""

    start_bar: float
    """At connecting."""
    from_bar: float | None
    """Where the present leg began; None: the objective is reached."""
    legs: tuple[tuple[float, float], ...] = ()
    """Legs that are done: pressure at their beginning and end."""
    old_legs: tuple[tuple[float, float, float | None], ...] = ()
    """Those done with cylinders before this one, each with its water volume."""

    @classmethod
    def connected(cls, bar: float) -> Self:
        """Begin the way in."""
        return cls(bar, bar)

    def reached(self, bar: float) -> "Way":
        """The objective is reached: what is breathed from here on is work. Twice is once."""
        if self.from_bar is None:
            return self
        legs = _few((*self.legs, (self.from_bar, min(self.from_bar, bar))))
        return self._replace(from_bar=None, legs=legs)

    def sent_on(self, bar: float) -> "Way":
        """On to a new objective: the way in goes on from here, if it was not going on anyway."""
        return self if self.from_bar is not None else self._replace(from_bar=bar)

    def raised(self, bar: float, slack_bar: float) -> "Way":
        """What was read too low is put right by a higher reading that came after: air only falls.

        The start rises whenever it was under it, another point only where it was so by more than
        ``slack_bar``: gas that warms at rest must not shorten a way.
        """
        start = max(self.start_bar, bar)

        def right(point: float) -> float:
            if point == self.start_bar:
                return start
            return bar if bar > point + slack_bar else point

        from_bar = None if self.from_bar is None else right(self.from_bar)
        legs = tuple((right(begin), right(end)) for begin, end in self.legs)
        return self._replace(start_bar=start, from_bar=from_bar, legs=legs)

    def started_at(self, bar: float) -> "Way":
        """The same way from another pressure at connecting, higher or lower."""

        def right(point: float) -> float:
            return bar if point == self.start_bar else min(point, bar)

        from_bar = None if self.from_bar is None else right(self.from_bar)
        legs = tuple((right(begin), right(end)) for begin, end in self.legs)
        return self._replace(start_bar=bar, from_bar=from_bar, legs=legs)

    def fresh_cylinder(self, last_bar: float, bar: float, volume: float | None = None) -> "Way":
        """Another cylinder was put on at ``bar``; the old one had come down to ``last_bar``.

        What was walked stays walked. ``volume``: water volume of the old one, None: not known.
        """
        legs = ((begin, end, volume) for begin, end in self.reached(last_bar).legs)
        old_legs = _few_old((*self.old_legs, *legs))
        return Way(bar, None if self.from_bar is None else bar, (), old_legs)

    @property
    def lowest_bar(self) -> float:
        """The lowest point of it so far, with this cylinder."""
        points = [self.start_bar, *(end for _, end in self.legs)]
        return min(points if self.from_bar is None else [*points, self.from_bar])


def _few(legs: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
    """At most ``LEGS_MAX``: the oldest become one, with the work between them as way."""
    over = len(legs) - LEGS_MAX
    return legs if over <= 0 else ((legs[0][0], legs[over][1]), *legs[over + 1 :])


def _few_old(
    legs: tuple[tuple[float, float, float | None], ...],
) -> tuple[tuple[float, float, float | None], ...]:
    """The same of cylinders before: the oldest is added to the one after it, in bar of that."""
    while len(legs) > LEGS_MAX:
        (begin, end, volume), (after, to, other) = legs[:2]
        legs = ((after + (begin - end) * _size(volume, other), to, other), *legs[2:])
    return legs


def _size(volume: float | None, other: float | None) -> float:
    """How many times as much a bar of a cylinder is as one of another; unknown: as much."""
    return volume / other if volume and other else 1.0


@dataclass(frozen=True, slots=True)
class Turn:
    """Where one wearer must start back."""

    bar: float
    """On this wearer's gauge; exact."""
    by: Literal["bar rule", "litre rule", "fixed"]
    why: str
    """The rule in words."""
    other_bar: float | None = None
    """What the less strict of bar and litre rule gives; None: there was only one."""


@dataclass(frozen=True, slots=True)
class Member:
    """One of a crew, as far as turning back goes."""

    way: Way | None
    """None: the pressure at connecting is not known."""
    now_bar: float
    cylinder: Cylinder
    rate_l_min: float | None = None
    """What they breathe; None: not known."""
    falling_bar: float | None = None
    """What is thought to be left now, where ``now_bar`` is no present reading."""
    way_in_bar: float | None = None
    """By what the mates reckon this one's way in, where ``now_bar`` is in doubt."""


@dataclass(frozen=True, slots=True)
class CrewTurn:
    """The marks of a crew, in the order of its members."""

    turns: tuple[Turn | None, ...]
    """None: no rule, or what it needs is not known."""
    margins_l: tuple[float | None, ...]
    """Litres of free air from now down to the mark; negative: overrun."""
    governs: int | None
    """Whose margin is the least, from 0; in minutes where all rates are known, else in litres."""


def turn(
    procedure: Procedure, way: Way, cylinder: Cylinder, others_way_in_l: float = 0
) -> Turn | None:
    """Find the mark of one wearer. None: no rule, or what it needs is not known.

    ``others_way_in_l``: the most that any mate has used on the same way in; only for double air,
    the one rule that goes by the way in.
    """
    reserve = procedure.turn_back_reserve_bar
    if reserve is None:
        reserve = cylinder.low_air_bar
    if procedure.turn_back_rule == "none" or reserve is None:
        return None
    if procedure.turn_back_rule == "fixed":
        return _fixed(procedure, cylinder, reserve)
    why = _WHY[procedure.turn_back_rule]
    times = _WAY_BACK[procedure.turn_back_rule]
    if procedure.turn_back_rule == "thirds":
        third = way.start_bar / 3
        if reserve > third:
            why = _WHY_MORE_THAN_A_THIRD
        reserve = max(reserve, third)
    if procedure.turn_back_rule != "double":
        # Fixed at connecting: neither the objective nor what a mate breathes moves these marks.
        way, others_way_in_l = Way.connected(way.start_bar), 0
    by_bar = bar_rule(way, reserve, times, cylinder.water_volume_l)
    by_litre = litre_rule(way, reserve, times, cylinder, others_way_in_l)
    if by_litre is not None and by_litre > by_bar:
        return Turn(by_litre, "litre rule", why, by_bar)
    return Turn(by_bar, "bar rule", why, by_litre)


def bar_rule(way: Way, reserve_bar: float, times: int, volume: float | None = None) -> float:
    """Gauge pressure to turn at, reckoned in bar; ``volume``: water volume of this cylinder."""
    walked = sum(begin - end for begin, end in way.legs)
    walked += sum((begin - end) * _size(old, volume) for begin, end, old in way.old_legs)
    if way.from_bar is None:
        return reserve_bar + times * walked
    return (reserve_bar + times * (walked + way.from_bar)) / (times + 1)


def litre_rule(
    way: Way, reserve_bar: float, times: int, cylinder: Cylinder, others_way_in_l: float = 0
) -> float | None:
    """Gauge pressure to turn at, reckoned in litres of real gas. None without a water volume."""
    volume = cylinder.water_volume_l
    if volume is None:
        return None
    reserve_l = gas.usable_l(reserve_bar, volume, cylinder.temperature_c)
    walked = _walked_l(way, volume, cylinder.temperature_c)
    if way.from_bar is None:
        keep = reserve_l + times * walked
    else:
        begin = gas.usable_l(way.from_bar, volume, cylinder.temperature_c)
        keep = (reserve_l + times * (walked + begin)) / (times + 1)
    keep = max(keep, reserve_l + times * others_way_in_l)
    return gas.gauge_bar(keep, volume, cylinder.temperature_c)


def way_in_l(member: Member) -> float:
    """Litres of free air used on the way in so far. 0 where start or water volume is not known."""
    volume = member.cylinder.water_volume_l
    if member.way is None or volume is None:
        return 0.0
    temperature = member.cylinder.temperature_c
    walked = _walked_l(member.way, volume, temperature)
    if member.way.from_bar is None:
        return walked
    begin = gas.usable_l(member.way.from_bar, volume, temperature)
    now_bar = member.now_bar if member.way_in_bar is None else member.way_in_bar
    return walked + max(0.0, begin - gas.usable_l(now_bar, volume, temperature))


def crew_turn(procedure: Procedure, members: Sequence[Member]) -> CrewTurn:
    """Find the marks of a crew and who turns it: the one with the least margin."""
    used = [way_in_l(member) for member in members]
    second, most = sorted([0.0, 0.0, *used])[-2:]
    turns = tuple(
        None
        if member.way is None
        else turn(
            procedure,
            member.way,
            member.cylinder,
            second if used[place] == most else most,
        )
        for place, member in enumerate(members)
    )
    margins = tuple(
        None if mark is None else _margin_l(member, mark)
        for member, mark in zip(members, turns, strict=True)
    )
    return CrewTurn(turns, margins, _governs(members, margins))


def _governs(members: Sequence[Member], margins: Sequence[float | None]) -> int | None:
    known = {place: margin for place, margin in enumerate(margins) if margin is not None}
    rates = {place: members[place].rate_l_min or 0.0 for place in known}
    if all(rate > 0 for rate in rates.values()):
        known = {place: margin / rates[place] for place, margin in known.items()}
    return min(known, key=lambda place: round(known[place], MARGIN_DIGITS), default=None)


def _margin_l(member: Member, mark: Turn) -> float:
    """The smallest cylinder in use stands for one that is not known."""
    volume = member.cylinder.water_volume_l or SMALLEST_CYLINDER_L
    temperature = member.cylinder.temperature_c
    now_bar = member.now_bar if member.falling_bar is None else member.falling_bar
    left = gas.usable_l(now_bar, volume, temperature)
    return left - gas.usable_l(mark.bar, volume, temperature)


def _walked_l(way: Way, volume: float, temperature_c: float) -> float:
    legs = (*((begin, end, volume) for begin, end in way.legs), *way.old_legs)
    return sum(
        gas.usable_l(begin, old or volume, temperature_c)
        - gas.usable_l(end, old or volume, temperature_c)
        for begin, end, old in legs
    )


def _fixed(procedure: Procedure, cylinder: Cylinder, reserve_bar: float) -> Turn | None:
    bar, why = procedure.turn_back_fixed_bar, "a fixed pressure"
    fraction = procedure.turn_back_fixed_fraction
    if fraction is not None:
        bar, why = (
            fraction * (cylinder.rated_bar or HIGHEST_RATED_BAR),
            f"{fraction * 100:.0f} % of rated pressure",
        )
    if bar is None:
        return None
    return Turn(max(bar, reserve_bar), "fixed", why if bar >= reserve_bar else "the reserve")
