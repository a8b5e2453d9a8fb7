"""A real pty: what is written to one end is read at the other. It shows nothing of a UART."""

import os
import tty
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from monitor.errors import LinkFailed
from monitor.links.chunk import Chunk, LinkDown
from monitor.links.serial_link import SENDS_WAITING_MAX, SerialLink
from monitor.links.spec import SerialSpec


class Pty:
    """Both ends of a pty; a test holds the far one."""

    def __init__(self) -> None:
        self.far, near = os.openpty()
        tty.setraw(self.far)
        self.device = os.ttyname(near)
        self._near = near

    def hang_up(self) -> None:
        """Pull the plug."""
        for fd in (self.far, self._near):
            if fd >= 0:
                os.close(fd)
        self.far = self._near = -1


@pytest.fixture
def pty() -> Iterator[Pty]:
    made = Pty()
    yield made
    made.hang_up()


@pytest.fixture
def open_serial(waiting: Any, clock: Any, pty: Pty) -> Iterator[Callable[[], SerialLink]]:
    made: list[SerialLink] = []

    def make() -> SerialLink:
        made.append(SerialLink(2, SerialSpec(pty.device, 115_200), clock, waiting.inbox))
        return made[-1]

    yield make
    for link in made:
        link.close()


def test_bytes_come_in_order_with_stamps(
    open_serial: Callable[[], SerialLink], waiting: Any, pty: Pty, clock: Any
) -> None:
    open_serial()
    sent = bytes(range(256)) * 20
    os.write(pty.far, sent)
    assert waiting.stream(len(sent)) == sent
    assert {(i.link, i.source) for i in waiting.items} == {(2, None)}
    assert {i.stamp.boot_ns for i in waiting.items} == {clock.now_boot_ns}
    assert len(waiting.items) < len(sent)


def test_what_is_sent_arrives(open_serial: Callable[[], SerialLink], pty: Pty) -> None:
    link = open_serial()
    assert link.send(b"\x00order\xff\x00")
    assert os.read(pty.far, 100) == b"\x00order\xff\x00"


def test_a_pulled_plug_is_told_once_and_nothing_spins(
    open_serial: Callable[[], SerialLink], waiting: Any, pty: Pty, clock: Any
) -> None:
    link = open_serial()
    os.write(pty.far, b"last")
    assert waiting.stream(4) == b"last"
    pty.hang_up()
    items = waiting.until(lambda items: isinstance(items[-1], LinkDown))
    assert (items[-1].link, items[-1].stamp) == (2, clock.stamp())
    assert items[-1].reason
    link._threads[0].join(5)
    link._threads[1].join(5)
    assert not any(thread.is_alive() for thread in link._threads)
    assert sum(isinstance(i, LinkDown) for i in items + waiting.inbox.take()) == 1
    assert not link.send(b"x")


def test_a_port_that_came_back_is_opened_by_a_new_link_of_the_same_number(
    open_serial: Callable[[], SerialLink], waiting: Any, pty: Pty
) -> None:
    first = open_serial()
    first.close()
    open_serial()
    os.write(pty.far, b"again")
    assert waiting.stream(5) == b"again"


def test_a_line_that_takes_nothing_never_blocks_the_sender_nor_the_reading(
    open_serial: Callable[[], SerialLink], waiting: Any, pty: Pty
) -> None:
    link = open_serial()
    taken = 0
    # A pty holds about 20 kB for a far end that does not read; then the queue fills.
    while link.send(bytes(4096)):
        taken += 1
        assert taken < 10 * SENDS_WAITING_MAX
    os.write(pty.far, b"heard all the same")
    assert waiting.stream(18) == b"heard all the same"
    assert not any(isinstance(i, LinkDown) for i in waiting.items)


def test_what_a_stuck_line_has_not_taken_is_given_up_and_never_sent_late(
    waiting: Any, clock: Any, pty: Pty
) -> None:
    spec = SerialSpec(pty.device, 115_200)
    link = SerialLink(2, spec, clock, waiting.inbox, write_wait_s=0.05)
    sent = 0
    while link.send(b"late" * 1024):
        sent += 1
    while not (link.sends_given_up and link._sends.empty()):
        # Real time must pass here; the pause only saves the machine.
        waiting.woken.wait(0.01)
    held = os.read(pty.far, 1 << 20)
    assert 0 < len(held) < sent * 4096
    while link._sends.full() or not link.send(b"new"):
        os.read(pty.far, 1 << 20)
    seen = b""
    while b"new" not in seen:
        seen = seen[-2:] + os.read(pty.far, 1 << 20)
    link.close()


def test_a_busy_port(open_serial: Callable[[], SerialLink], pty: Pty) -> None:
    open_serial()
    with pytest.raises(LinkFailed, match="in use") as caught:
        open_serial()
    assert caught.value.where == f"serial {pty.device} at 115200 baud"


def test_a_pattern_finds_the_port_under_another_name(
    waiting: Any, clock: Any, tmp_path: Path
) -> None:
    spec = SerialSpec(str(tmp_path / "usb*"), 115_200)
    with pytest.raises(LinkFailed, match="no such port"):
        SerialLink(1, spec, clock, waiting.inbox)
    first, second = Pty(), Pty()
    (tmp_path / "usb0").symlink_to(first.device)
    link = SerialLink(1, spec, clock, waiting.inbox)
    assert link.detail == f"8N1, {tmp_path / 'usb0'}"
    first.hang_up()
    waiting.until(lambda items: any(isinstance(item, LinkDown) for item in items))
    link.close()
    (tmp_path / "usb0").unlink()
    (tmp_path / "usb1").symlink_to(second.device)
    link = SerialLink(1, spec, clock, waiting.inbox)
    os.write(second.far, b"back")
    assert waiting.stream(4) == b"back"
    link.close()
    second.hang_up()


def test_of_several_that_fit_the_first_that_is_free_is_taken(
    waiting: Any, clock: Any, tmp_path: Path
) -> None:
    ptys = [Pty(), Pty()]
    for number, pty in enumerate(ptys):
        (tmp_path / f"usb{number}").symlink_to(pty.device)
    spec = SerialSpec(str(tmp_path / "usb?"), 115_200)
    links = [SerialLink(n, spec, clock, waiting.inbox) for n in (1, 2)]
    assert [link.detail[-4:] for link in links] == ["usb0", "usb1"]
    with pytest.raises(LinkFailed, match="in use"):
        SerialLink(3, spec, clock, waiting.inbox)
    for link, pty in zip(links, ptys, strict=True):
        link.close()
        pty.hang_up()


@pytest.mark.parametrize(("name", "what"), [("none", "no such port"), ("file", "no serial port")])
def test_what_is_no_port(waiting: Any, clock: Any, tmp_path: Path, name: str, what: str) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(LinkFailed, match=what):
        SerialLink(1, SerialSpec(str(tmp_path / name), 9600), clock, waiting.inbox)


def test_closing_ends_the_threads_and_frees_the_port(
    open_serial: Callable[[], SerialLink], waiting: Any
) -> None:
    link = open_serial()
    link.close()
    link.close()
    assert not any(thread.is_alive() for thread in link._threads)
    assert waiting.inbox.take() == []
    assert not any(isinstance(i, Chunk) for i in waiting.items)
    open_serial()
