"""A trial in virtual time: one of our own packs, with a change to what it sends or hears."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from random import Random

import pytest

from protocol.integrity import Keyring, checksum
from simulators.conformance.rules import Row
from simulators.conformance.trial import Trial
from simulators.one_pack import OnePack
from simulators.pack import Build, equipment
from simulators.randoms import child

S = 1_000_000_000
STEP_NS = S // 50
IDENTITY = 101
BOOT = 7
Change = Callable[[int, bytes], list[bytes]]
"""Time and a frame in, frames out."""


def as_it_is(_t: int, frame: bytes) -> list[bytes]:
    return [frame]


def resealed(frame: bytes | bytearray) -> bytes:
    """An open frame with a checksum that fits its new contents."""
    return bytes(frame[:-2]) + checksum(bytes(frame[:-2]))


@dataclass
class Tried:
    """What came of it."""

    trial: Trial
    rows: dict[str, Row]
    prompts: list[str]

    def named(self, verdict: str) -> set[str]:
        return {name for name, row in self.rows.items() if row.verdict == verdict}


Try = Callable[..., Tried]


@pytest.fixture
def tried(keyring: Keyring) -> Try:
    def run(
        lines: Mapping[float, str],
        length_s: int = 30,
        *,
        keyed: bool = False,
        sent: Change = as_it_is,
        heard: Change = as_it_is,
    ) -> Tried:
        keys = keyring.pack_keys(IDENTITY, 1) if keyed else None
        build = Build(IDENTITY, BOOT, 1, equipment(300, 6.8, 55), 95, keys)
        one = OnePack(build, child(1, "one"), 0)
        trial = Trial(keyring if keyed else None, Random(1), 0, length_ns=length_s * S)
        waiting = sorted(lines.items())
        prompts: list[str] = []
        t = 0
        while not trial.over(t):
            while waiting and waiting[0][0] * S <= t:
                one.command(t, waiting.pop(0)[1])
            for frame in one.step(t):
                for out in sent(t, frame):
                    trial.hear(t, out)
            for frame in trial.step(t):
                for out in heard(t, frame):
                    one.hear(t, out)
            prompts += [said] if (said := trial.prompt(t)) else []
            t += STEP_NS
        return Tried(trial, {row.name: row for row in trial.rows(t)}, prompts)

    return run
