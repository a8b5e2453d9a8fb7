"""What is looked at before a relay goes to its broker."""

from pathlib import Path

import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))
HERE = ("--broker", "nats://127.0.0.1")


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        ((GOLDEN, *HERE), Exit.USAGE, "the journal names no operation"),
        ((GOLDEN, "--operation", "J"), Exit.USAGE, "no broker was said"),
        ((GOLDEN, *HERE, "--keep-days", "0"), Exit.USAGE, "no such length: --keep-days 0"),
        ((GOLDEN, *HERE, "--keep-mib", "1"), Exit.USAGE, "no such size: --keep-mib 1"),
        (("none.journal", *HERE), Exit.JOURNAL, "no such journal"),
        ((GOLDEN, "--broker", "nats://192.0.2.1"), Exit.USAGE, "without TLS"),
        (HERE, Exit.NOT_ANSWERED, "nothing is recorded here"),
    ],
)
def test_what_is_wrong_is_told_before_anything_is_sent(
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
    line: tuple[str, ...],
    code: Exit,
    why: str,
) -> None:
    assert main(["relay", *line, "--incidents-folder", str(tmp_path)]) == code
    assert why in capsys.readouterr().err
