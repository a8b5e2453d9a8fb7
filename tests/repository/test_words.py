"""Words that belong to one machine or one person's desk, and never into the project."""

from pathlib import Path

TEXT = {".py", ".md", ".toml", ".txt", ".json", ".cfg", ".tcss", ""}
MACHINE_PATHS = tuple(f"/{folder}/" for folder in ("root", "home", "opt", "Users", "work"))
HOSTS = tuple(".".join(parts) for parts in (("pypi", "org"), ("pythonhosted", "org")))
LEFT_OVERS = ("trans" + "cript", "seed " + "document")
ALLOWED = {"tests/repository/test_words.py"}


def found(root: Path, tracked: tuple[Path, ...], words: tuple[str, ...]) -> list[str]:
    hits = []
    for path in tracked:
        if path.suffix not in TEXT or str(path) in ALLOWED:
            continue
        for number, line in enumerate((root / path).read_text("utf-8").splitlines(), 1):
            hits += [f"{path}:{number}: {word}" for word in words if word in line.lower()]
    return hits


def test_no_path_of_one_machine(root: Path, tracked: tuple[Path, ...]) -> None:
    home = f"{Path.home()}/".lower()
    assert found(root, tracked, (*(p.lower() for p in MACHINE_PATHS), home)) == []


def test_no_registry_host(root: Path, tracked: tuple[Path, ...]) -> None:
    assert found(root, tracked, HOSTS) == []


def test_no_left_overs_of_how_it_was_made(root: Path, tracked: tuple[Path, ...]) -> None:
    assert found(root, tracked, LEFT_OVERS) == []
