import gc
import itertools
import json
import re
import socket
import threading
from pathlib import Path

import pytest

from monitor import keyfile, roster
from monitor.cli import main
from monitor.cli.packs import lasting, load_scenario, wait_for_desk
from monitor.cli.packs_links import DEFAULT_LINK
from monitor.errors import NotAnswered
from monitor.settings import Settings
from protocol import codec
from protocol.packets import Beat, Envelope, Report
from simulators.fleet import Fleet

S = 1_000_000_000
SCENARIO = """\
title = "Short"
length_s = 20
incident = { name = "Short", officer = "R. Harrow", roster = "kiln-lane" }
[[packs]]
pack = 101
wearer = 1
low_air_bar = 105
deeds = [
  { at_s = 0, does = "switch_on" },
  { at_s = 15, does = "switch_off" },
]
"""


@pytest.fixture
def scenario(tmp_path: Path) -> str:
    path = tmp_path / "short.toml"
    path.write_text(SCENARIO, encoding="utf-8")
    return str(path)


class Base:
    """Hears everything that is sent to a UDP port of this machine."""

    def __init__(self) -> None:
        self.frames: list[bytes] = []
        self._socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._socket.bind(("127.0.0.1", 0))
        self.port = self._socket.getsockname()[1]
        self._thread = threading.Thread(target=self._listen)
        self._thread.start()

    def _listen(self) -> None:
        while data := self._socket.recv(300):
            self.frames.append(data)

    def end(self) -> list[bytes]:
        """Stop listening; what was heard."""
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as end:
            end.sendto(b"", ("127.0.0.1", self.port))
        self._thread.join()
        self._socket.close()
        return self.frames


def play(scenario: str, *more: str) -> list[bytes]:
    base = Base()
    try:
        code = main(
            ["packs", scenario, "--speed", "100", "--link", f"udp:127.0.0.1:{base.port}", *more]
        )
    finally:
        frames = base.end()
    assert code == 0
    return frames


def test_a_scenario_goes_out_by_udp(scenario: str, capsys: pytest.CaptureFixture[str]) -> None:
    packets = [codec.decode(frame) for frame in play(scenario)]
    assert sum(isinstance(p, Beat) for p in packets) == 21
    inner = [codec.receive(p.frame, None) for p in packets if isinstance(p, Envelope)]
    assert inner
    assert all(isinstance(p, Report) and p.identity == 101 for p in inner)
    assert "1 packs of Short to udp:127.0.0.1:" in capsys.readouterr().err


def test_bare_frames_are_the_same_each_time_with_boots_said(scenario: str) -> None:
    said = ("--bare", "--boots", "0", "--seed", "9")
    frames = play(scenario, *said)
    assert frames
    assert play(scenario, *said) == frames
    packet = codec.receive(frames[0], None)
    assert isinstance(packet, Report)
    assert packet.boot == 1


def test_boots_rise_with_the_time_of_day(scenario: str) -> None:
    packet = codec.receive(play(scenario, "--bare")[0], None)
    assert isinstance(packet, Report)
    assert packet.boot > 1_700_000_000


def test_keyed_packs_prove_themselves(scenario: str, tmp_path: Path) -> None:
    keyring = keyfile.create(tmp_path / "fleet.key", "exercise")
    frames = play(scenario, "--bare", "--key", str(tmp_path / "fleet.key"))
    assert all(isinstance(codec.receive(frame, keyring), Report) for frame in frames)


def test_truth_is_written_beside_a_run(scenario: str, tmp_path: Path) -> None:
    path = tmp_path / "run.jsonl"
    play(scenario, "--truth", str(path))
    lines = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    assert lines[0]["what"] == "run"
    assert {"state", "frame", "deed"} <= {line["what"] for line in lines}


class Nobody:
    """A desk without a recorder, at a base radio that is never waited for."""

    def seated(self) -> bool:
        return False

    def wait(self, seconds: float) -> None:
        pass


def test_of_a_run_that_never_began_no_truth_is_left(tmp_path: Path) -> None:
    """It would be in the way of the next one: nothing is written over."""
    truth, nobody = tmp_path / "run.jsonl", Nobody()
    truth.touch()
    seconds = itertools.count(0, S)
    with pytest.raises(NotAnswered):
        wait_for_desk(nobody, nobody, lambda: next(seconds), str(truth))
    assert not truth.exists()
    with pytest.raises(NotAnswered):
        wait_for_desk(nobody, nobody, lambda: next(seconds), None)


