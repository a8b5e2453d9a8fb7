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


def listed(text: str) -> list[int]:
    """The exit codes that a page lists."""
    codes = text.split("EXIT STATUS")[1]
    return [int(code) for code in re.findall(r"^  (\d+) +\w", codes, re.MULTILINE)]


def test_the_first_page_lists_every_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    assert listed(page(capsys, "--help")) == [int(code) for code in Exit]


TOLD_OF_DAMAGED = ("verify", "report", "orders", "export", "replay")
"""What is right of a damaged journal they tell, and end with its exit code."""


@pytest.mark.parametrize("name", COMMANDS)
def test_a_page_lists_those_of_its_command(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    codes = listed(page(capsys, name, "--help"))
    assert codes == sorted(codes)
    assert {0, 1, 2, 11} <= set(codes)
    assert len(codes) < len(Exit), "no command can end with each of them"
    assert (int(Exit.NOT_KEPT) in codes) is (name == "conformance")
    assert (int(Exit.CHANGED) in codes) is (name in TOLD_OF_DAMAGED)


PAGES = [[], *([name] for name in COMMANDS)]
PAGES += [["keys", act] for act in ("create", "show", "pack", "next", "drop", "journal", "signing")]
PAGES += [["keys", "public"]]
PAGES += [["incidents", act] for act in ("discard", "recover", "pack")]


@pytest.mark.parametrize("columns", [80, 200])
@pytest.mark.parametrize("words", PAGES, ids=lambda words: " ".join(words) or "outby")
def test_a_page_fits_80_columns_however_wide_the_terminal(
    words: list[str],
    columns: int,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    text = page(capsys, *words, "--help")
    assert [line for line in text.splitlines() if len(line) > 80] == []
    assert "EXIT STATUS" in text


WORDS = {
    "--output": ("-o", "--to", "--html", "--out", "--file"),
    "--format": ("--csv", "--jsonl", "--parquet", "--as"),
}
"""One word for one thing, and what is therefore no option of any command but its short form."""


def test_options_are_the_same_words_everywhere(capsys: pytest.CaptureFixture[str]) -> None:
    for name in COMMANDS:
        text = page(capsys, name, "--help")
        options = set(re.findall(r"(?<![\w-])--?[a-z][a-z-]*", text.split("EXAMPLES")[0]))
        assert ("-o" in options) is ("--output" in options), name
        assert "--json" not in options or "--format" in options, name
        others = {other for words in WORDS.values() for other in words} - {"-o"}
        assert not options & others, name


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("watch --nope", "outby watch: unknown here: --nope"),
        ("keys create x", "outby keys create: one of the arguments --exercise --real is required"),
        ("keys", "outby keys: the following arguments are required: ACT"),
        ("air", "outby air: the following arguments are required: --cylinder"),
        ("verify", "outby verify: the following arguments are required: JOURNAL"),
        ("packs --seed x", "outby packs: argument --seed: invalid int value: 'x'"),
    ],
)
def test_a_mistake_shows_the_usage_of_that_command_alone(
    line: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        main(line.split())
    assert ended.value.code == Exit.USAGE
    first, second = capsys.readouterr().err.splitlines()
    assert first == said
    command = said.split(":", maxsplit=1)[0]
    assert second.startswith(f"usage: {command} [OPTION ...]")
    assert len(second) <= 80


@pytest.mark.parametrize("name", COMMANDS)
def test_only_what_starts_a_recorder_has_options_of_sound(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The recorder sounds alarms, and nothing else does; one command tries it beforehand."""
    text = page(capsys, name, "--help")
    assert ("--sound" in text) is (name in {"watch", "record", "drill", "doctor"})


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
        joined = re.sub(r" \\\n +", " ", text)
        examples = re.findall(r"^  outby (.*)$", joined, re.MULTILINE)
        assert examples
        for line in examples:
            parser.parse_args(shlex.split(line.split(" > ", maxsplit=1)[0]))


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
