"""``outby packs --one``: one virtual pack by typed lines, in real time."""

import argparse
import os
import select
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import TYPE_CHECKING

from monitor.errors import BadUsage, Exit

if TYPE_CHECKING:
    from simulators.one_pack import OnePack
    from simulators.outlets import Outlet

IDENTITY = 101
IDENTITY_MAX = 0xFFFF_FFFF
INTERVAL_S = 5
BATTERY_PERCENT = 95
CYLINDER = (300, 6.8, 55)
"""Rated bar, litres, low-air bar at the start."""
WAIT_S = 0.02
"""Between two looks at the lines: sooner than anybody notices."""
READ_BYTES = 4096
LINE_BYTES_MAX = 1_000
"""A longer line is cut there: it is wrong in any case."""
SECOND_NS = 1_000_000_000


class Lines:
    """Lines as they come on a file descriptor, without waiting."""

    def __init__(self, descriptor: int) -> None:
        """Nothing has come."""
        self._descriptor = descriptor
        self._held = b""
        self.ended = False

    def next(self) -> str | None:
        """Give one whole line; None: none is there yet."""
        if b"\n" not in self._held and not self.ended:
            self._read()
        line, newline, rest = self._held.partition(b"\n")
        if not newline and not (self.ended and line):
            self._held = self._held[:LINE_BYTES_MAX]
            return None
        self._held = rest
        return line[:LINE_BYTES_MAX].decode("utf-8", "replace").strip()

    def _read(self) -> None:
        if not select.select([self._descriptor], [], [], 0)[0]:
            return
        data = b""
        with suppress(OSError):  # a terminal that has gone
            data = os.read(self._descriptor, READ_BYTES)
        self.ended = not data
        self._held += data


def run_one(args: argparse.Namespace) -> int:
    """Play one pack until ``quit`` or interrupted. Raises BadUsage, BadFile, LinkFailed."""
    from monitor.cli.packs_links import DEFAULT_LINK, keyring_of, open_outlet
    from monitor.clock import Clock
    from simulators.one_pack import OnePack
    from simulators.pack import Build, equipment
    from simulators.randoms import child

    identity = IDENTITY if args.pack is None else args.pack
    if not 1 <= identity <= IDENTITY_MAX:
        raise BadUsage("no such identity", f"--pack {identity}", f"1 to {IDENTITY_MAX}")
    if len(args.links or ()) > 1:
        raise BadUsage("one pack has one way to a base", "--link", "say it once")
    keyring = keyring_of(args.key)
    clock = Clock()
    boot = clock.wall_ns() // SECOND_NS if args.boots is None else args.boots + 1
    keys = keyring.pack_keys(identity, keyring.current_epoch) if keyring else None
    build = Build(identity, boot, INTERVAL_S, equipment(*CYLINDER), BATTERY_PERCENT, keys)
    link = (args.links or [DEFAULT_LINK])[0]
    outlet = open_outlet(link, beyond_this_machine=args.beyond_this_machine)
    try:
        one = OnePack(build, child(args.seed, "one"), clock.boot_ns())
        how = f"epoch {keys.epoch}" if keys else "open"
        _say(f"pack {identity}, boot {boot}, {how}, to {outlet.name}")
        play(one, outlet, Lines(sys.stdin.fileno()), clock.boot_ns, _say)
    finally:
        outlet.close()
    return Exit.OK


def play(
    one: "OnePack",
    outlet: "Outlet",
    lines: Lines,
    now_ns: Callable[[], int],
    say: Callable[[str], None],
) -> None:
    """Send, hear, and do each line, until it was told to end and has said all."""
    while not one.over:
        now = now_ns()
        for frame in one.step(now):
            outlet.send(frame)
        for frame in outlet.wait(WAIT_S):
            if heard := one.hear(now_ns(), frame):
                say(f"heard {heard}")
        if now < one.wait_ns or one.leaving:
            continue
        if (line := lines.next()) is not None:
            _do(one, now_ns(), line, say)


def _do(one: "OnePack", now: int, line: str, say: Callable[[str], None]) -> None:
    from simulators.one_pack import WrongLine

    try:
        if answer := one.command(now, line):
            say(answer)
    except WrongLine as wrong:
        say(f"not done: {wrong}")


def _say(text: str) -> None:
    print(text, flush=True)
