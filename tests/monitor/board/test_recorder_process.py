"""The recorder as a child: its command line, and what it said when it could not start."""

import sys
from pathlib import Path

from monitor.board.recorder_process import RecorderProcess, command
from monitor.settings import Settings


def test_the_command_line_says_the_settings_in_full() -> None:
    settings = Settings(
        name="Kiln Lane", officer="R. Harrow", use="exercise", procedure="plain",
        links=("udp:41901", "serial:/dev/ttyUSB0"), entry_point="A", evacuation_tone=2,
        cylinders="own.toml",
    )  # fmt: skip
    line = command(Path("x.journal"), settings)
    assert line[0] == sys.executable
    assert line[3:5] == ["record", "x.journal"]
    assert line[line.index("--entry-point") + 1] == "A"
    assert line[line.index("--evacuation-tone") + 1] == "2"
    assert "--exercise" in line
    assert line.count("--link") == 2
    assert line[line.index("--cylinders") + 1] == "own.toml"
    assert not {"--place", "--clock-checked"} & set(line)
    assert "--clock-checked" in command(Path("x.journal"), settings, clock_checked=True)


def test_how_it_ended_and_its_last_words() -> None:
    code = "import sys; print('outby: no: port: wait', file=sys.stderr); sys.exit(4)"
    process = RecorderProcess([sys.executable, "-c", code], lambda: True)
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
