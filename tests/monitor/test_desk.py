from pathlib import Path

import pytest

from monitor import desk
from monitor.incident.event_parts import WEARERS_MAX
from monitor.incident.events import Enter, Note

NOTE = Note(id="act-0001", by="R. Harrow", text="floor 2 searched")


@pytest.mark.parametrize(
    "message",
    [
        desk.Hello(board="b1", by="R. Harrow"),
        desk.Hello(board="b1", by="R. Harrow", want="script"),
        desk.Ask(act=NOTE, asked_boot_ns=5),
        desk.BoardBeat(board="b1", frame=9),
        desk.Stop(by="R. Harrow"),
    ],
)
def test_what_a_board_says_is_one_line_that_reads_back(message: desk.UpMessage) -> None:
    line = desk.line(message)
    assert line.count(b"\n") == 1
    assert line.endswith(b"\n")
    assert desk.read_up(line) == message


@pytest.mark.parametrize(
    "message",
    [
        desk.Role(holder=True, by="R. Harrow", incident="ab" * 16, fold=1),
        desk.Taken(id="act-0001"),
        desk.NotTaken(id="act-0001", why="the incident is closed"),
        desk.Stopping(),
        desk.Full(boards=32),
    ],
)
def test_what_the_recorder_says_reads_back(message: desk.DownMessage) -> None:
    assert desk.read_down(desk.line(message)) == message


@pytest.mark.parametrize(
    "data",
    [b"", b"\n", b"\xff\xfe\n", b"{}\n", b'{"say":"shout"}\n', b'{"say":"hello","board":""}\n',
     b"[" * 100_000],
)  # fmt: skip
def test_what_is_no_message_is_answered_with_a_reason(data: bytes) -> None:
    assert isinstance(desk.read_up(data), str)
    assert isinstance(desk.read_down(data), str)


def test_the_longest_act_fits_a_line() -> None:
    everybody = Enter(id="x" * 40, by="y" * 60, wearers=tuple(range(1, WEARERS_MAX + 1)),
                      location="z" * 400, task="z" * 400)  # fmt: skip
    assert len(desk.line(desk.Ask(act=everybody, asked_boot_ns=1 << 62))) <= desk.LINE_BYTES_MAX


def test_the_desk_of_one_journal_is_the_same_for_everybody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    journal = tmp_path / "a" / "kiln.journal"
    path = desk.socket_path(journal)
    assert path == desk.socket_path(tmp_path / "a" / ".." / "a" / "kiln.journal")
    assert path != desk.socket_path(tmp_path / "b" / "kiln.journal")
    assert path.parent == tmp_path / "outby"
    assert desk.socket_paths(journal)[0] == path


def test_links_that_go_round_in_a_circle_have_a_desk_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its journal cannot be opened, which is for others to tell."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    assert desk.socket_path(tmp_path / "a" / "one.journal").name.endswith(".desk")
