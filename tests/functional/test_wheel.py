"""The wheel, installed in an environment of its own far from the checkout, has all it needs."""

import os
import shutil
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

from tests.monitor import hostile_files

pytestmark = pytest.mark.xdist_group("wheel")
"""One worker makes it, for all of them."""

ROOT = Path(__file__).resolve().parents[2]
DATA = (
    "scenarios/kiln-lane.toml",
    "rosters/kiln-lane.toml",
    "procedures/plain.toml",
    "cylinders.toml",
)
PARTS = ("monitor", "protocol", "shared", "simulators")
PAGES = (
    "protocol/PACKET-FORMAT.md", "monitor/journal/JOURNAL-FORMAT.md", "monitor/PROCEDURES.md",
    "monitor/export/DATA-DICTIONARY.md", "monitor/report/page.css", "protocol/outby.lua",
)  # fmt: skip

READ_EVERYTHING = """
import pathlib, sys, outby
sys.path.insert(0, outby.__path__[0])
import monitor, shared
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
    assert {f"outby/shared/{name}" for name in DATA} <= set(names)
    assert {f"outby/{name}" for name in PAGES} <= set(names)
    assert "outby/py.typed" in names  # PEP 561
    assert not [name for name in names if "tests" in Path(name).parts]
    assert [name for name in names if name.endswith("/licenses/LICENSE")]


def test_it_installs_one_package_and_no_name_that_others_use(wheel: Path, elsewhere: Path) -> None:
    names = {Path(name).parts[0] for name in zipfile.ZipFile(wheel).namelist()}
    assert sorted(names) == ["outby", f"{wheel.name.rsplit('-', 3)[0]}.dist-info"]
    python = elsewhere / "venv" / "bin" / "python"
    ask = "import importlib.util as u; print(*map(u.find_spec, sys.argv[1:]))"
    found = run(python, "-c", f"import sys; {ask}", *PARTS, cwd=elsewhere)
    assert found.split() == ["None"] * len(PARTS)


def test_nothing_of_a_hostile_environment_is_run_by_the_command(elsewhere: Path) -> None:
    """Packages of others beside it, and all that ``PYTHONPATH`` and the current folder hold.

    But for the names that Python, or the line that an installer wrote, looks for before the program
    has begun: nothing in a program could prevent these (see DESIGN.md).
    """
    folder = elsewhere / "of-others"
    before = {"outby", "sitecustomize", "usercustomize"}
    hostile_files.lay(folder, [*set(hostile_files.NAMES) - before, "pathlib", "argparse", "os"])
    (site,) = elsewhere.glob("venv/lib/python*/site-packages")
    laid = [Path(shutil.copy(folder / f"{part}.py", site)) for part in PARTS]
    command = elsewhere / "venv" / "bin" / "outby"
    try:
        said = run(command, "packs", "--airtime", cwd=folder, PYTHONPATH=f":{folder}")
    finally:
        for one in laid:
            one.unlink()
    assert said.startswith("8 packs")
    assert hostile_files.run_by_mistake(folder) == ""


def test_what_it_starts_runs_the_installed_code(elsewhere: Path) -> None:
    python = elsewhere / "venv" / "bin" / "python"
    ask = (
        "from monitor import children; print(*children.line('monitor.cli', '--version'), sep='\\n')"
    )
    path = "import sys, outby; sys.path.insert(0, outby.__path__[0]); "
    line = run(python, "-c", path + ask, cwd=elsewhere).splitlines()
    assert str(elsewhere) in line[-3]
    assert run(*line, cwd=elsewhere).startswith("outby ")


def test_an_editable_installation_has_the_checkout_on_its_path(tmp_path: Path) -> None:
    """Nothing of the checkout is copied but where the command starts and that its types count."""
    build = "import sys, hatchling.build as b; print(b.build_editable(sys.argv[1]))"
    made = run(sys.executable, "-c", build, tmp_path, cwd=ROOT).split()[-1]
    with zipfile.ZipFile(tmp_path / made) as archive:
        files = {name for name in archive.namelist() if "dist-info" not in name}
        assert files == {"_outby.pth", "outby/__init__.py", "outby/py.typed"}
        assert archive.read("_outby.pth").decode() == str(ROOT)


def test_the_installed_program_finds_its_data(elsewhere: Path) -> None:
    python = elsewhere / "venv" / "bin" / "python"
    place, names = run(python, "-c", READ_EVERYTHING, cwd=elsewhere).splitlines()
    assert elsewhere in Path(place).parents
    assert {"plain", "kiln-lane"} <= set(names.split())


def test_the_installed_command_runs(elsewhere: Path) -> None:
    command = elsewhere / "venv" / "bin" / "outby"
    assert run(command, "--version", cwd=elsewhere).startswith("outby ")
    assert "EXIT STATUS" in run(command, "drill", "--help", cwd=elsewhere)
