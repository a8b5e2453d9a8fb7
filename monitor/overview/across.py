"""What no single board can know: somebody on two of them, or gone from one and not come. Pure.

A person is known again by the pack, else by name and call sign as both boards have them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from monitor.incident.picture import Phase, WearerView
from monitor.overview.doors import Door

NOT_HERE = frozenset({Phase.LISTED, Phase.MOVED})
"""Phases in which a board does not watch somebody."""


@dataclass(frozen=True, slots=True)
class OnTwo:
    """Somebody who is under air on two boards: one of them is wrong."""

    doors: tuple[Door, Door]
    wearers: tuple[WearerView, WearerView]


@dataclass(frozen=True, slots=True)
class NotCome:
    """Somebody whom a board has noted as moved, and whom no other watches."""

    door: Door
    wearer: WearerView


def is_same(one: WearerView, other: WearerView) -> bool:
    """Whether both are one person, as far as boards tell."""
    if one.pack is not None and other.pack is not None:
        return one.pack == other.pack
    mine, theirs = ((w.name.casefold(), w.call_sign.casefold()) for w in (one, other))
    return mine == theirs


def on_two(doors: Sequence[Door]) -> Iterator[OnTwo]:
    """Everybody who is under air on two boards."""
    for one, other in combinations(doors, 2):
        for mine in one.picture.wearers:
            for theirs in other.picture.wearers:
                if mine.under_air and theirs.under_air and is_same(mine, theirs):
                    yield OnTwo((one, other), (mine, theirs))


def not_come(doors: Sequence[Door]) -> Iterator[NotCome]:
    """Everybody who was moved from a board and has come to no other."""
    for door in doors:
        others = [w for other in doors if other is not door for w in other.picture.wearers]
        watched = [w for w in others if w.phase not in NOT_HERE]
        for wearer in door.picture.wearers:
            moved = wearer.phase is Phase.MOVED
            if moved and not any(is_same(wearer, one) for one in watched):
                yield NotCome(door, wearer)
