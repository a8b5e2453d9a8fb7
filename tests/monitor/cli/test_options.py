import argparse
from pathlib import Path

import pytest

import shared
from monitor.cli import main, manual
from monitor.cli.options import (
    add_command,
    add_display,
    add_opening,
    add_settings,
    add_sound,
    require_opening,
    settings_of,
)
from monitor.errors import BadUsage, Exit
from monitor.settings import Settings


@pytest.fixture
def parser() -> argparse.ArgumentParser:
    whole: argparse.ArgumentParser = manual.Parser(prog="outby")
    command = add_command(
        whole.add_subparsers(),
        "try",
        run=lambda _: 0,
        summary="a command of the tests",
        description="First line.\n\nSecond paragraph.",
        examples=[("outby try", "does nothing")],
        exits=[Exit.LINK],
    )
    add_settings(command)
    add_sound(command)
    add_opening(command)
    add_display(command)
    return whole


def chosen(
    parser: argparse.ArgumentParser,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    *argv: str,
) -> Settings:
    (tmp_path / "settings.toml").write_text('officer = "R. Harrow"\nlinks = ["udp:1"]\n')
    monkeypatch.setenv("OUTBY_SETTINGS", str(tmp_path / "settings.toml"))
    return settings_of(parser.parse_args(["try", *argv]))


def test_options_not_given_change_nothing(
    parser: argparse.ArgumentParser, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    assert chosen(parser, monkeypatch, tmp_path) == Settings(officer="R. Harrow", links=("udp:1",))


def test_options_reach_the_settings(
    parser: argparse.ArgumentParser, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    argv = "--name N --place P --entry-point A --stage 1 --officer O --exercise --procedure plain"
    more = (
        "--operation J --roster r --cylinders c --link udp:2 --link udp:3 --key k --theme daylight"
    )
    found = chosen(
        parser,
        monkeypatch,
        tmp_path,
        *argv.split(),
        *more.split(),
        "--glyphs",
        "ascii",
        "--mouse",
        "--incidents-folder",
        "f",
    )
    assert found == Settings(
        name="N",
        place="P",
        entry_point="A",
        operation="J",
        stage="1",
        officer="O",
        use="exercise",
        procedure="plain",
        roster="r",
        cylinders="c",
        links=("udp:2", "udp:3"),
        key="k",
        theme="daylight",
        glyphs="ascii",
        mouse=True,
        incidents_folder="f",
    )


def test_exercise_and_real_exclude_each_other(parser: argparse.ArgumentParser) -> None:
    with pytest.raises(SystemExit) as ended:
        parser.parse_args(["try", "--exercise", "--real"])
    assert ended.value.code == Exit.USAGE


@pytest.mark.parametrize(
    ("field", "option"),
    [
        ("name", "--name"),
        ("officer", "--officer"),
        ("use", "--exercise or --real"),
        ("procedure", "--procedure"),
    ],
)
def test_opening_asks_for_what_was_not_said(field: str, option: str) -> None:
    whole = Settings(name="Kiln Lane", officer="R. Harrow", use="real", procedure="plain")
    require_opening(whole)
    with pytest.raises(BadUsage, match=f"needs {option}:"):
        require_opening(whole.model_copy(update={field: ""}))


def test_the_page_keeps_its_paragraphs_and_lists_exit_codes(
    parser: argparse.ArgumentParser, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        parser.parse_args(["try", "--help"])
    text = capsys.readouterr().out
    assert "DESCRIPTION\n  First line.\n\n  Second paragraph." in text
    assert "EXAMPLES\n  outby try\n      does nothing" in text
    assert manual.exit_status([Exit.LINK]) in text
    assert "BUSY" not in text


@pytest.mark.parametrize("name", ["n" * 201, "a\0b", "d/" * 2_000, "é" * 101])
def test_a_path_that_no_file_can_have_is_told_before_anything_is_done(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    golden = str(shared.path("journals", "kiln-lane.journal"))
    for argv in (
        ["report", golden, "-o", name], ["handover", golden, "--output", name],
        ["score", golden, name], ["watch", name, "--plain"], ["record", name],
        ["incidents", "pack", golden, name], ["export", golden, "--frames", name],
        ["instruct", name], ["roster", "kiln-lane", "-o", f"{name}.csv"],
    ):  # fmt: skip
        assert main(argv) == Exit.USAGE
        said = capsys.readouterr().err
        assert said.startswith("outby: no file can have that name: ")
        assert said.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_a_name_of_two_hundred_bytes_can_be(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["verify", str(tmp_path / ("n" * 200))]) == Exit.JOURNAL
    assert "there is no such journal" in capsys.readouterr().err
