"""The wheel, installed in an environment of its own far from the checkout, has all it needs."""

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
DATA = (
    "scenarios/kiln-lane.toml",
    "rosters/kiln-lane.toml",
    "procedures/plain.toml",
    "cylinders.toml",
)
PAGES = (
    "protocol/PACKET-FORMAT.md", "monitor/journal/JOURNAL-FORMAT.md", "monitor/PROCEDURES.md",
    "monitor/export/DATA-DICTIONARY.md", "monitor/report/page.css", "protocol/outby.lua",
)  # fmt: skip

READ_EVERYTHING = """
import pathlib, monitor, shared
from monitor import cylinders, procedures, roster
from simulators import scenario_file
print(pathlib.Path(monitor.__file__).parent)
cylinders.load()
for name in shared.names("procedures"): procedures.load(name)
for name in shared.names("rosters"): roster.load(name)
for name in shared.names("scenarios"): scenario_file.load(name)
print(*shared.names("procedures"), *shared.names("rosters"), *shared.names("scenarios"))
"""


def run(*argv: str | Path, cwd: Path, **environ: str) -> str:
    done = subprocess.run(
        argv, cwd=cwd, env=os.environ | environ, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    build = ("-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT)
    run(sys.executable, *build, cwd=folder)
    (made,) = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def elsewhere(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment with the wheel in it; what it depends on is lent by the one we run in."""
    folder = tmp_path_factory.mktemp("elsewhere")
    run(sys.executable, "-m", "venv", "--without-pip", folder / "venv", cwd=folder)
    python = folder / "venv" / "bin" / "python"
    pip = ("-m", "pip", "--python", python, "install", "-q", "--no-index", "--no-deps", wheel)
    run(sys.executable, *pip, cwd=folder)
    ask = "import sysconfig; print(sysconfig.get_path('purelib'))"
    own = Path(run(python, "-c", ask, cwd=folder).strip())
    # A path added this way runs none of its own .pth files: the checkout stays out of sight.
    (own / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return folder


def test_the_wheel_holds_data_and_format_pages_but_no_tests(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert {f"shared/{name}" for name in DATA} | set(PAGES) <= set(names)
    assert not [name for name in names if name.startswith("tests/")]
    assert [name for name in names if name.endswith("/licenses/LICENSE")]


def test_the_installed_program_finds_its_data(elsewhere: Path) -> None:
    python = elsewhere / "venv" / "bin" / "python"
    place, names = run(python, "-c", READ_EVERYTHING, cwd=elsewhere).splitlines()
    assert elsewhere in Path(place).parents
    assert {"plain", "kiln-lane"} <= set(names.split())


def test_the_installed_command_runs(elsewhere: Path) -> None:
    command = elsewhere / "venv" / "bin" / "outby"
    assert run(command, "--version", cwd=elsewhere).startswith("outby ")
    assert "EXIT STATUS" in run(command, "drill", "--help", cwd=elsewhere)
