"""What a system is given: unit, rule, completion, package; read by its own tools."""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import shared
from monitor.cli import COMMANDS
from tests.functional.conftest import OUTBY

pytestmark = pytest.mark.xdist_group("system")
"""One worker makes it, for all of them."""

ROOT = Path(__file__).resolve().parents[2]
SYSTEM = shared.path("system", "outby@.service").parent
EXPOSURE_MAX = 2.5
"""Of 10, as systemd-analyze(1) reckons it; a unit without any hardening has 9.6."""


def run(*argv: str | Path, **environ: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        argv, env=os.environ | environ, capture_output=True, text=True, check=False
    )


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("deb")
    base = getattr(sys, "_base_executable", sys.executable)
    made = run(ROOT / ".ci" / "deb", folder, PYTHON=sys.executable, SYSTEM_PYTHON=base)
    assert made.returncode == 0, made.stderr
    return Path(made.stdout.strip())


@pytest.fixture(scope="module")
def installed(package: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The package's files, as dpkg lays them out, below a folder in place of the root."""
    root = tmp_path_factory.mktemp("root")
    assert run("dpkg-deb", "--extract", package, root).returncode == 0
    return root


def test_the_unit_is_right_and_hardened(tmp_path: Path) -> None:
    unit = tmp_path / "outby@kiln-lane.service"
    text = (SYSTEM / "outby@.service").read_text("utf-8")
    # Where it will stand there is no program here, and no manual page.
    text = re.sub(r"^Documentation=.*\n", "", text, flags=re.MULTILINE)
    unit.write_text(text.replace("/usr/bin/outby", str(OUTBY)))
    done = run("systemd-analyze", "verify", unit)
    assert (done.returncode, done.stderr) == (0, "")
    graded = run("systemd-analyze", "security", "--offline=true", "--no-pager", unit)
    found = re.search(r"Overall exposure level for \S+: ([\d.]+)", graded.stdout)
    assert found, graded.stdout + graded.stderr
    assert float(found[1]) <= EXPOSURE_MAX


def test_the_unit_is_watched_and_started_again() -> None:
    lines = (SYSTEM / "outby@.service").read_text("utf-8").splitlines()
    for line in ("Type=notify", "WatchdogSec=10", "Restart=on-failure", "NoNewPrivileges=yes",
                 "PrivateTmp=yes", "ProtectSystem=strict", "StateDirectory=outby"):  # fmt: skip
        assert line in lines


def test_the_rule_names_an_adapter_by_its_own_number() -> None:
    """udev(7): keys that match with ``==``, keys that are set with ``=`` and ``+=``."""
    (rule,) = [
        line
        for line in (SYSTEM / "60-outby.rules").read_text("utf-8").splitlines()
        if not line.startswith("#")
    ]
    keys = dict(re.findall(r'([A-Z_{}]+)(?:==|\+=|=)"([^"]*)"', rule))
    assert keys == {
        "SUBSYSTEM": "tty", "ENV{ID_BUS}": "usb", "ENV{ID_SERIAL_SHORT}": "?*",
        "SYMLINK": "outby/$env{ID_SERIAL_SHORT}", "GROUP": "dialout", "MODE": "0660",
    }  # fmt: skip


def test_the_shell_completes_commands_and_options(tmp_path: Path) -> None:
    script = tmp_path / "outby.bash"
    script.write_text(run(OUTBY, "--completion", "bash").stdout)
    ask = (
        f"source {script}; COMP_WORDS=(outby $1); COMP_CWORD=1; "
        "how=$(complete -p outby); how=${how#*-F }; ${how%% *}; "
        'printf "%s\\n" "${COMPREPLY[@]}"'
    )
    done = run("bash", "-c", ask, "bash", "re")
    assert {"record", "report", "replay"} <= set(done.stdout.split()), done.stderr
    assert set(done.stdout.split()) <= set(COMMANDS)


def test_the_package_holds_all_that_a_system_is_given(package: Path) -> None:
    listed = run("dpkg-deb", "--contents", package).stdout
    names = {line.split()[5].removeprefix("./") for line in listed.splitlines()}
    assert {
        "usr/bin/outby", "lib/systemd/system/outby@.service", "lib/udev/rules.d/60-outby.rules",
        "usr/lib/sysusers.d/outby.conf", "usr/share/man/man1/outby-record.1.gz",
        "usr/share/bash-completion/completions/outby", "etc/xdg/outby/settings.toml",
    } <= names  # fmt: skip
    assert {line.split()[1] for line in listed.splitlines()} == {"root/root"}
    told = run("dpkg-deb", "--info", package).stdout
    assert "Package: outby" in told
    assert "python3 (>= 3." in told


def test_the_installed_program_runs_and_so_does_what_it_starts(
    installed: Path, tmp_path: Path
) -> None:
    """With its own copy of all it depends on, and nothing of the environment that made it."""
    python, command = installed / "usr/lib/outby/bin/python", installed / "usr/bin/outby"
    assert command.read_text().startswith("#!/usr/lib/outby/bin/python -I\n")
    alone = {"PATH": os.environ["PATH"], "HOME": str(tmp_path)}
    done = subprocess.run(
        [python, "-I", command, "roster", "kiln-lane"],
        env=alone, cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "8 people" in done.stdout
    ask = (
        "import subprocess, sys, outby; sys.path.insert(0, outby.__path__[0]); "
        "from monitor import children; line = children.line('monitor.cli', '--version'); "
        "print(line[0]); sys.stdout.flush(); subprocess.run(line)"
    )
    child = subprocess.run(
        [python, "-I", "-c", ask],
        env=alone, cwd=tmp_path, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert "outby 0." in child.stdout, child.stderr
    assert str(installed) in child.stdout


def test_tools_of_the_system_are_there() -> None:
    """They come with Debian; where they are missing the tests above say less clearly why."""
    assert shutil.which("systemd-analyze")
    assert shutil.which("dpkg-deb")
