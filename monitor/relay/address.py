"""Where a broker is and how one gets there: what is allowed, before anything is sent. Pure."""

import ipaddress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from monitor.errors import BadUsage

PLAIN, PROTECTED = "nats", "tls"
PORT = 4222
PORT_MAX = 65_535
UNPROTECTED = "UNPROTECTED"
"""Said wherever the state of a relay or mirror is, that goes over a network in the open."""


@dataclass(frozen=True, slots=True)
class Address:
    """One broker."""

    host: str
    port: int
    tls: bool
    ca: Path | None = None
    """Certificates of whoever vouches for the broker; None: those that the system trusts."""
    certificate: Path | None = None
    key: Path | None = None
    """This side's own certificate and its key, where the broker asks for one."""
    login: Path | None = None
    """A file of two lines: user, password."""

    @property
    def url(self) -> str:
        """As the client wants it, without any secret."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        return f"{PROTECTED if self.tls else PLAIN}://{host}:{self.port}"

    @property
    def is_open(self) -> bool:
        """Whether anybody on the way can read and change what is sent."""
        return not self.tls and not is_this_machine(self.host)

    def __str__(self) -> str:
        """Say it, with the caution where one is due."""
        return f"{self.url} {UNPROTECTED}" if self.is_open else self.url


def is_this_machine(host: str) -> bool:
    """Whether what is sent there never leaves this machine: RFC 1122, 4291, 6761 (localhost)."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def address_of(
    url: str,
    *,
    ca: Path | None = None,
    certificate: Path | None = None,
    key: Path | None = None,
    login: Path | None = None,
    unprotected: bool = False,
) -> Address:
    """Read what was said. Raises BadUsage: no address, a secret in it, or an open way to it."""
    try:
        found = urlsplit(url if "://" in url else f"{PLAIN}://{url}")
        host, port = found.hostname, found.port or PORT
    except ValueError as error:
        raise BadUsage(f"no address of a broker ({error})", "--broker", "as tls://HOST") from None
    rest = found.path.strip("/") or found.query or found.fragment
    if found.scheme not in {PLAIN, PROTECTED} or not host or rest:
        raise BadUsage("no address of a broker", url, "as tls://HOST:4222 or nats://127.0.0.1")
    if found.username is not None or found.password is not None:
        what = "a command line can be read by everybody on the machine"
        raise BadUsage(what, "--broker", "put user and password into a file: --login FILE")
    tls = found.scheme == PROTECTED
    if not tls and (ca or certificate or key):
        raise BadUsage("certificates, but no TLS", url, "say tls:// instead of nats://")
    if (certificate is None) != (key is None):
        what = "a certificate and its key belong together"
        raise BadUsage(what, "--certificate and --private-key", "give both")
    address = Address(host, port, tls, ca, certificate, key, login)
    if address.is_open and not unprotected:
        what = "a broker beyond this machine, without TLS: journals tell of people"
        raise BadUsage(what, url, "say tls://, or --unprotected if the network itself is protected")
    return address
