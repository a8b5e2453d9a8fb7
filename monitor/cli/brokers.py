"""What commands that go over a broker have in common: its options, and ending in good order."""

import argparse
import asyncio
import contextlib
import os
import signal
from collections.abc import Coroutine
from pathlib import Path
from typing import TYPE_CHECKING, Any

from monitor.errors import BadUsage
from monitor.settings import Settings

if TYPE_CHECKING:
    from monitor.relay.address import Address

END_AGAIN_S = 1.0
NICE = 19
"""Whatever else wants the processor goes first."""


def add_broker(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which broker, and how one gets there."""
    group = parser.add_argument_group("BROKER")
    group.add_argument("--broker", metavar="ADDRESS",
                       help="tls://HOST[:PORT], commas between several of a cluster")  # fmt: skip
    group.add_argument("--ca", metavar="FILE", type=Path,
                       help="certificates by which it is known; else the system's")  # fmt: skip
    group.add_argument("--certificate", metavar="FILE", type=Path,
                       help="of this side, where the broker asks for one")  # fmt: skip
    group.add_argument("--private-key", metavar="FILE", type=Path, help="that goes with it")
    group.add_argument("--login", metavar="FILE", type=Path,
                       help="two lines: user, password")  # fmt: skip
    group.add_argument("--unprotected", action="store_true",
                       help="go over a network without TLS; it is shown")  # fmt: skip


def address_of(args: argparse.Namespace, settings: Settings) -> "Address":
    """The broker that was said. Raises BadUsage, also where the client is not installed."""
    import importlib.util

    from monitor.relay import address

    if importlib.util.find_spec("nats") is None:
        what, to_do = "the broker's client is not installed", "pip install 'outby[relay]'"
        raise BadUsage(what, "nats-py", to_do)
    if not settings.broker:
        raise BadUsage("no broker was said", "--broker", "say it, or set it once")
    return address.address_of(
        settings.broker,
        ca=args.ca,
        certificate=args.certificate,
        key=args.private_key,
        login=args.login,
        unprotected=args.unprotected,
    )


def run_until_told(work: Coroutine[Any, Any, None]) -> None:
    """Do ``work`` with the lowest priority, to its end or until the process is told to end."""
    os.umask(0o077)
    with contextlib.suppress(OSError):
        os.nice(NICE)

    async def main() -> None:
        task = asyncio.ensure_future(work)
        loop = asyncio.get_running_loop()

        def end() -> None:
            """Again until it has ended: a library may take one cancel for a fault of its own."""
            if not task.done():
                task.cancel()
                loop.call_later(END_AGAIN_S, end)

        for one in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(one, end)
        with contextlib.suppress(asyncio.CancelledError):
            await task

    asyncio.run(main())


def told(line: str) -> None:
    """Say a change of state, at once."""
    print(line, flush=True)
