"""From a description to an open link."""

from collections.abc import Callable
from typing import Protocol

from monitor.clock import Clock
from monitor.links.chunk import Address
from monitor.links.guard import Known
from monitor.links.inbox import Inbox
from monitor.links.serial_link import SerialLink
from monitor.links.spec import LinkSpec, UdpSpec
from monitor.links.udp_link import UdpLink


class Link(Protocol):
    """What every link can do, whatever it runs over."""

    number: int
    name: str
    """As a person knows it."""

    @property
    def detail(self) -> str:
        """What to know of it, for a screen."""
        ...

    def send(self, data: bytes, address: Address | None) -> bool:
        """Send without blocking; False if it did not go out."""
        ...

    def system_drops(self) -> int | None:
        """What the system itself threw away since opening; None where it does not tell."""
        ...

    def turn_away(self, now_ns: int, known: Callable[[], Known]) -> int:
        """Have a flood kept back that is not from where packs are known to be; how many since."""
        ...

    def close(self) -> None:
        """Let go of the port."""
        ...


def open_link(number: int, spec: LinkSpec, clock: Clock, inbox: Inbox) -> Link:
    """Open what ``spec`` describes. Raises LinkFailed with what, where and what to do."""
    if isinstance(spec, UdpSpec):
        return UdpLink(number, spec, clock, inbox)
    return SerialLink(number, spec, clock, inbox)
