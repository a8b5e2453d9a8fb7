"""How the keeper (``monitor.keeping``) is started beside a recorder and told what to keep."""

import contextlib
import json
import subprocess
from collections.abc import Iterator
from pathlib import Path

from monitor import children

END_S = 1.0
"""So long a recorder that ends waits for it to end."""
TOLD_BYTES_MAX = 10_000
"""A path and a key."""


@contextlib.contextmanager
def kept(journal: Path, *, wanted: bool, secret: bytes = b"") -> Iterator[None]:
    """Have checkpoints kept meanwhile, if they are ``wanted`` and a process can be started.

    It is told by a pipe which journal, and by which key (``secret``) to tag them: what is on a
    command line can be read by everybody.
    """
    process: subprocess.Popen[bytes] | None = None
    if wanted:
        with contextlib.suppress(OSError):
            process = subprocess.Popen(  # noqa: S603 - our own program
                children.line("monitor.keeping"),
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                # Not the terminal's keys, but the same session: where the kernel shares the
                # processor by sessions, being nice counts only within one.
                process_group=0,
            )
            assert process.stdin is not None, "asked for"
            with process.stdin as pipe:
                pipe.write(json.dumps([str(journal.absolute()), secret.hex()]).encode())
    try:
        yield
    finally:
        if process is not None:
            process.terminate()
            with contextlib.suppress(subprocess.TimeoutExpired):
                process.wait(END_S)


def told(raw: bytes) -> tuple[Path, bytes]:
    """Which journal, and its key, as ``kept`` tells them. ValueError: that is something else."""
    journal, secret = json.loads(raw)
    return Path(journal), bytes.fromhex(secret)
