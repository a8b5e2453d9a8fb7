"""Which lines the list of wearers has when there are more wearers than lines. Pure.

Wearers stand by crew in the order in which they were checked in, and never move; each crew has a
line of its own above them. When lines run out, quiet ones give way in fixed steps, each only as far
as needed:

1. a quiet crew folds to its own line: crews not under air first, then from the last checked in;
2. quiet mates of crews with something abnormal fold into their crew's line;
3. folded crews join one line at the end, ``+ 4 quiet crews``, the emergency crew last;
4. the lines of crews with something abnormal, and all quiet mates, join that line too.

An abnormal or selected wearer keeps a line. Only if there are more of those than lines do the
least urgent give way, and the last line says how many and that the window is too small.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import Enum, auto

from monitor.incident.picture import Picture, Priority, Signal, WearerView

LISTED_CREW_MIN = 2
"""Somebody alone has all that a crew's line would say on their own."""


class Kind(Enum):
    """What a line of the list stands for."""

    WEARER = auto()
    CREW = auto()
    """A crew: all of it, and those of it who have no line of their own."""
    REST = auto()
    """Everything quiet that has no line of its own."""
    TOO_MANY = auto()
    """Abnormal wearers for whom the window is too small."""


@dataclass(frozen=True, slots=True)
class Item:
    """One line to be drawn."""

    kind: Kind
    wearers: tuple[WearerView, ...]
    crews: int = 0
    """Whole crews in a ``REST`` line."""
    shown: tuple[WearerView, ...] = ()
    """Of a ``CREW``: those who have a line of their own below."""


@dataclass(slots=True)
class _Crew:
    name: str
    wearers: list[WearerView]
    kept: list[WearerView]
    """Abnormal or selected: they keep a line."""

    @property
    def quiet(self) -> bool:
        return not self.kept

    @property
    def under_air(self) -> bool:
        return any(wearer.under_air for wearer in self.wearers)

    @property
    def has_line(self) -> bool:
        return bool(self.name) and len(self.wearers) >= LISTED_CREW_MIN

    def head(self, shown: Sequence[WearerView]) -> list[Item]:
        """The crew's own line, if it has one; ``shown``: who has a line below."""
        hidden = tuple(w for w in self.wearers if w not in shown)
        return [Item(Kind.CREW, hidden, shown=tuple(shown))] if self.has_line else []


_QUIET_SIGNALS = frozenset({Signal.NONE, Signal.NEVER, Signal.HEARD, Signal.SIGNED_OFF})


def is_abnormal(wearer: WearerView) -> bool:
    """Tell whether this wearer must never fold away: any alarm, doubt of signal, mate in danger."""
    if wearer.priority is not None or wearer.crew_alarm:
        return True
    return wearer.under_air and wearer.signal not in _QUIET_SIGNALS


def by_crew(wearers: Iterable[WearerView], selected: frozenset[int]) -> list[_Crew]:
    """Crews in the order of their first wearer; a wearer without a crew is one alone."""
    crews: dict[str, _Crew] = {}
    for wearer in wearers:
        key = wearer.crew or f"\0{wearer.wearer}"
        crew = crews.setdefault(key, _Crew(wearer.crew, [], []))
        crew.wearers.append(wearer)
        if wearer.wearer in selected or is_abnormal(wearer):
            crew.kept.append(wearer)
    return list(crews.values())


def items(picture: Picture, lines: int, selected: frozenset[int], *, by_time: bool) -> list[Item]:
    """Give the lines of the list, at most ``lines`` of them."""
    if lines <= 0:
        return []
    if by_time:
        return _by_time(picture, lines, selected)
    standby = {one.crew for one in picture.emergency}
    return _folded(by_crew(picture.wearers, selected), lines, standby)


