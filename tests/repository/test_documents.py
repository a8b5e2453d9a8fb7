"""Pages say what the code says."""

import re
from pathlib import Path

import pytest

from monitor.board.keys.table import GROUPS, KEYS, TABLE
from monitor.cli import COMMANDS
from monitor.errors import Exit
from monitor.settings import Settings


@pytest.fixture(scope="module")
def readme(root: Path) -> str:
    return (root / "README.md").read_text("utf-8")


def table(text: str, heading: str) -> list[list[str]]:
    """The cells of the first table under a heading, without its head."""
    section = text[text.index(f"\n## {heading}\n") :]
    rows = re.search(r"(^\|.*\n)+", section, re.MULTILINE)
    assert rows
    lines = rows[0].splitlines()[2:]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def test_every_link_inside_the_project_leads_somewhere(
    root: Path, documents: dict[Path, str]
) -> None:
    dead = [
        f"{page}: {target}"
        for page, text in documents.items()
        for target in re.findall(r"\]\(([^)#\s]+)[^)]*\)", text)
        if "://" not in target and not (root / page.parent / target).exists()
    ]
    assert dead == []


def test_each_walk_leads_to_the_names_that_it_gives(root: Path, documents: dict[Path, str]) -> None:
    """In code type behind a link: a name that stands in that file."""
    page = Path(".github/WALKS.md")
    parts = re.split(r"^## ", documents[page], flags=re.MULTILINE)[1:]
    assert len(parts) == 5
    absent = []
    for target, behind in re.findall(r"\]\(([^)]+)\)([^\[#]*)", "\n".join(parts)):
        names = re.findall(r"`(\w+)`", behind)
        text = (root / page.parent / target).read_text("utf-8") if names else ""
        absent += [f"{target}: {name}" for name in names if not re.search(rf"\b{name}\b", text)]
    assert absent == []


def test_the_exit_codes_are_the_ones_of_the_program(readme: str) -> None:
    assert table(readme, "Exit codes") == [[str(int(code)), code.words] for code in Exit]


def test_the_settings_are_the_ones_of_the_program(readme: str) -> None:
    documented = [row[0].strip("`") for row in table(readme, "Settings")]
    assert documented == list(Settings.model_fields)


def test_the_commands_are_the_ones_of_the_program(readme: str) -> None:
    documented = [row[0].strip("`").removeprefix("outby ") for row in table(readme, "Commands")]
    assert documented == list(COMMANDS)


def test_the_keys_are_the_ones_of_the_board(documents: dict[Path, str]) -> None:
    documented = table(documents[Path("DEVELOPERS.md")], "Keys")
    assert documented == [[key.shown, key.words] for key in KEYS]


def test_what_has_two_digits_is_what_the_board_has(readme: str) -> None:
    rows = []
    for n, part in GROUPS.items():
        entries = [f"{e.code[1]} {e.words}" for e in TABLE.entries if e.code[0] == n]
        rows.append([n, part.lower(), "; ".join(entries)])
    assert table(readme, "From check-in to handing over") == rows


def test_the_caution_stands_before_anything_can_be_run(readme: str) -> None:
    caution = readme.index("not a certified safety device")
    assert caution < readme.index("make demo")


def test_every_make_word_in_the_pages_is_a_target(root: Path, documents: dict[Path, str]) -> None:
    targets = set(re.findall(r"^(\w+):", (root / "Makefile").read_text("utf-8"), re.MULTILINE))
    asked = {
        word
        for text in documents.values()
        for word in re.findall(r"(?:^|`)make (\w+)", text, re.MULTILINE)
    }
    assert {"demo", "test", "check", "bench"} <= asked
    assert asked <= targets


def test_the_changelog_begins_with_what_is_not_yet_released(documents: dict[Path, str]) -> None:
    headings = re.findall(r"^## (.*)$", documents[Path("CHANGELOG.md")], re.MULTILINE)
    assert headings[0] == "Unreleased"
