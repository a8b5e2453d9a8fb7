"""The right link for its description."""

import os
from typing import Any

from monitor.links.opening import open_link
from monitor.links.serial_link import SerialLink
from monitor.links.spec import SerialSpec, parse
from monitor.links.udp_link import UdpLink


def test_each_kind(waiting: Any, clock: Any) -> None:
    far, near = os.openpty()
    udp = open_link(1, parse("udp:127.0.0.1:41987"), clock, waiting.inbox)
    line = open_link(2, SerialSpec(os.ttyname(near), 9600), clock, waiting.inbox)
    assert isinstance(udp, UdpLink)
    assert isinstance(line, SerialLink)
    assert (udp.number, line.number) == (1, 2)
    assert udp.name == "udp 127.0.0.1:41987"
    assert "KiB granted" in udp.detail
    assert line.detail == f"8N1, {os.ttyname(near)}"
    assert udp.system_drops() in {0, None}
    assert line.system_drops() is None
    for link in (udp, line):
        link.close()
    os.close(far)
    os.close(near)
