"""Where sockets are, whoever's session it is and whatever lies there."""

import os
import stat
from collections.abc import Callable
from pathlib import Path

import pytest

from monitor.errors import NotAnswered
from monitor.runtime_folder import SOCKET_PATH_BYTES_MAX, candidates, folder, there

DEEP = 1_000
"""Bytes of a path: a test's own folders lie deeper than those of people."""


def found_folder(home: Path) -> Path:
    return folder(home / "sessions", DEEP)


def found_there(home: Path) -> list[Path]:
    return list(there(home / "sessions", DEEP))


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The session's own folder; those for temporary files and for the cache are the test's too."""
    for name in ("session", "temporary", "cache"):
        (tmp_path / name).mkdir(mode=0o700)
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / "session"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("TMPDIR", str(tmp_path / "temporary"))
    return tmp_path / "session"


def open_to_others(place: Path) -> None:
    place.mkdir()
    place.chmod(0o755)  # whatever the mask of this process is


def a_link(place: Path) -> None:
    elsewhere = place.with_name("elsewhere")
    elsewhere.mkdir(mode=0o700, exist_ok=True)
    place.symlink_to(elsewhere)


def a_file(place: Path) -> None:
    place.touch()


LAID = [open_to_others, a_link, a_file]


def test_the_sessions_own_is_made_for_this_user_alone(session: Path, tmp_path: Path) -> None:
    found = found_folder(tmp_path)
    assert found == session / "outby"
    assert stat.S_IMODE(found.stat().st_mode) == 0o700
    assert found_there(tmp_path) == [found]


@pytest.mark.parametrize("lay", LAID)
def test_what_others_have_laid_there_is_passed_over(
    session: Path, tmp_path: Path, lay: Callable[[Path], None]
) -> None:
    lay(session / "outby")
    found = found_folder(tmp_path)
    assert found == tmp_path / "temporary" / f"outby-{os.getuid()}"
    assert found_there(tmp_path) == [found]


@pytest.mark.parametrize("lay", LAID)
def test_a_name_that_is_taken_among_temporary_files_is_passed_over_too(
    session: Path, tmp_path: Path, lay: Callable[[Path], None]
) -> None:
    """Anybody can make a folder of that name there before its owner does."""
    lay(session / "outby")
    lay(tmp_path / "temporary" / f"outby-{os.getuid()}")
    assert found_folder(tmp_path).is_relative_to(tmp_path / "cache")


def test_where_nothing_can_be_had_one_line_says_so(session: Path, tmp_path: Path) -> None:
    a_file(session / "outby")
    a_file(tmp_path / "temporary" / f"outby-{os.getuid()}")
    (tmp_path / "cache" / "outby").touch()
    with pytest.raises(NotAnswered, match=r"^no folder for the desk: .*XDG_RUNTIME_DIR"):
        found_folder(tmp_path)
    assert found_there(tmp_path) == []


def test_after_a_plain_su_the_other_users_is_left_alone(session: Path, tmp_path: Path) -> None:
    """The variable stays what it was: what one makes there would stand in the other's way."""
    other = os.getuid() + 1
    found = candidates(other, tmp_path / "sessions", DEEP)
    assert found == [
        tmp_path / "temporary" / f"outby-{other}",
        tmp_path / "cache" / "outby" / "run",
    ]
    assert list(session.iterdir()) == []


def test_who_was_given_no_session_looks_into_that_of_the_same_user(
    session: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As from a time table, or after ``su -``: a board that was started in the session is there."""
    monkeypatch.delenv("XDG_RUNTIME_DIR")
    own = tmp_path / "sessions" / str(os.getuid())
    own.mkdir(parents=True)
    assert found_folder(tmp_path) == own / "outby"
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(session))
    assert found_folder(tmp_path) == session / "outby"
    assert found_there(tmp_path) == [session / "outby", own / "outby"]


def test_one_too_deep_for_a_socket_is_not_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path / ("x" * 100)))
    found = folder(tmp_path)
    assert found.name == f"outby-{os.getuid()}"
    longest = os.fsencode(found / "0123456789abcdef.desk")
    assert len(longest) <= SOCKET_PATH_BYTES_MAX
