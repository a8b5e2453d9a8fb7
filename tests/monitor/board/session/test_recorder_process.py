"""The recorder as a child: its command line, and what it said when it could not start."""

import sys
from pathlib import Path

from monitor.board.session.recorder_process import (
    TOLD_BYTES_MAX,
    RecorderProcess,
    Told,
    to_go_on,
    to_open,
)
from monitor.settings import Settings

SETTINGS = Settings(
    name="Kiln Lane", officer="R. Harrow", use="exercise", procedure="plain",
    links=("udp:41901", "serial:/dev/ttyUSB0"), entry_point="A", evacuation_tone=2,
    cylinders="own.toml",
)  # fmt: skip


def test_a_new_incident_is_told_the_settings_in_full(tmp_path: Path) -> None:
    told = to_open(tmp_path / "x.journal", SETTINGS)
    assert told.journal == str(tmp_path / "x.journal")
    assert told.options == {
        "name": "Kiln Lane", "officer": "R. Harrow", "use": "exercise", "procedure": "plain",
        "links": ["udp:41901", "serial:/dev/ttyUSB0"], "entry_point": "A", "evacuation_tone": 2,
        "cylinders": "own.toml", "sound": "auto",
        "place": "", "operation": "", "stage": "", "roster": "", "key": "", "incidents_folder": "",
    }  # fmt: skip
    assert not told.clock_checked
    assert to_open(tmp_path / "x.journal", SETTINGS, clock_checked=True).clock_checked
    assert told.simulated == ""
    assert to_open(tmp_path / "x.journal", SETTINGS, simulated="kiln-lane").simulated == "kiln-lane"


def test_one_that_is_recorded_already_is_told_only_what_was_said_for_it(tmp_path: Path) -> None:
    said = ("officer", "links", "theme")
    told = to_go_on(tmp_path / "x.journal", SETTINGS, said)
    assert told.options == {"links": ["udp:41901", "serial:/dev/ttyUSB0"]}


def test_all_that_can_be_said_fits_into_a_pipe(tmp_path: Path) -> None:
    most = Settings(
        name="\N{OGHAM LETTER BEITH}" * 60, officer="x" * 60, place="x" * 200, stage="x" * 200,
        entry_point="x" * 200, operation="x" * 60, use="real", procedure="x" * 200,
        roster="x" * 200, cylinders="x" * 200,
        key="x" * 200, sound="x" * 200, links=("x" * 200,) * 8, incidents_folder="x" * 200,
    )  # fmt: skip
    told = to_open(tmp_path / ("x" * 4_000), most)
    assert len(told.model_dump_json().encode()) < TOLD_BYTES_MAX


def test_nothing_that_tells_of_people_is_on_its_command_line(tmp_path: Path) -> None:
    """It can be read by everybody on the machine: ps(1), proc(5)."""
    code = "import sys; print(sys.stdin.read(), file=sys.stderr)"
    told = to_open(tmp_path / "kiln-lane.journal", SETTINGS)
    process = RecorderProcess(told, lambda: True, (sys.executable, "-c", code))
    process.start()
    assert process._process is not None
    process._process.wait(timeout=10)
    assert Told.model_validate_json(process.last_words()) == told
    line = " ".join(RecorderProcess(told, lambda: True).line)
    assert not any(word in line for word in ("Kiln", "kiln", "Harrow", "ttyUSB0"))
    process.forget()


def test_how_it_ended_and_its_last_words() -> None:
    code = "import sys; print('outby: no: port: wait', file=sys.stderr); sys.exit(4)"
    process = RecorderProcess(Told(journal="x"), lambda: True, (sys.executable, "-c", code))
    assert process.exit_code() is None
    assert process.last_words() == ""
    assert not process.started
    process.start()
    assert process.started
    assert process._process is not None
    process._process.wait(timeout=10)
    assert process.exit_code() == 4
    assert process.last_words() == "no: port: wait"
    process.forget()
    assert process.last_words() == ""


def test_none_is_started_beside_one_that_has_not_ended(tmp_path: Path) -> None:
    """Where the disk hangs none gets as far as the lock; a board tries every half minute."""
    told = to_open(tmp_path / "kiln-lane.journal", SETTINGS)
    process = RecorderProcess(
        told, lambda: True, (sys.executable, "-c", "import signal; signal.pause()")
    )
    process.start()
    first = process._process
    process.start()
    assert process._process is first
    assert first is not None
    first.kill()
    first.wait(timeout=10)
    process.start()
    assert process._process is not first
    second = process._process
    assert second is not None
    second.kill()
    second.wait(timeout=10)
    process.forget()
