"""The project's own files, as version control knows them."""

import ast
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def root() -> Path:
    return ROOT


@pytest.fixture(scope="session")
def tracked() -> tuple[Path, ...]:
    """Every file that a clone has and that is still there, relative to the root."""
    listed = subprocess.run(
        ["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout
    paths = (Path(name) for name in listed.split("\0") if name)
    return tuple(path for path in paths if (ROOT / path).is_file())


@pytest.fixture(scope="session")
def modules(tracked: tuple[Path, ...]) -> dict[Path, ast.Module]:
    """Every Python file, parsed."""
    return {
        path: ast.parse((ROOT / path).read_text("utf-8"))
        for path in tracked
        if path.suffix == ".py"
    }


@pytest.fixture(scope="session")
def nodes(modules: dict[Path, ast.Module]) -> dict[Path, list[ast.AST]]:
    """Every node of each of them: what asks for all walks once."""
    return {path: list(ast.walk(tree)) for path, tree in modules.items()}


@pytest.fixture(scope="session")
def documents(tracked: tuple[Path, ...]) -> dict[Path, str]:
    """Every Markdown page."""
    return {path: (ROOT / path).read_text("utf-8") for path in tracked if path.suffix == ".md"}
