"""Where a broker is and how one gets there: what is allowed, before anything is sent. Pure."""

import ipaddress
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from monitor.errors import BadUsage

PLAIN, PROTECTED = "nats", "tls"
PORT = 4222
HOSTS_MAX = 5
"""Brokers of a cluster; any of them leads to the others."""
UNPROTECTED = "UNPROTECTED"
"""Said wherever the state of a relay or mirror is, that goes over a network in the open."""


@dataclass(frozen=True, slots=True)
class Address:
    """One broker, or several of one cluster."""

    hosts: tuple[tuple[str, int], ...]
    """Host and port of each; the first that answers is used."""
    tls: bool
    ca: Path | None = None
    """Certificates of whoever vouches for the broker; None: those that the system trusts."""
    certificate: Path | None = None
    key: Path | None = None
    """This side's own certificate and its key, where the broker asks for one."""
    login: Path | None = None
    """A file of two lines: user, password."""

    @property
    def urls(self) -> tuple[str, ...]:
        """As the client wants them, without any secret."""
        scheme = PROTECTED if self.tls else PLAIN
        named = ((f"[{host}]" if ":" in host else host, port) for host, port in self.hosts)
        return tuple(f"{scheme}://{host}:{port}" for host, port in named)

    @property
    def is_open(self) -> bool:
        """Whether anybody on the way can read and change what is sent."""
        return not self.tls and not all(is_this_machine(host) for host, _ in self.hosts)

    def __str__(self) -> str:
        """Say it, with the caution where one is due."""
        said = ", ".join(self.urls)
        return f"{said} {UNPROTECTED}" if self.is_open else said


def is_this_machine(host: str) -> bool:
    """Whether what is sent there never leaves this machine: RFC 1122, 4291, 6761 (localhost)."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def address_of(
    said: str,
    *,
    ca: Path | None = None,
    certificate: Path | None = None,
    key: Path | None = None,
    login: Path | None = None,
    unprotected: bool = False,
) -> Address:
    """Read what was said, with commas between several. Raises BadUsage.

    That is: no address, a secret in it, some with TLS and some without, or an open way.
    """
    parts = [part.strip() for part in said.split(",")]
    if len(parts) > HOSTS_MAX:
        raise BadUsage(f"more than {HOSTS_MAX} brokers", "--broker", "name some of the cluster")
    found = [_host(part) for part in parts]
    tls = found[0][0] == PROTECTED
    if len({scheme for scheme, _, _ in found}) > 1:
        raise BadUsage("some with TLS, some without", said, "say the same of all")
    if not tls and (ca or certificate or key):
        raise BadUsage("certificates, but no TLS", said, "say tls:// instead of nats://")
    if (certificate is None) != (key is None):
        what = "a certificate and its key belong together"
        raise BadUsage(what, "--certificate and --private-key", "give both")
    hosts = tuple((host, port) for _, host, port in found)
    address = Address(hosts, tls, ca, certificate, key, login)
    if address.is_open and not unprotected:
        what = "a broker beyond this machine, without TLS: journals tell of people"
        to_do = "say tls://, or --unprotected if the network itself is protected"
        raise BadUsage(what, said, to_do)
    return address


def _host(url: str) -> tuple[str, str, int]:
    """Scheme, host and port of one."""
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
    return found.scheme, host, port
