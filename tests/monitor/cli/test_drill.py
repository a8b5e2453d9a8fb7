import argparse
import json
import subprocess
import time
from pathlib import Path

import pytest

from monitor import keyfile
from monitor.cli import build_parser, main
from monitor.cli.drill import Files, packs_line, packs_running, sound_of, watch_line
from monitor.cli.record import new_path
from monitor.errors import BadFile, Exit, LinkFailed
from monitor.journal.lock import Lock
from monitor.settings import Settings
from simulators.scenario_file import load


def parsed(*line: str) -> argparse.Namespace:
    return build_parser().parse_args(["drill", *line])


def watched(*line: str) -> argparse.Namespace:
    """What ``outby watch`` is asked for by a drill."""
    files = Files(Path("run.journal"))
    whole = watch_line(parsed(*line), load("kiln-lane"), files, ["udp:127.0.0.1:41999"], "off")
    return build_parser().parse_args(whole)


def test_the_board_gets_a_whole_opening_of_an_exercise() -> None:
    args = watched()
    assert args.journal == Path("run.journal")
    assert (args.name, args.officer, args.use) == ("Kiln Lane", "R. Harrow", "exercise")
    assert (args.procedure, args.roster, args.links) == (
        "plain", "kiln-lane", ["udp:127.0.0.1:41999"],
    )  # fmt: skip
    assert args.key == "run.key"
    assert args.simulated == "scenario kiln-lane, seed 1"
    assert not args.plain
    assert args.sound == "off"


def test_officer_and_trainee_are_in_the_record_and_the_truth() -> None:
    args = watched("--officer", "M. Slip", "--trainee", "J. Ash")
    assert args.officer == "M. Slip"
    assert args.simulated == "scenario kiln-lane, seed 1, trainee J. Ash"
    line = packs_line(parsed("--trainee", "J. Ash"), Files(Path("run.journal")), ["udp:41999"])
    assert build_parser().parse_args(line).trainee == "J. Ash"


