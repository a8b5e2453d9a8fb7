"""The folder listing is the first page a reader sees: it stays as it is documented."""

import ast
import re
from collections.abc import Collection
from pathlib import Path

TOP_LEVEL = {
    ".ci",
    ".gitattributes",
    ".github",
    ".gitignore",
    "CHANGELOG.md",
    "DEVELOPERS.md",
    "LICENSE",
    "Makefile",
    "README.md",
    "constraints.txt",
    "monitor",
    "protocol",
    "pyproject.toml",
    "shared",
    "simulators",
    "tests",
}
CODE = ("protocol", "monitor", "simulators", "shared")
CROSS_CUTTING = {
    "benchmarks", "functional", "fuzz", "golden", "mutants", "repository", "simulation", "stories",
    "threats",
}  # fmt: skip
"""Folders of tests that are about several modules together."""
TOPICS = {
    "test_snapshots.py": "whole screens as pictures",
    "test_mistakes.py": "what people get wrong at any command, as a table",
    "test_rounding.py": "no screen shows more air or time than there is",
    "test_out_of_range.py": "one rule, through contact, silence, listening and deadlines",
}
"""Single files that are, each with what holds them together."""


def test_the_top_level_is_the_documented_one(tracked: tuple[Path, ...]) -> None:
    assert {path.parts[0] for path in tracked} == TOP_LEVEL


def test_every_test_file_mirrors_a_module(root: Path, modules: dict[Path, ast.Module]) -> None:
    astray = []
    for path in modules:
        if path.parts[0] != "tests" or not path.name.startswith("test_"):
            continue
        if path.parts[1] in CROSS_CUTTING or path.name in TOPICS:
            continue
        folder = root.joinpath(*path.parts[1:-1])
        stem = path.stem.removeprefix("test_")
        if folder.name != stem and not any(
            (folder / f"{name}.py").is_file() for name in mirrored(path, modules)
        ):
            astray.append(str(path))
    assert astray == []


def mirrored(path: Path, modules: Collection[Path]) -> list[str]:
    """The module a test file is of; ``test_sequencer_links`` is of that of ``test_sequencer``."""
    words = path.stem.removeprefix("test_").split("_")
    names = ["_".join(words[:count]) for count in range(len(words), 0, -1)]
    return names[:1] + [n for n in names[1:] if path.with_name(f"test_{n}.py") in modules]


def test_every_folder_and_module_is_on_the_map(root: Path, modules: dict[Path, ast.Module]) -> None:
    text = (root / "DEVELOPERS.md").read_text("utf-8")
    block = re.search(r"^## Map\n.*?```\n(.*?)```", text, re.MULTILINE | re.DOTALL)
    assert block
    words = set(re.findall(r"[\w./-]+", block[1]))
    absent = []
    for path in modules:
        if path.parts[0] not in CODE or path.name == "__init__.py":
            continue
        if path.stem not in words:
            absent.append(str(path))
        if not {f"{part}/" for part in path.parts[:-1]} <= words:
            absent.append(f"{path.parent}/")
    assert sorted(set(absent)) == [], " ".join(absent)


def test_nothing_on_the_map_has_gone(root: Path, modules: dict[Path, ast.Module]) -> None:
    text = (root / "DEVELOPERS.md").read_text("utf-8")
    block = re.search(r"^## Map\n.*?```\n(.*?)```", text, re.MULTILINE | re.DOTALL)
    assert block
    folders = {f"{part}/" for path in modules for part in path.parts[:-1]}
    folders |= {f"{entry.name}/" for entry in (root / "shared").iterdir()} | {".ci/"}
    folders |= {f"{entry.name}/" for entry in (root / "tests").iterdir()}
    named = set(re.findall(r"(?<![\w/])[\w.-]+/(?![\w])", block[1]))
    assert named <= folders
