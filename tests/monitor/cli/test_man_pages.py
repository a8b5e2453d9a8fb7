"""Manual pages, read by the formatter that shows them."""

import subprocess
from pathlib import Path

import pytest

from monitor.cli import COMMANDS
from monitor.cli.man_pages import main, pages


def test_there_is_one_for_each_command(tmp_path: Path) -> None:
    main(tmp_path / "man1")
    made = {path.name for path in (tmp_path / "man1").iterdir()}
    assert made == {"outby.1", *(f"outby-{name}.1" for name in COMMANDS)}


@pytest.mark.parametrize(("name", "text"), list(pages()), ids=lambda x: x[:20].strip())
def test_a_page_has_the_sections_of_man_pages(name: str, text: str) -> None:
    """man-pages(7): NAME first, with one dash between name and what it is."""
    lines = text.splitlines()
    assert lines[0].startswith(f".TH {name.removesuffix('.1').upper()} 1 ")
    assert lines[1] == ".SH NAME"
    assert lines[2].startswith(name.removesuffix(".1").replace("-", "\\-") + " \\- ")
    for section in ("SYNOPSIS", "DESCRIPTION", "EXAMPLES", "EXIT STATUS"):
        assert f".SH {section}" in lines


def test_the_formatter_finds_nothing_wrong(tmp_path: Path) -> None:
    """groff(1) with every warning; what it shows is what the help says."""
    main(tmp_path)
    done = subprocess.run(  # noqa: S603 - the system's own program
        ["groff", "-man", "-ww", "-Tutf8", *sorted(map(str, tmp_path.iterdir()))],  # noqa: S607
        capture_output=True,
        text=True,
        check=True,
        env={"PATH": "/usr/bin:/bin", "GROFF_NO_SGR": "1"},
    )
    assert done.stderr == ""
    assert "--incidents-folder FOLDER" in done.stdout
    assert "a roster, scenario, procedure, key or settings file is not right" in done.stdout
