"""``make mutants``: faults put into the pure core, and which of them no test notices.

    python -m tests.mutants [--number N] [--seed N] [--jobs N] [--seconds N] [MODULE...]

Each mutant runs the tests that mirror its module, and if all pass those of its pure neighbours.
A process that has pytest ready is forked for each; the module is mutated as it is imported, so that
nothing in the checkout changes. One that takes five times as long as no mutant is found out too.
"""

import argparse
import ast
import os
import signal
import sys
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec
from pathlib import Path
from random import Random
from threading import Event
from types import ModuleType

# Ready in each fork: none of them imports anything of ours.
import hypothesis.strategies
import pydantic
import pytest

from tests.mutants.mutate import Mutant, count, mutant

ROOT = Path(__file__).resolve().parents[2]
CORE = ("protocol", "monitor/incident", "monitor/sound")
PURE_RECORDER = (
    "beacons", "disk_watch", "intake", "keyless", "orders_out", "receivers", "recovery", "refusals",
    "seats", "sequencer", "waiting",
)  # fmt: skip
NO_LOGIC = ("__init__", "naming", "dissector")
"""They hold words for others to print, or nothing."""
TIMES = 5
MORE_S = 20.0
POLL_S = 0.02
READY = (hypothesis.strategies, pydantic, pytest)


def core() -> list[Path]:
    """The modules that are pure and decide something, relative to the root."""
    found = [path for part in CORE for path in sorted((ROOT / part).rglob("*.py"))]
    found += [ROOT / "monitor/recorder" / f"{name}.py" for name in PURE_RECORDER]
    return [path.relative_to(ROOT) for path in found if path.stem not in NO_LOGIC]


def mirrored(module: Path) -> list[str]:
    """Test files of this module alone: ``test_NAME`` and ``test_NAME_TOPIC``."""
    folder = ROOT / "tests" / module.parent
    others = {path.stem for path in (ROOT / module.parent).glob("*.py")} - {module.stem}
    named = [folder / f"test_{module.stem}.py", *folder.glob(f"test_{module.stem}_*.py")]
    return [
        str(path)
        for path in sorted(named)
        if path.is_file() and path.stem.removeprefix("test_") not in others
    ]


def neighbours(module: Path) -> list[str]:
    """The tests of all pure modules of its folder, and of topics that are no single module's."""
    folder = ROOT / "tests" / module.parent
    impure = {path.stem for path in (ROOT / module.parent).glob("*.py")} - {
        path.stem for path in core() if path.parent == module.parent
    }
    return [
        str(path)
        for path in sorted(folder.glob("test_*.py"))
        if path.stem.removeprefix("test_") not in impure
    ]


class Mutated(MetaPathFinder, Loader):
    """Has one module imported from another tree than that of its file."""

    def __init__(self, module: Path, tree: ast.Module) -> None:
        self.module, self.tree = module, tree
        self.name = ".".join(module.with_suffix("").parts)

    def find_spec(self, fullname: str, path: object, target: object = None) -> ModuleSpec | None:
        del path, target
        return (
            ModuleSpec(fullname, self, origin=str(self.module)) if fullname == self.name else None
        )

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.tree, str(ROOT / self.module), "exec"), module.__dict__)  # noqa: S102


def fork(tests: Sequence[str], mutated: Mutated | None) -> int:
    """Run these tests in a process of its own, which ends with 0 if all passed; its number."""
    sys.stdout.flush()
    pid = os.fork()
    if pid:
        return pid
    os.setsid()
    quiet = os.open(os.devnull, os.O_WRONLY)
    os.dup2(quiet, 1)
    os.dup2(quiet, 2)
    if mutated is not None:
        sys.meta_path.insert(0, mutated)
    code = pytest.main(["-q", "-x", "-p", "no:cacheprovider", "--assert=plain", *tests])
    os._exit(int(code))


