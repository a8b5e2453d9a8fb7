import os
import select
import socket
import tty
from pathlib import Path

import pytest

from protocol.framing import Splitter, wrap
from simulators.outlets import OutletFault, PortOutlet, SerialOutlet, UdpOutlet

FRAME = bytes(range(1, 45))


def read(fd: int, timeout_s: float = 1.0) -> bytes:
    select.select([fd], [], [], timeout_s)
    return os.read(fd, 4096)


# ---------------------------------------------------------------- UDP


def test_udp_frames_go_out_and_answers_come_back() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as base:
        base.bind(("127.0.0.1", 0))
        outlet = UdpOutlet("127.0.0.1", base.getsockname()[1])
        outlet.send(FRAME)
        data, address = base.recvfrom(300)
        assert data == FRAME
        base.sendto(b"beacon", address)
        base.sendto(b"order", address)
        assert outlet.wait(1.0) == [b"beacon", b"order"]
        assert outlet.wait(0.0) == []
        assert outlet.dropped == 0
        outlet.close()


def test_udp_without_a_base_is_no_fault() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as nobody:
        nobody.bind(("127.0.0.1", 0))
        port = nobody.getsockname()[1]
    outlet = UdpOutlet("127.0.0.1", port)
    for _ in range(4):
        outlet.send(FRAME)
        assert outlet.wait(0.01) == []
    outlet.close()


def test_udp_stays_on_this_machine_unless_told() -> None:
    with pytest.raises(OutletFault, match="kept on this machine"):
        UdpOutlet("192.0.2.1", 41900)
    outlet = UdpOutlet("192.0.2.1", 41900, beyond_this_machine=True)
    assert outlet.name == "udp:192.0.2.1:41900"
    outlet.close()


@pytest.mark.parametrize(("host", "port"), [("127.0.0.1", 0), ("127.0.0.1", 70_000)])
def test_udp_that_cannot_be(host: str, port: int) -> None:
    with pytest.raises(OutletFault, match="no such port"):
        UdpOutlet(host, port)


# ---------------------------------------------------------------- serial


def test_serial_is_lost_while_nobody_has_the_port_open() -> None:
    outlet = SerialOutlet()
    outlet.send(FRAME)
    assert outlet.dropped == 1
    assert outlet.wait(0.0) == []
    outlet.close()


def test_serial_frames_go_both_ways_and_survive_a_pull(tmp_path: Path) -> None:
    link = tmp_path / "packs"
    outlet = SerialOutlet(link)
    assert outlet.name == f"serial:{link}"
    for _ in range(2):
        port = os.open(link, os.O_RDWR | os.O_NOCTTY)
        tty.setraw(port)
        outlet.send(FRAME)
        assert Splitter().feed(read(port)) == [FRAME]
        os.write(port, b"\x05rubbish\x00" + wrap(b"\x00order\x00"))
        assert outlet.wait(1.0)[-1] == b"\x00order\x00"
        os.close(port)
        before = outlet.dropped
        outlet.send(FRAME)
        assert outlet.dropped == before + 1
    outlet.close()
    assert not link.is_symlink()


def test_serial_never_waits_for_a_base_that_does_not_read() -> None:
    outlet = SerialOutlet()
    port = os.open(outlet.name.removeprefix("serial:"), os.O_RDWR | os.O_NOCTTY)
    for _ in range(5000):
        outlet.send(FRAME)
    # What a pseudo-terminal holds, a few hundred frames, was sent; the rest was dropped.
    assert 1000 < outlet.dropped < 5000
    os.close(port)
    outlet.close()


def test_a_name_left_behind_is_taken_and_one_in_use_is_not(tmp_path: Path) -> None:
    link = tmp_path / "packs"
    link.symlink_to(tmp_path / "gone")
    SerialOutlet(link).close()
    link.write_text("a file of somebody's")
    with pytest.raises(OutletFault, match="File exists"):
        SerialOutlet(link)
    assert link.read_text() == "a file of somebody's"


def test_a_port_of_the_machine_carries_frames_both_ways() -> None:
    # A pseudo-terminal stands for the port and its cable.
    ours, theirs = os.openpty()
    outlet = PortOutlet(os.ttyname(theirs), 115_200)
    try:
        outlet.send(b"\x01\x00\x02")
        assert os.read(ours, 100) == wrap(b"\x01\x00\x02")
        os.write(ours, wrap(b"answer"))
        assert outlet.wait(1.0) == [b"answer"]
        assert outlet.wait(0.0) == []
    finally:
        outlet.close()
        os.close(theirs)
        os.close(ours)
    outlet.send(b"lost")
    assert outlet.dropped == 1
    assert outlet.wait(0.0) == []


def test_a_port_that_is_not_there_is_said() -> None:
    with pytest.raises(OutletFault, match="the port cannot be opened"):
        PortOutlet("/dev/no-such-port", 115_200)
