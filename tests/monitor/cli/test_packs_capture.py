import json
import struct
from pathlib import Path

import pytest

from monitor.cli import main
from monitor.cli.packs_capture import capture
from monitor.errors import BadFile
from protocol import codec
from protocol.packets import Beat, Envelope
from simulators.fleet import Fleet
from simulators.scenario_file import parse
from simulators.truth import TruthFile

S = 1_000_000_000
WALL_NS = 1_700_000_000 * S
TEXT = """\
title = "Two doors"
length_s = 20
incident = { name = "Two doors", officer = "R. Harrow" }
places = [
  { name = "south", x_m = 0, y_m = 0 },
  { name = "north", x_m = 0, y_m = 60 },
]
[radio]
bases = ["south", "north"]
[[packs]]
pack = 101
wearer = 1
low_air_bar = 105
deeds = [
  { at_s = 0, does = "switch_on" },
]
"""


def packets(path: Path) -> list[tuple[int, int, bytes]]:
    """Interface, time and frame of each enhanced packet block (draft-ietf-opsawg-pcapng 4.3)."""
    data, found, at = path.read_bytes(), [], 0
    while at < len(data):
        kind, length = struct.unpack_from("<II", data, at)
        assert struct.unpack_from("<I", data, at + length - 4) == (length,)
        if kind == 6:
            interface, high, low, size, _ = struct.unpack_from("<IIIII", data, at + 8)
            found.append((interface, high << 32 | low, data[at + 28 : at + 28 + size]))
        at += length
    return found


def fleet(*, truth: bool = False) -> Fleet:
    return Fleet(parse(TEXT, "x.toml"), 1, truth=truth)


def test_a_bare_capture_is_what_the_radios_hear(tmp_path: Path) -> None:
    path = tmp_path / "run.pcapng"
    heard = fleet().step(20 * S)
    assert capture(fleet(), path, WALL_NS, bare=True, truth=None) == len(heard)
    expected = {(sent.base - 1, WALL_NS + sent.t_ns, sent.frame) for sent in heard}
    assert set(packets(path)) == expected


def test_each_base_radio_is_an_interface_with_levels_and_beats(tmp_path: Path) -> None:
    path = tmp_path / "run.pcapng"
    capture(fleet(), path, WALL_NS, bare=False, truth=None)
    for interface in (0, 1):
        frames = [codec.decode(frame) for number, _, frame in packets(path) if number == interface]
        assert sum(isinstance(p, Beat) for p in frames) == 21
        assert {p.radio for p in frames if isinstance(p, Envelope)} == {interface + 1}
    times = [t_ns for number, t_ns, _ in packets(path) if number == 0]
    assert times == sorted(times)


def test_the_truth_is_beside_it(tmp_path: Path) -> None:
    truth = TruthFile(tmp_path / "run.jsonl", scenario="x", seed=1, boots_before=0)
    capture(fleet(truth=True), tmp_path / "run.pcapng", WALL_NS, bare=True, truth=truth)
    truth.close()
    lines = [json.loads(line) for line in (tmp_path / "run.jsonl").read_text().splitlines()]
    assert lines[-1]["what"] == "channel"


def test_a_file_that_is_there_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "run.pcapng"
    path.write_bytes(b"mine")
    with pytest.raises(BadFile, match="there is a file already"):
        capture(fleet(), path, WALL_NS, bare=True, truth=None)
    assert path.read_bytes() == b"mine"


def test_the_command_gives_the_same_bytes_each_time(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario = tmp_path / "x.toml"
    scenario.write_text(TEXT, encoding="utf-8")
    paths = [tmp_path / name for name in ("a.pcapng", "b.pcapng")]
    for path in paths:
        line = ["packs", str(scenario), "--capture", str(path), "--boots", "0", "--seed", "3"]
        assert main(line) == 0
    assert paths[0].read_bytes() == paths[1].read_bytes()
    assert "frames" in capsys.readouterr().err
