"""What is asked before an incident is opened, and the edges that look at the answers."""

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor import keyfile, last_opening, procedures
from monitor.board.sheets.opening import Opening, opening_form
from monitor.cli import opening
from monitor.cli.opening import asked, clock_now, line_by_line, offer, remember, try_links
from monitor.errors import BadUsage
from monitor.last_opening import LastOpening
from monitor.settings import Settings

SAID = Settings(name="Kiln Lane", officer="R. Harrow", use="exercise", procedure="plain")


@pytest.fixture(autouse=True)
def state_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever runs the tests has opened incidents of their own."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))


@pytest.fixture
def busy() -> Iterator[str]:
    """A link that somebody has open."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as held:
        held.bind(("127.0.0.1", 0))
        yield f"udp:127.0.0.1:{held.getsockname()[1]}"


@pytest.fixture
def free(busy: str) -> str:
    """A link that nobody has."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        one.bind(("127.0.0.1", 0))
        found = f"udp:127.0.0.1:{one.getsockname()[1]}"
    assert found != busy
    return found


def test_who_has_said_all_is_asked_nothing() -> None:
    for draws, typed in ((False, False), (False, True), (True, True)):
        assert asked(SAID, clock_checked=True, draws=draws, typed=typed) == (SAID, True)


@pytest.mark.parametrize(
    ("field", "option"),
    [("name", "--name"), ("officer", "--officer"), ("use", "--exercise or --real"),
     ("procedure", "--procedure")],
)  # fmt: skip
def test_where_nobody_can_be_asked_it_is_one_clear_error(field: str, option: str) -> None:
    with pytest.raises(BadUsage, match=f"a new incident needs {option}: say it, or set it once"):
        asked(SAID.with_options({field: ""}), clock_checked=False, draws=False, typed=False)


# ---------------------------------------------------------------- line by line


def typed(settings: Settings, *lines: str) -> tuple[Opening | None, list[str]]:
    """Answer with these lines; what came of it, and all that was told."""
    told: list[str] = []
    waiting = iter(lines)
    form = opening_form(
        settings, offer(settings, last_opening.load(last_opening.file_path())), clock_checked=False
    )
    made = line_by_line(form, settings, lambda: next(waiting, None), told.append)
    return made, told


def test_the_same_questions_line_by_line(free: str) -> None:
    made, told = typed(
        Settings(),
        "Kiln Lane",
        "",
        "A",
        "Kiln works",
        "R. Harrow",
        "1",
        "3",
        "",
        "kiln-lane",
        free,
        "",
        "1",
    )
    assert made is not None
    assert made.clock_checked
    assert made.said == {
        "name": "Kiln Lane", "place": "", "entry_point": "A", "operation": "Kiln works",
        "officer": "R. Harrow", "use": "exercise", "procedure": "plain", "stage": "",
        "roster": "kiln-lane", "links": (free,), "key": "",
    }  # fmt: skip
    text = "\n".join(told)
    assert "not a certified safety device" in told[0]
    assert "plain: Plain procedure, 35 % low air\n  planning rate: 50 L/min (common" in text
    assert f"  udp {free.removeprefix('udp:')}: opens" in text
    assert "This machine's clock: " in told[-2]


def test_a_wrong_answer_can_be_said_again_taken_out_or_gone_back_from(free: str) -> None:
    made, told = typed(
        Settings(), "", "Kiln Lane", "works", "<", "-", "", "", "R. Harrow", "3", "2", "nix",
        "plain", "", "nobody.csv", "-", free, "no.key", "-", "2",
    )  # fmt: skip
    assert made is not None
    assert (made.said["place"], made.said["use"], made.said["roster"]) == ("", "real", "")
    assert (made.said["key"], made.clock_checked) == ("", False)
    wrong = [line.split(".")[0] for line in told if line.startswith("Not so")]
    assert wrong[:3] == [
        "Not so: an answer is needed",
        "Not so: one of the numbers",
        "Not so: no such procedure: nix: give a path, or one of: " + ", ".join(procedures.names()),
    ]
    assert "nobody" in wrong[3]
    assert "key file is not there" in wrong[4]


@pytest.mark.parametrize("lines", [(), ("Kiln Lane",), ("Kiln Lane", "CANCEL", "more")])
def test_the_end_of_the_lines_and_cancel_open_nothing(lines: tuple[str, ...]) -> None:
    assert typed(Settings(), *lines)[0] is None


def test_links_that_do_not_open_are_asked_for_again(busy: str, free: str) -> None:
    answers = ("", "", "", "", "", "", "", "", "", busy, "", "1", free, "", "")
    made, told = typed(SAID, *answers)
    assert made is not None
    assert made.said["links"] == (free,)
    assert any(line.startswith("Not so: udp ") and "DOES NOT OPEN" in line for line in told)


# ---------------------------------------------------------------- edges


def test_links_are_opened_and_closed_again(busy: str, free: str) -> None:
    for _ in range(2):
        one, other = try_links(SAID, f"{free}, {busy}", "exercise")
        assert one.fault == ""
        assert other.fault.startswith("the port is in use: stop what listens there")
    (wrong,) = try_links(SAID, "udp:41900", "exercise")
    assert wrong.words.startswith("udp:41900: DOES NOT OPEN: that link is for real incidents only")
    (wrong,) = try_links(SAID, "radio", "exercise")
    assert "a link is udp or serial" in wrong.fault


@pytest.mark.parametrize(("use", "other"), [("exercise", "real"), ("real", "exercise")])
def test_a_key_of_the_other_use_is_said_where_it_is_typed(
    tmp_path: Path, use: str, other: str
) -> None:
    path = tmp_path / "fleet.key"
    keyfile.create(path, "exercise" if use == "exercise" else "real")
    look = offer(SAID, LastOpening()).key
    assert look(str(path), use) == ""
    assert look(str(path), other) == f"made for use {use}; give the other key file"
    assert look(str(tmp_path / "none"), use).startswith("key file is not there")


def test_what_was_used_last_is_on_offer_with_its_whole_path(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    remember(SAID.with_options({"procedure": "ours.toml", "roster": "kiln-lane"}))
    last = last_opening.load(last_opening.file_path())
    assert last == LastOpening(procedure=str(tmp_path / "ours.toml"), roster="kiln-lane")
    found = offer(Settings(), last)
    assert (found.last_procedure, found.last_roster) == (last.procedure, "kiln-lane")
    remember(SAID.with_options({"roster": "x" * 200}))
    assert last_opening.load(last_opening.file_path()) == LastOpening(procedure="plain")


def test_the_home_folder_is_known_without_a_shell(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    answered = Opening({"procedure": "~/ours.toml", "roster": "", "key": "a~b"}, clock_checked=True)
    assert opening._whole_paths(answered) == {
        "procedure": str(tmp_path / "ours.toml"), "roster": "", "key": "a~b",
    }  # fmt: skip


def test_the_clock_has_its_zone() -> None:
    time, date, zone = clock_now().split()
    assert (len(time), len(date), zone[:3], len(zone)) == (8, 10, "UTC", 8)
