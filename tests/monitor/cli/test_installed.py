"""The order in which the command looks for what it imports: what is its own, then Python's."""

import ast
import sys
from pathlib import Path

import pytest

from monitor.cli import installed

FOUND = ["/tools", "/python/lib", "/me/site-packages", "/env/site-packages"]
"""As an interpreter has them where PYTHONPATH names the first, and a user has site-packages."""


@pytest.fixture
def home(tmp_path: Path) -> str:
    """The folder of a program that is installed whole."""
    (tmp_path / "monitor").mkdir()
    return str(tmp_path)


def test_what_pythonpath_names_comes_last(home: str) -> None:
    path = installed.path(home, FOUND, ["/tools"], "")
    assert path == [home, "/python/lib", "/me/site-packages", "/env/site-packages", "/tools"]


def test_the_current_folder_is_not_looked_into_however_it_is_named(home: str) -> None:
    here = str(Path.cwd())
    for named in ("", ".", "../" + Path.cwd().name):
        path = installed.path(home, [here, *FOUND], [named, "/tools"], "")
        assert here not in path
        assert path[-1] == "/tools"


def test_a_checkout_is_found_where_it_is_whatever_else_names_it(tmp_path: Path) -> None:
    """An editable installation has it on the path: once, though PYTHONPATH says "." there."""
    here = str(Path.cwd())
    path = installed.path(str(tmp_path), [here, *FOUND], ["."], "")
    assert path == [str(tmp_path), *FOUND, here]


def test_the_user_s_packages_are_looked_into_only_by_a_program_that_is_among_them(
    home: str,
) -> None:
    assert "/me/site-packages" not in installed.path(home, FOUND, [], "/me/site-packages")
    assert installed.path("/me/site-packages/outby", FOUND, [], "/me/site-packages")[1:] == FOUND
    assert "/me/site" not in installed.path("/me/site-packages/outby", FOUND, [], "/me/site")


def test_nothing_is_imported_before_the_order_is_right() -> None:
    """But what the interpreter has loaded by itself, from no folder: these are frozen into it."""
    tree = ast.parse(Path(installed.__file__).read_text("utf-8"))
    before = [
        name.name for node in tree.body if isinstance(node, ast.Import) for name in node.names
    ]
    assert before == ["os", "site", "sys"]
    assert not [node for node in tree.body if isinstance(node, ast.ImportFrom)]
    for name in ("os", "site"):
        spec = sys.modules[name].__spec__
        assert spec is not None
        assert spec.origin == "frozen"
