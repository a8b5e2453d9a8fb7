"""Which faults are made, and that they are run against the tests of their module alone."""

import ast
import importlib
import subprocess
import sys
from pathlib import Path

import pytest

from tests.mutants.__main__ import ROOT, Mutated, mirrored, neighbours
from tests.mutants.mutate import count, mutant, mutants


def changes(source: str) -> list[str]:
    return [one.what for one in mutants(source)]


@pytest.mark.parametrize(
    ("source", "expected"),
    [
        ("x = a < b", ["a < b  ->  a <= b"]),
        ("x = a >= b", ["a >= b  ->  a > b"]),
        ("x = a is not b", ["a is not b  ->  a is b"]),
        ("x = a + b", ["a + b  ->  a - b"]),
        ("x = a and b", ["a and b  ->  a or b", "a and b  ->  b", "a and b  ->  a"]),
        ("x = not a", ["not a  ->  a"]),
        ("x = True", ["True  ->  False"]),
        ("x = 7", ["7  ->  8"]),
        ("x = 50_000_000", ["50000000  ->  100000000"]),
        ("x = a if b else c", ["a if b else c  ->  a", "a if b else c  ->  c"]),
        ("f(a)", ["f(a)  ->  pass"]),
        ("s.a = b", ["s.a = b  ->  pass"]),
        ("a += b", ["a += b  ->  pass"]),
        (
            "if a:\n    f()",
            ["if a: f()  ->  if True: f()", "if a: f()  ->  if False: f()", "f()  ->  pass"],
        ),
    ],
)
def test_what_a_person_could_have_got_wrong(source: str, expected: list[str]) -> None:
    assert changes(source) == expected


@pytest.mark.parametrize(
    "source",
    [
        '"""Words."""',
        "def f(a: int | None) -> int | str:\n    '''Words.'''\n    return a",
        "assert a < 3, 'words'",
        "from typing import TYPE_CHECKING\nif TYPE_CHECKING:\n    import os",
        "x = 'words'",
    ],
)
def test_nobody_tests_words_types_and_assertions(source: str) -> None:
    assert changes(source) == []


def test_each_mutant_is_a_module_of_its_own_with_its_line() -> None:
    source = "def f(a, b):\n    c = a + b\n    return c > 1\n"
    assert count(source) == 3
    found = []
    for number in range(3):
        one = mutant(source, number)
        names: dict[str, object] = {}
        exec(compile(one.tree, "f", "exec"), names)  # noqa: S102 - what it is made for
        found.append((one.line, names["f"](2, 1), names["f"](1, 0)))  # type: ignore[operator]
    # As it is: 2 + 1 > 1, and 1 + 0 is not. 2 - 1 is not more than 1; 1 >= 1; 3 is more than 2.
    assert found == [(2, False, False), (3, True, True), (3, True, False)]


def test_a_module_is_mutated_as_it_is_imported() -> None:
    finder = Mutated(Path("nowhere_else.py"), ast.parse("x = 3"))
    sys.meta_path.insert(0, finder)
    try:
        assert importlib.import_module("nowhere_else").x == 3
    finally:
        sys.meta_path.remove(finder)
        del sys.modules["nowhere_else"]


def test_its_own_tests_come_first_then_those_of_pure_neighbours() -> None:
    module = Path("monitor/recorder/sequencer.py")
    names = [Path(path).name for path in mirrored(module)]
    assert "test_sequencer.py" in names
    assert all(name.startswith("test_sequencer") for name in names)
    near = {Path(path).name for path in neighbours(module)}
    assert {*names, "test_intake.py"} <= near
    assert "test_recorder.py" not in near


def test_it_says_what_share_was_found_out() -> None:
    asked = ("--number", "2", "--seconds", "60", "protocol/integrity.py")
    said = subprocess.run(
        [sys.executable, "-m", "tests.mutants", *asked],
        cwd=ROOT, capture_output=True, text=True, check=True,
    ).stdout.splitlines()  # fmt: skip
    assert said[-1].startswith("seed 1: ")
    assert " of 2 found out, " in said[-1]
