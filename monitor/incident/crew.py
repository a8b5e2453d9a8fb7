"""Who stays with whom."""

from collections.abc import Iterable, Mapping

from monitor.incident.wearer import Wearer


def mates(wearer: Wearer, wearers: Mapping[int, Wearer]) -> list[Wearer]:
    """The others of the crew who are under air, by number; nobody without a crew."""
    if not wearer.crew:
        return []
    return [
        other
        for number, other in sorted(wearers.items())
        if number != wearer.number and other.crew == wearer.crew and other.under_air
    ]


def give_lead(leader: Wearer, wearers: Iterable[Wearer]) -> None:
    """A crew has one leader: the one named last."""
    for other in wearers:
        if other.crew == leader.crew:
            other.leader = other is leader
