"""What the project stands on is written down once, exactly, and argued."""

import re
import tomllib
from pathlib import Path

import pytest


def normal(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def names(requirements: list[str]) -> set[str]:
    return {normal(re.split(r"[<>=!~\[; ]", line, maxsplit=1)[0]) for line in requirements}


@pytest.fixture(scope="module")
def project(root: Path) -> dict[str, list[str]]:
    table = tomllib.loads((root / "pyproject.toml").read_text("utf-8"))["project"]
    extra = table["optional-dependencies"]
    return {"run": table["dependencies"], "dev": extra["dev"] + extra["readback"] + extra["bench"]}


@pytest.fixture(scope="module")
def constraints(root: Path) -> dict[str, str]:
    lines = (root / "constraints.txt").read_text("utf-8").splitlines()
    pinned = [line for line in lines if not line.startswith("#")]
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+!-]+", line) for line in pinned)
    return {normal(name): version for name, version in (line.split("==") for line in pinned)}


def test_every_dependency_is_pinned(
    project: dict[str, list[str]], constraints: dict[str, str]
) -> None:
    assert names(project["run"] + project["dev"]) <= set(constraints)


def test_every_dependency_is_argued(project: dict[str, list[str]], root: Path) -> None:
    text = (root / "DEVELOPERS.md").read_text("utf-8")
    section = re.search(r"^## Dependencies\n(.*?)(?=^## |\Z)", text, re.MULTILINE | re.DOTALL)
    assert section
    argued = {normal(name) for name in re.findall(r"^\| `([\w.-]+)`", section[1], re.MULTILINE)}
    assert argued == names(project["run"] + project["dev"])


def test_every_lint_exception_has_its_reason(root: Path) -> None:
    text = (root / "pyproject.toml").read_text("utf-8")
    lint = text[text.index("[tool.ruff.lint]") : text.index("[tool.ruff.lint.flake8")]
    codes = re.findall(r'^  "([A-Z]+\d*)",(.*)$', lint, re.MULTILINE)
    assert codes
    assert [code for code, rest in codes if not re.match(r" +# \w", rest)] == []
