"""House rules about code that no linter knows."""

import ast
from collections.abc import Iterator
from pathlib import Path

FUNCTION_LINES_MAX = 70
MODULE_LINES_MAX = 500
TEST_MODULE_LINES_MAX = 800
"""Tests are lists of cases: they are read one at a time."""

Modules = dict[Path, ast.Module]
UNFINISHED = ("TO" + "DO", "FIX" + "ME", "XX" + "X", "HA" + "CK")
SLEEPS = {"sleep"}
PATCHES = {"setattr", "patch"}


def lines_of(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    return (node.end_lineno or node.lineno) - node.lineno + 1


def calls(tree: ast.Module) -> Iterator[tuple[str, str, int]]:
    """Every call of an attribute: what it is asked of, its name, its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            yield ast.unparse(node.func.value), node.func.attr, node.lineno


def test_a_function_fits_a_screen(modules: Modules) -> None:
    long = [
        f"{path}:{node.lineno} {node.name}: {lines_of(node)} lines"
        for path, tree in modules.items()
        for node in ast.walk(tree)
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


def test_nothing_is_a_stub(modules: Modules) -> None:
    found = [
        f"{path}:{node.lineno}"
        for path, tree in modules.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Name) and node.id == "NotImplementedError"
    ]
    assert found == []


def test_no_test_is_skipped_or_expected_to_fail(modules: Modules) -> None:
    found = [
        f"{path}:{node.lineno}"
        for path, tree in modules.items()
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute)
        and node.attr in {"skip", "skipif", "xfail", "importorskip"}
        and ast.unparse(node.value) in {"pytest", "pytest.mark"}
    ]
    assert found == []


def test_only_functional_tests_sleep(modules: Modules) -> None:
    found = [
        f"{path}:{line}"
        for path, tree in modules.items()
        if path.parts[0] == "tests" and path.parts[1] not in {"functional", "benchmarks"}
        for owner, name, line in calls(tree)
        if name in SLEEPS and owner in {"time", "asyncio"}
    ]
    assert found == []


def test_nothing_is_patched(modules: Modules) -> None:
    found = [
        f"{path}:{line}"
        for path, tree in modules.items()
        for owner, name, line in calls(tree)
        if name in PATCHES and owner in {"monkeypatch", "mock", "mocker", "unittest.mock"}
    ]
    assert found == []


def test_every_module_says_what_it_is(modules: Modules) -> None:
    silent = [
        str(path)
        for path, tree in modules.items()
        if path.parts[0] != "tests" and not ast.get_docstring(tree)
    ]
    assert silent == []
