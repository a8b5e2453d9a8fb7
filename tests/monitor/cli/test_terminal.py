import pytest

from monitor.cli.terminal import ascii_only, can_draw


@pytest.mark.parametrize(("said", "only"), [("C", True), ("POSIX", True), ("C.UTF-8", False)])
def test_signs_follow_the_language_settings(
    monkeypatch: pytest.MonkeyPatch, said: str, only: bool
) -> None:
    monkeypatch.setenv("LC_ALL", said)
    assert ascii_only() is only


def test_without_a_terminal_the_board_is_plain(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    assert not can_draw()  # the tests' own input is no terminal
