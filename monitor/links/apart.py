"""Exercise and real kept apart: which links an incident may use. Pure.

A link that is set up for the one use is never opened for the other, whoever asks: an exercise
neither hears live packs nor sends them orders, and no virtual pack is heard at a real incident.
"""

from collections.abc import Sequence
from fnmatch import fnmatchcase

from monitor.errors import BadUsage
from monitor.links.spec import LinkSpec, SerialSpec, UdpSpec, parse
from monitor.settings import Settings

OTHER = {"exercise": "real", "real": "exercise"}
_WORDS = {"exercise": "exercises", "real": "real incidents"}


def chosen_links(settings: Settings, use: str) -> Sequence[str]:
    """Give the links of an incident of this use as they are written."""
    own = settings.real_links if use == "real" else settings.exercise_links
    return settings.links or own


def links_of(settings: Settings, use: str) -> list[LinkSpec]:
    """Give the links of an incident of this use: those said, else those set up for it.

    Raises BadUsage for one that is set up for the other use, or is not written as links are.
    """
    others = settings.exercise_links if use == "real" else settings.real_links
    chosen = chosen_links(settings, use)
    kept: Sequence[LinkSpec] = [parse(text) for text in others]
    specs = [parse(text) for text in chosen]
    for spec, text in zip(specs, chosen, strict=True):
        if any(meet(spec, other) for other in kept):
            setting = f"{OTHER[use]}_links"
            raise BadUsage(
                f"that link is for {_WORDS[OTHER[use]]} only",
                text,
                f"name another, or take it out of the setting {setting}",
            )
    return specs


def meet(one: LinkSpec, other: LinkSpec) -> bool:
    """Whether both could be the same port: no host is every address, a device may be a pattern."""
    if isinstance(one, UdpSpec) and isinstance(other, UdpSpec):
        hosts = {one.host.casefold(), other.host.casefold()}
        return one.port == other.port and (len(hosts) == 1 or "" in hosts)
    if isinstance(one, SerialSpec) and isinstance(other, SerialSpec):
        devices = one.device, other.device
        return fnmatchcase(*devices) or fnmatchcase(*reversed(devices))
    return False
