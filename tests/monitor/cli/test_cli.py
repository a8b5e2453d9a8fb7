import argparse
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from monitor.cli import COMMANDS, build_parser, main
from monitor.errors import Exit


def page(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    with pytest.raises(SystemExit) as ended:
        main(argv)
    assert ended.value.code == Exit.OK
    return capsys.readouterr().out


def test_the_version_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert re.fullmatch(r"outby \d+\.\d+\.\d+\n", page(capsys, "--version"))


def test_the_first_page_names_every_command_and_the_caution(
    capsys: pytest.CaptureFixture[str],
) -> None:
    text = page(capsys, "--help")
    for name in COMMANDS:
        assert re.search(rf"^ +{name} +\w", text, re.MULTILINE), name
    assert "not a certified safety device" in " ".join(text.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_has_a_manual_page(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    text = page(capsys, name, "--help")
    for section in ("DESCRIPTION", "OPTIONS", "EXAMPLES", "FILES", "ENVIRONMENT", "EXIT STATUS"):
        assert re.search(rf"^{section}", text, re.MULTILINE), section
    for code in Exit:
        assert f"  {int(code)}  {code.words}" in text


@pytest.mark.parametrize("name", COMMANDS)
def test_no_line_of_a_manual_page_is_cut_at_100_columns(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert max(len(line) for line in page(capsys, name, "--help").splitlines()) <= 100


@pytest.mark.parametrize("name", COMMANDS)
def test_only_what_starts_a_recorder_has_options_of_sound(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The recorder sounds alarms, and nothing else does."""
    text = page(capsys, name, "--help")
    assert ("--sound" in text) is (name in {"watch", "record", "drill"})


@pytest.mark.parametrize("name", COMMANDS)
def test_a_manual_page_has_one_section_of_a_name(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    sections = re.findall(r"^([A-Za-z][A-Za-z ]+):?$", page(capsys, name, "--help"), re.MULTILINE)
    lowered = [section.casefold() for section in sections]
    assert len(lowered) == len(set(lowered))


def pages(parser: argparse.ArgumentParser) -> Iterator[str]:
    """The end of each manual page, the first page's too."""
    yield parser.epilog or ""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            yield from (sub.epilog or "" for sub in action.choices.values())


def test_every_example_on_a_page_is_a_command_line_that_parses() -> None:
    """The examples are read back by the parser that prints them."""
    parser = build_parser()
    for text in pages(parser):
        examples = re.findall(r"^  outby (.*)$", text, re.MULTILINE)
        assert examples
        for line in examples:
            parser.parse_args(shlex.split(line))


def test_no_command_is_a_usage_error(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([])
    assert ended.value.code == Exit.USAGE
    assert "COMMAND" in capsys.readouterr().err


def test_abbreviated_options_are_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["record", "--exer"])
    assert ended.value.code == Exit.USAGE


def test_an_error_is_one_line_and_its_exit_code(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "settings.toml").write_text("")
    monkeypatch.setenv("OUTBY_SETTINGS", str(tmp_path / "settings.toml"))
    code = main(["record", "--exercise", "--incidents-folder", str(tmp_path)])
    assert code == Exit.USAGE
    line = capsys.readouterr().err
    assert line.startswith("outby: a new incident needs --name, --officer, --procedure: ")
    assert line.count("\n") == 1


def test_commands_are_modules_with_the_same_two_doors() -> None:
    parser = build_parser()
    actions = [a for a in parser._actions if isinstance(a, argparse._SubParsersAction)]
    assert list(actions[0].choices) == list(COMMANDS)
    assert all(sub.get_default("func") for sub in actions[0].choices.values())


def test_what_the_system_refuses_is_one_line_too(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Links that go round in a circle: whoever looks along them is told ELOOP."""
    (tmp_path / "a").symlink_to(tmp_path / "b")
    (tmp_path / "b").symlink_to(tmp_path / "a")
    line = ["record", str(tmp_path / "a" / "one.journal"), "--incidents-folder", str(tmp_path)]
    said = ["--name", "a", "--officer", "b", "--exercise", "--procedure", "plain", "--sound", "off"]
    assert main([*line, *said]) == Exit.JOURNAL
    error = capsys.readouterr().err
    assert error.startswith("outby: ")
    assert error.count("\n") == 1