def _folded(crews: list[_Crew], lines: int, standby: set[str]) -> list[Item]:
    order = sorted(
        (i for i, crew in enumerate(crews) if crew.quiet),
        key=lambda i: (crews[i].name in standby, crews[i].under_air, -i),
    )
    shown = {i: list(crew.wearers) for i, crew in enumerate(crews)}
    need = sum(len(crew.wearers) + crew.has_line for crew in crews)
    for i in order:
        if need <= lines:
            break
        if crews[i].has_line:
            need -= len(crews[i].wearers)
            shown[i] = []
    for i in reversed(range(len(crews))):
        if need <= lines:
            break
        if crews[i].kept and crews[i].has_line:
            need -= len(crews[i].wearers) - len(crews[i].kept)
            shown[i] = crews[i].kept
    if need <= lines:
        return _drawn(crews, shown, set())
    rest: set[int] = set()
    need += 1  # the line of the rest
    for i in order:
        if need <= lines:
            break
        need -= 1
        rest.add(i)
    if need <= lines:
        return _drawn(crews, shown, rest)
    kept = [wearer for crew in crews for wearer in crew.kept]
    if len(kept) + 1 <= lines:
        return _kept_alone(crews, kept, rest)
    return _too_many(kept, [w for crew in crews for w in crew.wearers], lines)


def _drawn(crews: list[_Crew], shown: dict[int, list[WearerView]], rest: set[int]) -> list[Item]:
    lines: list[Item] = []
    away: list[WearerView] = []
    for i, crew in enumerate(crews):
        if i in rest:
            away += crew.wearers
        else:
            lines += crew.head(shown[i])
            lines += [Item(Kind.WEARER, (w,)) for w in shown[i]]
    return [*lines, Item(Kind.REST, tuple(away), crews=len(rest))] if away else lines


def _kept_alone(crews: list[_Crew], kept: list[WearerView], rest: set[int]) -> list[Item]:
    """The abnormal alone have lines; all others are one."""
    away = tuple(w for crew in crews for w in crew.wearers if w not in kept)
    lines = [Item(Kind.WEARER, (w,)) for w in kept]
    return [*lines, Item(Kind.REST, away, crews=len(rest))] if away else lines


def _urgency(wearer: WearerView) -> tuple[int, bool, int]:
    priority = wearer.priority or Priority.NOTICE + 1
    return int(priority), wearer.acknowledged, -wearer.state_for_ns


def _too_many(kept: list[WearerView], everybody: Sequence[WearerView], lines: int) -> list[Item]:
    shown = {w.wearer for w in sorted(kept, key=_urgency)[: lines - 1]}
    here = [Item(Kind.WEARER, (w,)) for w in everybody if w.wearer in shown]
    return [*here, Item(Kind.TOO_MANY, tuple(w for w in everybody if w.wearer not in shown))]


def least_time_first(wearer: WearerView) -> tuple[bool, float, float, int]:
    """Order by time to the next mark, under air first; unknown air counts as none.

    Those of whom no time is told come after the others, by the air they have.
    """
    air = wearer.air
    seconds = -math.inf if air.pressure_bar is None else math.inf
    if air.next is not None:
        seconds = air.next.seconds
    return not wearer.under_air, seconds, air.contents_l or 0.0, wearer.wearer


def _by_time(picture: Picture, lines: int, selected: frozenset[int]) -> list[Item]:
    order = sorted(picture.wearers, key=least_time_first)
    if len(order) <= lines:
        return [Item(Kind.WEARER, (w,)) for w in order]
    keep: Callable[[WearerView], bool] = lambda w: w.wearer in selected or is_abnormal(w)  # noqa: E731
    kept = [w for w in order if keep(w)]
    if len(kept) + 1 > lines:
        return _too_many(kept, order, lines)
    room = lines - 1 - len(kept)
    shown: list[Item] = []
    away: list[WearerView] = []
    for wearer in order:
        if keep(wearer):
            shown.append(Item(Kind.WEARER, (wearer,)))
        elif room > 0:
            room -= 1
            shown.append(Item(Kind.WEARER, (wearer,)))
        else:
            away.append(wearer)
    return [*shown, Item(Kind.REST, tuple(away))]
