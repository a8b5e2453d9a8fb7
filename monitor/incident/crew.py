"""Who stays with whom."""

from collections.abc import Iterable, Mapping

from monitor.incident.wearer import Wearer

Crews = Mapping[str, list[Wearer]]
"""Those under air, by crew, each crew in the order of numbers."""


def crews_under_air(wearers: Iterable[Wearer]) -> Crews:
    """Sort those who are under air by crew. Wearers without a crew are left out."""
    crews: dict[str, list[Wearer]] = {}
    for wearer in sorted(wearers, key=lambda w: w.number):
        if wearer.crew and wearer.under_air:
            crews.setdefault(wearer.crew, []).append(wearer)
    return crews


def mates(wearer: Wearer, crews: Crews) -> list[Wearer]:
    """The others of the crew who are under air, by number; nobody without a crew."""
    return [other for other in crews.get(wearer.crew, ()) if other.number != wearer.number]


def give_lead(leader: Wearer, wearers: Iterable[Wearer]) -> None:
    """A crew has one leader: the one named last."""
    for other in wearers:
        if other.crew == leader.crew:
            other.leader = other is leader
