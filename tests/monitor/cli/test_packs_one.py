import os

import pytest

from monitor.cli import main
from monitor.cli.packs_one import LINE_BYTES_MAX, Lines, play
from monitor.errors import Exit
from simulators.one_pack import OnePack
from simulators.pack import Build, equipment
from simulators.randoms import child

S = 1_000_000_000


class Wire:
    """An outlet that keeps what was sent, and hears nothing."""

    name = "wire"
    dropped = 0

    def __init__(self) -> None:
        self.sent: list[bytes] = []

    def send(self, frame: bytes) -> None:
        self.sent.append(frame)

    def wait(self, timeout_s: float) -> list[bytes]:
        assert timeout_s > 0
        return []

    def close(self) -> None:
        """Nothing is open."""


def test_lines_come_as_they_are_typed() -> None:
    ours, theirs = os.pipe()
    lines = Lines(ours)
    assert lines.next() is None
    os.write(theirs, b"pressure 200\nbatt")
    assert lines.next() == "pressure 200"
    assert lines.next() is None
    os.write(theirs, b"ery 15")
    assert lines.next() is None
    os.close(theirs)
    assert lines.next() == "battery 15"
    assert lines.next() is None
    assert lines.ended
    os.close(ours)


def test_a_line_without_end_is_cut() -> None:
    ours, theirs = os.pipe()
    os.write(theirs, b"x" * (LINE_BYTES_MAX + 500))
    lines = Lines(ours)
    assert lines.next() is None
    os.write(theirs, b"\n")
    line = lines.next()
    assert line is not None
    assert len(line) == LINE_BYTES_MAX
    os.close(ours)
    os.close(theirs)


def test_lines_are_done_in_turn_and_a_wait_holds_them_up() -> None:
    ours, theirs = os.pipe()
    os.write(theirs, b"nonsense\nwait 5\nshow\nquit\n")
    now = 0

    def clock() -> int:
        nonlocal now
        now += S // 10
        return now

    said: list[tuple[int, str]] = []
    build = Build(101, 7, 5, equipment(300, 6.8, 55), 95, None)
    wire = Wire()
    one = OnePack(build, child(1, "one"), 0)
    play(one, wire, Lines(ours), clock, lambda text: said.append((now, text)))
    (wrong_at, wrong), (shown_at, shown) = said
    assert wrong.startswith('not done: no such word: "nonsense"')
    assert shown.startswith("pack 101, boot 7, on")
    assert shown_at - wrong_at >= 5 * S
    assert wire.sent[-1][1] == 4  # sign-off
    os.close(ours)
    os.close(theirs)


@pytest.mark.parametrize(
    ("line", "says"),
    [
        (["--one", "--pack", "0"], "outby: no such identity: --pack 0"),
        (["--one", "kiln-lane"], "outby: one pack by typed lines plays no scenario: scenario"),
        (["--one", "--truth", "x"], "outby: one pack by typed lines plays no scenario: truth"),
        (["--pack", "7"], "outby: --pack is for --one"),
        (["--one", "--link", "udp:5", "--link", "udp:6"], "outby: one pack has one way to a base"),
    ],
)
def test_what_cannot_be_is_said(
    line: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["packs", *line]) == Exit.USAGE
    assert capsys.readouterr().err.startswith(says)
