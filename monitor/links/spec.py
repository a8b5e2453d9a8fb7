"""What a person writes for a link, understood: ``udp:[HOST:]PORT`` or ``serial:DEVICE[@BAUD]``."""

from dataclasses import dataclass
from typing import Literal

from monitor.errors import BadUsage

BAUD_DEFAULT = 115_200
BAUD_MAX = 12_000_000
"""More than any adapter runs."""
PORT_MAX = 65_535
FORM = "write udp:PORT, udp:HOST:PORT, udp:[V6-HOST]:PORT or serial:DEVICE@BAUD"


@dataclass(frozen=True, slots=True)
class UdpSpec:
    """A UDP port to listen on. No host: every address of this machine, IPv4 and IPv6."""

    host: str
    port: int
    kind: Literal["udp"] = "udp"

    @property
    def name(self) -> str:
        """As a person knows it."""
        if not self.host:
            return f"udp {self.port}"
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"udp {host}:{self.port}"


@dataclass(frozen=True, slots=True)
class SerialSpec:
    """A serial port, 8 data bits, no parity, one stop bit."""

    device: str
    baud: int
    kind: Literal["serial"] = "serial"

    @property
    def name(self) -> str:
        """As a person knows it."""
        return f"serial {self.device} at {self.baud} baud"


LinkSpec = UdpSpec | SerialSpec


def parse(text: str) -> LinkSpec:
    """Understand ``text``. Raises BadUsage with what is wrong and how it is written."""
    kind, colon, rest = text.strip().partition(":")
    if colon and kind.lower() == "udp":
        return _parse_udp(rest, text)
    if colon and kind.lower() == "serial":
        return _parse_serial(rest, text)
    raise BadUsage("a link is udp or serial", text, FORM)


def _parse_udp(rest: str, text: str) -> UdpSpec:
    host, _, port = rest.rpartition(":")
    if host.startswith("[") and host.endswith("]"):
        host = host[1:-1]
    elif ":" in host:
        raise BadUsage("an IPv6 address stands in square brackets", text, FORM)
    return UdpSpec(host, _number(port, PORT_MAX, "the port", text))


def _parse_serial(rest: str, text: str) -> SerialSpec:
    device, at, baud = rest.rpartition("@")
    if not at:
        device, baud = rest, str(BAUD_DEFAULT)
    if not device:
        raise BadUsage("the serial device is missing", text, FORM)
    return SerialSpec(device, _number(baud, BAUD_MAX, "the baud rate", text))


def _number(digits: str, most: int, what: str, text: str) -> int:
    if not (digits.isascii() and digits.isdigit() and len(digits) <= len(str(most))):
        raise BadUsage(f"{what} is not a number", text, FORM)
    value = int(digits)
    if not 1 <= value <= most:
        raise BadUsage(f"{what} is not between 1 and {most}", text, FORM)
    return value
