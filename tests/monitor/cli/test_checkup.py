"""Each trial finds what a machine lacks, and says what to do."""

import io
import os
from pathlib import Path

import pytest

from monitor import keyfile
from monitor.cli import checkup
from monitor.cli.checkup import Verdict


def test_a_disk_that_hangs_keeps_nobody(tmp_path: Path) -> None:
    """A pipe keeps whoever opens it until somebody writes to it, as a dead disk does."""
    os.mkfifo(tmp_path / "x.spill")
    found = checkup.disk(tmp_path)
    assert (found.verdict, found.found) == (Verdict.BAD, f"{tmp_path} does not answer")
    os.close(os.open(tmp_path / "x.spill", os.O_WRONLY))


def test_the_disk_is_tried_and_left_as_it_was(tmp_path: Path) -> None:
    found = checkup.disk(tmp_path / "not" / "yet")
    assert found.verdict in {Verdict.GOOD, Verdict.LOOK}
    assert str(tmp_path) in found.found
    assert "ms a commit" in found.found
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_takes_nothing() -> None:
    found = checkup.disk(Path("/proc/none"))
    assert found.verdict is Verdict.BAD
    assert "incidents_folder" in found.to_do


def test_the_buffer_is_what_the_system_gives() -> None:
    """socket(7): what is asked for is capped by rmem_max and doubled."""
    most = int(Path("/proc/sys/net/core/rmem_max").read_text())
    given = 2 * min(checkup.BUFFER_BYTES, most)
    found = checkup.buffers()
    assert found.found == f"{given // 1024} KiB for a UDP port"
    assert (found.verdict is Verdict.GOOD) is (given >= checkup.BUFFER_BYTES)


def test_a_clock_has_to_be_compared_by_a_person() -> None:
    assert checkup.clock().to_do == "compare it with control's"


def test_a_pipe_is_no_terminal() -> None:
    assert checkup.terminal(io.StringIO()).verdict is Verdict.LOOK
    assert checkup.terminal(None).verdict is Verdict.LOOK


@pytest.mark.parametrize(
    ("setting", "verdict", "said"),
    [
        ("off", Verdict.LOOK, "off"),
        ("no-such-player", Verdict.BAD, "no player is there"),
        ("false", Verdict.BAD, "false ended with 1"),
        ("true", Verdict.LOOK, "true"),
        ('"open', Verdict.BAD, "No closing quotation"),
    ],
)
def test_sound_is_tried_by_the_player_that_a_recorder_would_take(
    setting: str, verdict: Verdict, said: str
) -> None:
    found = checkup.sound(setting)
    assert (found.verdict, said in found.found) == (verdict, True), found


def test_keys(tmp_path: Path) -> None:
    assert checkup.keys("").verdict is Verdict.LOOK
    path = tmp_path / "fleet.key"
    keyfile.create(path, "exercise")
    assert checkup.keys(str(path)).found == f"{path}: for exercise, epoch 1"
    path.chmod(0o644)
    found = checkup.keys(str(path))
    assert found.verdict is Verdict.BAD
    assert "chmod 600" in found.found


def test_a_serial_link_without_a_port_is_bad() -> None:
    plain, wanted = checkup.ports(()), checkup.ports(("serial:/dev/radio",))
    assert plain.what == wanted.what == "ports"
    if plain.found == "no serial port":
        assert (plain.verdict, wanted.verdict) == (Verdict.GOOD, Verdict.BAD)