@dataclass
class Try:
    """One mutant: what is run against it now, and what is left to run."""

    module: Path
    mutant: Mutant
    rounds: list[Sequence[str]]
    pid: int = 0
    began: float = 0.0

    def start(self) -> None:
        self.began = time.monotonic()
        self.pid = fork(self.rounds.pop(0), Mutated(self.module, self.mutant.tree))

    def ended(self, allowed_s: float) -> bool | None:
        """Whether it was found out; None: it runs still."""
        done, status = os.waitpid(self.pid, os.WNOHANG)
        if not done:
            if time.monotonic() - self.began < allowed_s:
                return None
            os.killpg(self.pid, signal.SIGKILL)
            os.waitpid(self.pid, 0)
            return True
        if os.waitstatus_to_exitcode(status) != 0:
            return True
        if not self.rounds:
            return False
        self.start()
        return None


@dataclass
class Run:
    """All of it."""

    seconds: float
    jobs: int
    allowed_s: dict[Path, float] = field(default_factory=dict)
    """By module: longest that its tests may take."""
    tried: dict[Path, int] = field(default_factory=dict)
    alive: list[Try] = field(default_factory=list)
    """Those that nothing noticed."""

    def rounds(self, module: Path) -> list[Sequence[str]]:
        near, wide = mirrored(module), neighbours(module)
        return [tests for tests in (near, wide) if tests]

    def measure(self, module: Path) -> bool:
        """Look how long its tests take without a fault; whether there are any, and they pass."""
        began, passed = time.monotonic(), bool(self.rounds(module))
        for tests in self.rounds(module):
            _, status = os.waitpid(fork(tests, None), 0)
            passed = passed and status == 0
        self.allowed_s[module] = TIMES * (time.monotonic() - began) + MORE_S
        return passed

    def run(self, chosen: Iterator[tuple[Path, int]]) -> None:
        until = time.monotonic() + self.seconds
        running: list[Try] = []
        pause = Event()
        more = True
        while running or more:
            more = more and time.monotonic() < until
            while more and len(running) < self.jobs:
                picked = next(chosen, None)
                if picked is None:
                    more = False
                    break
                running.append(self.begun(*picked))
            running = [one for one in running if not self.over(one)]
            pause.wait(POLL_S)

    def begun(self, module: Path, number: int) -> Try:
        source = (ROOT / module).read_text("utf-8")
        one = Try(module, mutant(source, number), self.rounds(module))
        one.start()
        return one

    def over(self, one: Try) -> bool:
        found = one.ended(self.allowed_s[one.module])
        if found is None:
            return False
        self.tried[one.module] = self.tried.get(one.module, 0) + 1
        if not found:
            self.alive.append(one)
            print(f"{one.module}:{one.mutant.line}: {one.mutant.what}", flush=True)
        return True


def chosen(modules: Sequence[Path], number: int, seed: int) -> list[tuple[Path, int]]:
    """So many mutants of all that there are, the same for a seed."""
    every = [
        (module, one)
        for module in modules
        for one in range(count((ROOT / module).read_text("utf-8")))
    ]
    return Random(seed).sample(every, min(number, len(every)))


def main() -> int:
    parser = argparse.ArgumentParser(prog="tests.mutants", description=__doc__)
    parser.add_argument("modules", nargs="*", type=Path, metavar="MODULE")
    parser.add_argument("--number", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--seconds", type=float, default=1_800.0)
    options = parser.parse_args()
    picked = chosen(options.modules or core(), options.number, options.seed)
    run = Run(options.seconds, options.jobs)
    for module in sorted({module for module, _ in picked}):
        if not run.measure(module):
            print(f"{module}: no tests, or they fail as it is", file=sys.stderr)
            picked = [one for one in picked if one[0] != module]
    run.run(iter(picked))
    tried, alive = sum(run.tried.values()), len(run.alive)
    for module, number in sorted(run.tried.items()):
        left = sum(one.module == module for one in run.alive)
        print(f"{module}: {number - left} of {number} found out")
    share = 100 * (tried - alive) / max(tried, 1)
    print(f"seed {options.seed}: {tried - alive} of {tried} found out, {share:.1f} %")
    return 0 if tried else 1


if __name__ == "__main__":
    sys.exit(main())
