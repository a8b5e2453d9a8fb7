"""Processes of our own: whatever lies where they are started, they run nothing of it."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from monitor import children
from tests.monitor import hostile_files

ROOT = Path(__file__).resolve().parents[2]


def run(folder: Path, *line: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 - our own program
        line,
        cwd=folder,
        env=hostile_files.environ(folder),
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def hostile(tmp_path: Path) -> Path:
    hostile_files.lay(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", ["json", "monitor"])
def test_a_careless_start_runs_what_lies_there(hostile: Path, name: str) -> None:
    """So that the other tests here can fail: this is how a child was started before."""
    assert run(hostile, sys.executable, "-c", f"import {name}").returncode
    assert hostile_files.run_by_mistake(hostile)


def test_a_child_runs_nothing_of_folder_path_or_user_site(hostile: Path) -> None:
    done = run(hostile, *children.line("monitor.cli", "--version"))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("outby ")
    assert hostile_files.run_by_mistake(hostile) == ""


def test_nor_where_no_environment_of_its_own_keeps_the_user_site_out(hostile: Path) -> None:
    """The interpreter below the virtual environment looks into the user's site-packages."""
    below = getattr(sys, "_base_executable", sys.executable)
    careless = run(hostile, below, "-P", "-c", "")
    assert careless.returncode or hostile_files.run_by_mistake(hostile)
    (hostile / hostile_files.RUN).unlink(missing_ok=True)
    done = run(hostile, below, *children.line("shared.printable")[1:])
    assert (done.returncode, done.stderr) == (0, "")
    assert hostile_files.run_by_mistake(hostile) == ""


def test_a_child_has_its_words_and_no_others(tmp_path: Path) -> None:
    """A wrong word is named as it was given: nothing of how it is started stands among them."""
    done = run(tmp_path, *children.line("monitor.cli", "no-such-command"))
    assert done.returncode == 2
    assert "no-such-command" in done.stderr
    assert "outby" in done.stderr


def test_it_runs_the_code_of_its_parent() -> None:
    assert str(ROOT) in children.line("monitor.cli")


def test_what_is_found_by_pythonpath_alone_a_child_finds_last(
    hostile: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Program and packages in folders of their own, named by PYTHONPATH: the recorder starts too.

    Nothing in such a folder stands in for what is there without it, or is run by itself.
    """
    (hostile / "only_there.py").write_text("import json, monitor; print(json.dumps('found'))")
    monkeypatch.setenv("PYTHONPATH", f":.:{hostile}")
    done = run(tmp_path_factory.mktemp("elsewhere"), *children.line("only_there"))
    assert (done.returncode, done.stdout, done.stderr) == (0, '"found"\n', "")
    assert hostile_files.run_by_mistake(hostile) == ""
    assert children.looked_into_last(f":.:{hostile}:lib") == str(hostile)


def test_a_program_that_lives_in_the_user_site_finds_itself_there() -> None:
    """``pip install --user``: without it neither the program nor what it needs could be found."""
    site = Path("/somewhere/lib/python3/site-packages")
    assert "-s" not in children.flags(site, str(site))
    assert "-s" not in children.flags(site / "outby", str(site))
    assert children.flags(ROOT, str(site)) == ("-I",)
    assert children.flags(site, None) == ("-I",)


def test_no_other_module_starts_the_interpreter(tmp_path: Path) -> None:
    """One place says how; ``sys.executable`` anywhere else would be a second way."""
    found = [
        str(path.relative_to(ROOT))
        for part in ("monitor", "protocol", "simulators", "shared")
        for path in (ROOT / part).rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Attribute) and node.attr == "executable"
    ]
    assert sorted(set(found)) == ["monitor/children.py"]