@pytest.mark.parametrize("name", ["", " ", "x" * 61, "two\nlines", "-x"])
def test_what_is_no_name_is_refused(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        parsed(f"--trainee={name}")
    assert "a name has 1 to 60 characters" in capsys.readouterr().err


def test_the_evacuation_tone_that_was_asked_for_reaches_the_recorder() -> None:
    assert watched("--evacuation-tone", "2").evacuation_tone == 2
    assert watched().evacuation_tone is None


def test_a_machine_without_a_player_is_no_trouble_in_a_drill(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert sound_of(Settings()) == "bell"
    assert sound_of(Settings(sound="off")) == "off"
    (tmp_path / "aplay").touch(mode=0o700)
    assert sound_of(Settings()) == "auto"


def test_a_scenario_that_names_no_roster_brings_its_own() -> None:
    files = Files(Path("run.journal"))
    line = watch_line(parsed("many"), load("many"), files, ["udp:127.0.0.1:41999"], "off")
    assert build_parser().parse_args(line).roster == "run.roster.toml"


def test_each_base_radio_has_a_link_of_its_own() -> None:
    files, links = Files(Path("run.journal")), ["udp:127.0.0.1:41999", "udp:127.0.0.1:41998"]
    line = watch_line(parsed(), load("kiln-lane"), files, links, "off")
    assert build_parser().parse_args(line).links == links
    assert build_parser().parse_args(packs_line(parsed(), files, links)).links == links


def test_what_is_asked_of_the_screen_is_handed_on() -> None:
    args = watched("--theme", "daylight", "--glyphs", "ascii", "--mouse", "--plain", "--open")
    assert (args.theme, args.glyphs, args.mouse, args.plain) == ("daylight", "ascii", True, True)
    assert args.key == ""
    assert watched("--no-mouse").mouse is False
    assert watched("--incidents-folder", "here").incidents_folder == "here"


def test_the_packs_get_the_same_key_and_the_journal_s_desk() -> None:
    files = Files(Path("run.journal"))
    line = packs_line(parsed("--seed", "7"), files, ["udp:41999"])
    args = build_parser().parse_args(line)
    assert (args.scenario, args.seed, args.links) == ("kiln-lane", 7, ["udp:41999"])
    assert (args.key, args.desk, args.truth) == ("run.key", "run.journal", "run.truth.jsonl")
    assert "--key" not in packs_line(parsed("--open"), files, ["udp:41999"])


def test_the_key_of_a_run_is_its_own_and_for_exercise(tmp_path: Path) -> None:
    files = Files(tmp_path / "incidents" / "run.journal")
    files.prepare(keyed=True)
    assert keyfile.load(files.key).use == "exercise"
    assert files.key.stat().st_mode & 0o077 == 0
    other = Files(tmp_path / "incidents" / "other.journal")
    other.prepare(keyed=False)
    assert not other.key.exists()


def serial_line(files: Files, port: Path) -> list[str]:
    return packs_line(parsed("--open", "--serial"), files, [f"serial:{port}"])


def test_a_run_that_came_to_nothing_leaves_nothing(tmp_path: Path) -> None:
    files = Files(tmp_path / "run.journal")
    files.roster.write_text("mine")

    def failing() -> None:
        with files.of_one_run():
            files.prepare(keyed=True)
            files.truth.touch()
            raise BadFile("roster", "there is none", "name another")

    with pytest.raises(BadFile):
        failing()
    assert [path.name for path in tmp_path.iterdir()] == [files.roster.name]
    with files.of_one_run():
        files.prepare(keyed=True)
        files.journal.touch()
    assert files.key.exists()


def test_a_run_takes_no_name_that_files_of_another_have(tmp_path: Path) -> None:
    """One that begins in the same minute, or whose journal was taken away: its truth stays."""
    settings = Settings(name="Kiln Lane", incidents_folder=str(tmp_path))
    first = new_path(settings, 0, lambda path: Files(path).there())
    for beside in Files(first).all():
        beside.write_text("of another")
        second = new_path(settings, 0, lambda path: Files(path).there())
        assert second.stem == f"{first.stem}-2"
        beside.unlink()


def test_a_folder_that_cannot_be_made_is_the_same_fault_as_for_a_recorder(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").touch()
    folder = ["--incidents-folder", str(tmp_path / "file" / "in")]
    opening = ["--name", "a", "--officer", "b", "--exercise", "--procedure", "plain"]
    assert main(["record", *opening, *folder, "--sound", "off"]) == Exit.JOURNAL
    recorder_says = capsys.readouterr().err
    assert main(["drill", *folder]) == Exit.JOURNAL
    assert capsys.readouterr().err == recorder_says
    assert "the folder: Not a directory" in recorder_says


def test_packs_end_with_the_board_when_nobody_records(tmp_path: Path) -> None:
    files, port = Files(tmp_path / "run.journal"), tmp_path / "port"
    with packs_running(serial_line(files, port), files, [f"serial:{port}"]):
        assert port.is_symlink()
    assert not port.is_symlink()
    head = json.loads(files.truth.read_text(encoding="utf-8").splitlines()[0])
    assert head["scenario"] == "Kiln Lane"


def test_packs_go_on_while_somebody_records(tmp_path: Path) -> None:
    files, port = Files(tmp_path / "run.journal"), tmp_path / "port"
    held = Lock.take(files.journal)
    assert held is not None
    started: list[subprocess.Popen[bytes]] = []
    with packs_running(serial_line(files, port), files, [f"serial:{port}"]) as packs:
        started.append(packs)
    assert port.is_symlink()
    assert started[0].poll() is None
    started[0].terminate()
    assert started[0].wait(5) == 0
    assert not port.is_symlink()
    held.release()


def test_packs_that_cannot_start_are_told_of_with_their_log(tmp_path: Path) -> None:
    files, port = Files(tmp_path / "run.journal"), tmp_path / "no" / "port"
    began = time.monotonic()
    with (
        pytest.raises(LinkFailed, match="did not make their port"),
        packs_running(serial_line(files, port), files, [f"serial:{port}"]),
    ):
        pass
    assert time.monotonic() - began < 10  # seconds, after which nobody waits any more
    assert "No such file" in files.packs_log.read_text(encoding="utf-8")


def test_a_scenario_that_is_not_there_is_a_bad_file(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drill", "kiln-lain"]) == 3
    assert "no such scenario; there are: any-night, dye-works" in capsys.readouterr().err


def test_the_library_is_printed_the_easiest_first(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["drill", "--list"]) == Exit.OK
    heads = [line for line in capsys.readouterr().out.splitlines() if not line.startswith(" ")]
    levels = [int(line.split("level ")[1][0]) for line in heads]
    assert len(levels) >= 8
    assert levels == sorted(levels)
