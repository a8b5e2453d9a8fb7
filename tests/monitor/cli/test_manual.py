"""The look of a page, whatever stands on it."""

import argparse

import pytest

from monitor.cli import manual
from monitor.errors import Exit


def test_paragraphs_are_laid_out_and_lists_stay_as_they_are() -> None:
    text = "one " * 30 + "\n\nsigns:\n  a  first\n  b  second\n"
    laid = manual.indented(text).splitlines()
    assert max(map(len, laid)) <= manual.COLUMNS
    assert " ".join(" ".join(laid).split()).startswith("one one one")
    assert laid[-2:] == ["    a  first", "    b  second"]


def test_a_long_example_goes_on_as_a_shell_reads_it() -> None:
    line = "outby watch --name 'A long name' --officer 'R. Harrow' --exercise --procedure plain"
    shown = manual.examples([(line, "opens it")])
    assert max(map(len, shown.splitlines())) <= manual.COLUMNS
    head, *rest = shown.splitlines()
    assert head == "EXAMPLES"
    assert " ".join(part.strip().removesuffix(" \\") for part in rest[:-1]) == line
    assert rest[-1] == "      opens it"


def test_codes_stand_once_each_in_their_order() -> None:
    lines = manual.exit_status([Exit.LINK, Exit.OK, Exit.FILE]).splitlines()
    codes = [int(line.split()[0]) for line in lines[1:] if line[2] != " "]
    assert codes == [0, 1, 2, 3, 4, 11]


@pytest.fixture
def parser() -> manual.Parser:
    whole = manual.Parser(prog="outby")
    acts = whole.add_subparsers()
    act = acts.add_parser("try")
    act.add_argument("file", metavar="FILE")
    act.add_argument("--left-out", metavar="X")
    act.add_argument("--needed", metavar="Y", required=True)
    either = act.add_mutually_exclusive_group(required=True)
    either.add_argument("--this", action="store_true")
    either.add_argument("--that", action="store_true")
    return whole


def test_what_must_be_said_is_named_and_what_need_not_is_one_word(parser: manual.Parser) -> None:
    (acts,) = (a for a in parser._actions if isinstance(a, argparse._SubParsersAction))
    act = acts.choices["try"]
    assert isinstance(act, manual.Parser)
    called = "usage: outby try [OPTION ...] --needed Y (--this | --that) FILE; see --help"
    assert act.called() == called


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("try x --this --needed y extra", "outby try: unknown here: extra"),
        ("try x --needed y", "outby try: one of the arguments --this --that is required"),
        ("try x --this", "outby try: the following arguments are required: --needed"),
    ],
)
def test_an_error_is_that_of_the_act(
    parser: manual.Parser, line: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as ended:
        parser.parse_args(line.split())
    assert ended.value.code == Exit.USAGE
    first, second = capsys.readouterr().err.splitlines()
    assert first == said
    assert second.startswith("usage: outby try ")
