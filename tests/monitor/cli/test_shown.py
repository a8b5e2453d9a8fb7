import sys
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.cli.shown import Shown, only_what_prints
from monitor.errors import Exit


def test_what_is_printed_prints(capsys: pytest.CaptureFixture[str]) -> None:
    with only_what_prints():
        print("a\x1b[2Jb\u202ec", "d")  # noqa: T201
        print("wrong\x9b", file=sys.stderr)  # noqa: T201
        sys.stdout.writelines(["e\n", "f\r\n"])
    said = capsys.readouterr()
    assert said.out == "a\\x1b[2Jb\\u202ec d\ne\nf\r\n"
    assert said.err == "wrong\\x9b\n"


def test_all_else_is_the_streams_own() -> None:
    assert Shown(sys.stdout).encoding == sys.stdout.encoding


def test_an_argument_that_redraws_a_screen_is_quoted_in_its_error(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit):
        main(["verify", "a", "--\x1b[2J\u202e"])
    assert "--\\x1b[2J\\u202e" in capsys.readouterr().err


def test_a_name_that_redraws_a_screen_is_quoted(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    assert main(["verify", str(tmp_path / "\x1b[2J")]) == Exit.JOURNAL
    said = capsys.readouterr().err
    assert "\\x1b[2J" in said
    assert said.count("\n") == 1
    assert said.removesuffix("\n").isprintable()
