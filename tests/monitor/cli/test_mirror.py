"""What is looked at before a mirror goes to its broker."""

import pytest

from monitor.cli import main
from monitor.errors import Exit


@pytest.mark.parametrize(
    ("line", "code", "why"),
    [
        ((), Exit.USAGE, "no broker was said"),
        (("--broker", "http://x"), Exit.USAGE, "no address of a broker"),
        (("--broker", "nats://127.0.0.1", "--key", "none.key"), Exit.FILE, "key file is not there"),
        (("--broker", "nats://127.0.0.1", "--ca", "x.pem"), Exit.USAGE, "certificates, but no TLS"),
    ],
)
def test_what_is_wrong_is_told_at_once(
    capsys: pytest.CaptureFixture[str], line: tuple[str, ...], code: Exit, why: str
) -> None:
    assert main(["mirror", *line]) == code
    assert why in capsys.readouterr().err
