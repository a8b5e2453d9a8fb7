"""``make`` says in one line what it lacks, and each word works alone."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest


@pytest.fixture
def clone(root: Path, tmp_path: Path) -> Path:
    """A folder with the build files alone."""
    for name in ("Makefile", "pyproject.toml", "constraints.txt"):
        shutil.copy(root / name, tmp_path)
    return tmp_path


def make(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Run it as from a shell, though the tests themselves may be run by make."""
    environ = {name: value for name, value in os.environ.items() if not name.startswith("MAKE")}
    return subprocess.run(
        ["make", *words], cwd=folder, env=environ, capture_output=True, text=True, check=False
    )


def python_that(folder: Path, script: str) -> str:
    """A program that stands where Python should be."""
    path = folder / "python"
    path.write_text(f"#!/bin/sh\n{script}\n")
    path.chmod(0o755)
    return f"PYTHON={path}"


def test_a_python_too_old_is_said_to_be_so(clone: Path) -> None:
    done = make(clone, "demo", python_that(clone, "exit 1"))
    assert done.returncode != 0
    assert done.stderr.startswith("Outby needs Python 3.11 or newer")
    assert not (clone / ".venv").exists()


def test_a_missing_venv_module_is_said_to_be_so(clone: Path) -> None:
    """The check of the version passes; the making of the environment fails."""
    done = make(clone, "demo", python_that(clone, '[ "$1" = -c ]'))
    assert "apt-get install python3-venv" in done.stderr
    assert not (clone / ".venv").exists()


@pytest.mark.parametrize("word", ["demo", "test", "check", "bench", "fuzz", "format"])
def test_each_word_makes_its_own_environment(clone: Path, word: str) -> None:
    planned = make(clone, "-n", word).stdout
    assert "-m venv .venv" in planned
    assert "-c constraints.txt" in planned


def test_the_demo_needs_no_development_packages(clone: Path) -> None:
    assert "[dev" not in make(clone, "-n", "demo").stdout


def test_each_python_that_is_not_here_is_named(clone: Path, root: Path) -> None:
    """None at all is no success: nothing was tried."""
    shutil.copytree(root / ".ci", clone / ".ci")
    done = make(clone, "pythons", "TESTS=tests/none", "PYTHONS=python3.11.nowhere")
    assert done.stdout == "python3.11.nowhere: not on this machine, or without venv\n"
    assert done.returncode != 0


def test_clean_works_where_nothing_was_made(clone: Path) -> None:
    assert make(clone, "clean", "CODE=.").returncode == 0
