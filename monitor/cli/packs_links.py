"""Ways of virtual packs to a base, and their keys, as a command line names them."""

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.errors import BadUsage, LinkFailed

if TYPE_CHECKING:
    from protocol.integrity import Keyring
    from simulators.outlets import Outlet

DEFAULT_LINK = "udp:41901"
"""Where an exercise listens if nothing else is said; a real incident never listens there."""


def open_outlets(args: argparse.Namespace, count: int) -> "list[Outlet]":
    """Open a way to the base for each base radio; one link that is said serves them all.

    Raises BadUsage or LinkFailed.
    """
    links = args.links or [DEFAULT_LINK]
    if len(links) not in (1, count):
        raise BadUsage(
            f"the scenario has {count} base radio{'s' if count > 1 else ''}",
            f"{len(links)} times --link", "one --link for all, or one for each",
        )  # fmt: skip
    outlets: list[Outlet] = []
    try:
        for number in range(count):
            link = links[number % len(links)]
            if number and link.startswith("serial:"):
                link = f"{links[0]}.{number + 1}" if len(links) == 1 else link
            outlets.append(open_outlet(link, beyond_this_machine=args.beyond_this_machine))
    except (BadUsage, LinkFailed):
        for outlet in outlets:
            outlet.close()
        raise
    return outlets


def open_outlet(link: str, *, beyond_this_machine: bool) -> "Outlet":
    """Open what ``--link`` names. Raises BadUsage or LinkFailed."""
    from simulators.outlets import OutletFault, PortOutlet, SerialOutlet, UdpOutlet

    kind, _, rest = link.partition(":")
    try:
        device, _, baud = rest.rpartition("@")
        if kind == "serial" and device and baud.isascii() and baud.isdigit():
            return PortOutlet(device, int(baud))
        if kind == "serial":
            return SerialOutlet(Path(rest) if rest else None)
        if kind == "udp":
            host, _, port = rest.rpartition(":")
            host = host.removeprefix("[").removesuffix("]") or "127.0.0.1"
            if port.isascii() and port.isdigit():
                return UdpOutlet(host, int(port), beyond_this_machine=beyond_this_machine)
    except OutletFault as fault:
        raise LinkFailed(fault.what, fault.where, fault.to_do) from None
    raise BadUsage(
        "no such link", link, "udp:[HOST:]PORT, serial, serial:NAME or serial:DEVICE@BAUD"
    )


def keyring_of(path: str | None) -> "Keyring | None":
    """Read the keys of virtual packs; no file: open. Raises BadFile, BadUsage."""
    from monitor import keyfile

    if not path:
        return None
    keyring = keyfile.load(Path(path))
    if keyring.use != "exercise":
        raise BadUsage("this takes an exercise key only", path, "make one: outby keys")
    return keyring
