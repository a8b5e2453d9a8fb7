"""House rules about code that no linter knows."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

FUNCTION_LINES_MAX = 70
MODULE_LINES_MAX = 500
TEST_MODULE_LINES_MAX = 800
"""Tests are lists of cases: they are read one at a time."""

Modules = dict[Path, ast.Module]
Nodes = dict[Path, list[ast.AST]]
UNFINISHED = ("TO" + "DO", "FIX" + "ME", "XX" + "X", "HA" + "CK")
pytestmark = pytest.mark.xdist_group("code")
"""One worker reads all the code."""
SLEEPS = {"sleep"}
PATCHES = {"setattr", "patch"}


def lines_of(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    return (node.end_lineno or node.lineno) - node.lineno + 1


def calls(nodes: list[ast.AST], names: set[str]) -> Iterator[tuple[str, int]]:
    """Every call of an attribute of one of these names: what it is asked of, and its line."""
    for node in nodes:
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        if node.func.attr in names:
            yield ast.unparse(node.func.value), node.lineno


def test_a_function_fits_a_screen(nodes: Nodes) -> None:
    long = [
        f"{path}:{node.lineno} {node.name}: {lines_of(node)} lines"
        for path, every in nodes.items()
        for node in every
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and lines_of(node) > FUNCTION_LINES_MAX
    ]
    assert long == []


def test_a_module_has_one_idea(root: Path, modules: Modules) -> None:
    long = {}
    for path in modules:
        lines = (root / path).read_text("utf-8").count("\n")
        limit = TEST_MODULE_LINES_MAX if path.parts[0] == "tests" else MODULE_LINES_MAX
        if lines > limit:
            long[str(path)] = lines
    assert long == {}


def test_nothing_is_left_for_later(root: Path, modules: Modules) -> None:
    found = [
        f"{path}:{number}"
        for path in modules
        for number, line in enumerate((root / path).read_text("utf-8").splitlines(), 1)
        if any(f" {word}" in line or f"#{word}" in line for word in UNFINISHED)
    ]
    assert found == []


def test_nothing_is_a_stub(nodes: Nodes) -> None:
    found = [
        f"{path}:{node.lineno}"
        for path, every in nodes.items()
        for node in every
        if isinstance(node, ast.Name) and node.id == "NotImplementedError"
    ]
    assert found == []


def test_no_test_is_skipped_or_expected_to_fail(nodes: Nodes) -> None:
    found = [
        f"{path}:{node.lineno}"
        for path, every in nodes.items()
        for node in every
        if isinstance(node, ast.Attribute)
        and node.attr in {"skip", "skipif", "xfail", "importorskip"}
        and ast.unparse(node.value) in {"pytest", "pytest.mark"}
    ]
    assert found == []


def test_only_functional_tests_sleep(nodes: Nodes) -> None:
    found = [
        f"{path}:{line}"
        for path, every in nodes.items()
        if path.parts[0] == "tests" and path.parts[1] not in {"functional", "benchmarks"}
        for owner, line in calls(every, SLEEPS)
        if owner in {"time", "asyncio"}
    ]
    assert found == []


def test_nothing_is_patched(nodes: Nodes) -> None:
    found = [
        f"{path}:{line}"
        for path, every in nodes.items()
        for owner, line in calls(every, PATCHES)
        if owner in {"monkeypatch", "mock", "mocker", "unittest.mock"}
    ]
    assert found == []


def test_every_module_says_what_it_is(modules: Modules) -> None:
    silent = [
        str(path)
        for path, tree in modules.items()
        if path.parts[0] != "tests" and not ast.get_docstring(tree)
    ]
    assert silent == []
