"""How a link is written."""

import pytest

from monitor.errors import BadUsage
from monitor.links.spec import SerialSpec, UdpSpec, parse


@pytest.mark.parametrize(
    ("text", "spec", "name"),
    [
        ("udp:41900", UdpSpec("", 41900), "udp 41900"),
        ("udp:127.0.0.1:41900", UdpSpec("127.0.0.1", 41900), "udp 127.0.0.1:41900"),
        ("UDP:[::1]:5000", UdpSpec("::1", 5000), "udp [::1]:5000"),
        (" udp:base.local:1 ", UdpSpec("base.local", 1), "udp base.local:1"),
        (
            "serial:/dev/ttyUSB0",
            SerialSpec("/dev/ttyUSB0", 115_200),
            "serial /dev/ttyUSB0 at 115200 baud",
        ),
        ("serial:/dev/x@9600", SerialSpec("/dev/x", 9600), "serial /dev/x at 9600 baud"),
        ("serial:/dev/a@b@9600", SerialSpec("/dev/a@b", 9600), "serial /dev/a@b at 9600 baud"),
    ],
)
def test_understood(text: str, spec: UdpSpec | SerialSpec, name: str) -> None:
    assert parse(text) == spec
    assert spec.name == name


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("", "udp or serial"),
        ("udp", "udp or serial"),
        ("tcp:1", "udp or serial"),
        ("udp:", "not a number"),
        ("udp:x", "not a number"),
        ("udp:-1", "not a number"),
        ("udp:²", "not a number"),
        ("udp:0", "between 1 and 65535"),
        ("udp:65536", "between 1 and 65535"),
        ("udp:999999", "not a number"),
        ("udp:::1:41900", "square brackets"),
        ("serial:", "missing"),
        ("serial:@9600", "missing"),
        ("serial:/dev/x@", "not a number"),
        ("serial:/dev/x@0", "between 1 and"),
    ],
)
def test_refused_in_plain_words(text: str, what: str) -> None:
    with pytest.raises(BadUsage, match=what) as caught:
        parse(text)
    assert caught.value.where == text
    assert "udp:PORT" in caught.value.to_do