@pytest.mark.parametrize(
    ("options", "code", "said"),
    [
        (["--link", "udp:192.0.2.1:41900"], 4, "virtual packs are kept on this machine"),
        (["--link", "udp:nowhere"], 2, "no such link: udp:nowhere"),
        (["--link", "smoke:signals"], 2, "no such link: smoke:signals"),
        (["--speed", "0"], 2, "no such speed: --speed 0"),
        (["--boots", "-1"], 2, "no such number of boots"),
        (["--truth", "/nonexistent/run.jsonl"], 3, "truth file: No such file"),
        (["--roster-to", "/nonexistent/x.toml"], 3, "roster: No such file"),
        (["--key", "/nonexistent/fleet.key"], 3, "/nonexistent/fleet.key"),
    ],
)
def test_what_cannot_be_is_said(
    scenario: str, options: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["packs", scenario, *options]) == code
    assert said in capsys.readouterr().err


def test_a_scenario_with_a_fault_says_where(
    scenario: str, capsys: pytest.CaptureFixture[str]
) -> None:
    Path(scenario).write_text(SCENARIO.replace("wearer = 1", "waerer = 1"), encoding="utf-8")
    assert main(["packs", scenario]) == 3
    assert (
        capsys.readouterr().err == f"outby: scenario: unknown key: {scenario}:6: packs.0.waerer\n"
    )


def test_a_real_key_is_refused(
    scenario: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    keyfile.create(tmp_path / "fleet.key", "real")
    assert main(["packs", scenario, "--key", str(tmp_path / "fleet.key")]) == 2
    assert "this takes an exercise key only" in capsys.readouterr().err


def test_a_run_sums_up_what_the_radio_did(
    scenario: str, capsys: pytest.CaptureFixture[str]
) -> None:
    text = SCENARIO.replace("[[packs]]", "radio = { up = { loss = 1 } }\n[[packs]]", 1)
    Path(scenario).write_text(text, encoding="utf-8")
    assert play(scenario, "--bare") == []
    said = capsys.readouterr().err.splitlines()[-1]
    assert re.fullmatch(r"outby packs: up: (\d+) sent, \1 loss", said)


def test_a_scenario_can_make_its_roster(tmp_path: Path) -> None:
    path = tmp_path / "many.toml"
    assert main(["packs", "many", "--roster-to", str(path)]) == 0
    people = roster.load(str(path)).people
    assert len(people) == 500
    assert (people[499].call_sign, people[499].pack) == ("Bravo 250-2", 1500)


def test_the_airtime_of_a_scenario_is_said(
    scenario: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["packs", scenario, "--airtime"]) == 0
    assert capsys.readouterr().out.startswith("1 packs, 56 bytes or 8.96 ms a report\n")


def test_virtual_packs_go_where_an_exercise_listens_and_never_where_a_real_incident_does() -> None:
    """An exercise cannot reach a base in real use: not by its keys, not by its ports."""
    assert DEFAULT_LINK in Settings().exercise_links
    assert DEFAULT_LINK not in Settings().real_links


def test_there_is_a_link_for_all_base_radios_or_one_for_each(
    scenario: str, capsys: pytest.CaptureFixture[str]
) -> None:
    two = ["--link", "udp:127.0.0.1:41997", "--link", "udp:127.0.0.1:41998"]
    assert main(["packs", scenario, *two]) == 2
    assert "the scenario has 1 base radio" in capsys.readouterr().err


TWO_DOORS = SCENARIO.replace(
    "[[packs]]",
    """\
places = [ { name = "south", x_m = 0, y_m = 0 }, { name = "north", x_m = 0, y_m = 9 } ]
radio = { bases = ["south", "north"] }
[[packs]]""",
)


def test_two_base_radios_on_one_link_come_from_two_addresses(tmp_path: Path) -> None:
    path = tmp_path / "two.toml"
    path.write_text(TWO_DOORS, encoding="utf-8")
    packets = [codec.decode(frame) for frame in play(str(path))]
    assert {p.radio for p in packets if isinstance(p, Beat | Envelope)} == {1, 2}


def test_a_fleet_that_lasts_is_not_looked_through_again() -> None:
    before = gc.get_threshold(), gc.get_freeze_count()
    try:
        fleet = lasting(lambda: Fleet(load_scenario("kiln-lane"), 1))
        assert fleet.bases == 1
        assert gc.isenabled()
        assert gc.get_freeze_count() > before[1]
    finally:
        gc.unfreeze()
        gc.set_threshold(*before[0])
