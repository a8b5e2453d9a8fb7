"""What people get wrong, one row each: the exit code, and one line: what, where, what to do.

Each code is one that the page of that command lists.
"""

import argparse
import contextlib
import re
import shlex
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

import shared
from monitor import keyfile
from monitor.cli import COMMANDS, build_parser, main
from monitor.errors import Exit
from tests.shared.full import no_more_than

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))
OPENING = "--name a --officer b --exercise --procedure plain --sound off"
NEVER = "0123456789abcdef" * 2


class Mistake(NamedTuple):
    line: str
    code: Exit
    said: str
    """A part of what is said, as a pattern."""
    settings: str = ""
    environ: str = ""


U, F, L, J, A = Exit.USAGE, Exit.FILE, Exit.LINK, Exit.JOURNAL, Exit.ALREADY_THERE
MISTAKES = (
    Mistake("", U, "required: COMMAND"),
    Mistake("recrod", U, "invalid choice: 'recrod'"),
    Mistake("watch --nope", U, "unknown here: --nope"),
    Mistake("watch one two", U, "unknown here: two"),
    Mistake("watch --theme pink", U, "invalid choice: 'pink'"),
    Mistake("watch none.journal --view", J, "none.journal"),
    Mistake("watch text.journal --view", J, "not a journal .*text.journal: name a journal"),
    Mistake("watch", U, "a new incident needs --name, --officer, --exercise or --real"),
    Mistake("record --exercise --real", U, "not allowed with argument"),
    Mistake("record --exercise", U, "a new incident needs --name, --officer, --procedure"),
    Mistake("record text.journal", J, "not a journal .*text.journal: name a journal"),
    Mistake("record folder", J, "folder"),
    Mistake(f"record x.journal {OPENING} --link nope", U, "a link is udp or serial: nope: write"),
    Mistake(f"record x.journal {OPENING} --link udp:99999", U, "99999"),
    Mistake(f"record x.journal {OPENING} --link udp:41900", U, "41900"),
    Mistake(f"record x.journal {OPENING} --link serial:none", L, "none"),
    Mistake(f"record x.journal {OPENING} --key none.key", F, "key file is not there: .*none.key"),
    Mistake(f"record x.journal {OPENING} --roster none", F, "no such roster: none: give a path"),
    Mistake(f"record x.journal {OPENING} --evacuation-tone 9", U, "a whole number from 0 to 3"),
    Mistake(f"record none/x/y.journal {OPENING} --key fleet.key --real", U, "not allowed with"),
    Mistake(f"relay {GOLDEN}", U, "no broker was said: --broker: say it, or set it once"),
    Mistake(f"relay {GOLDEN} --broker ftp://x", U, "no address of a broker: ftp://x: as tls"),
    Mistake(f"relay {GOLDEN} --broker nats://192.0.2.1", U, "without TLS.*: say tls://, or --unp"),
    Mistake(f"relay {GOLDEN} --broker nats://a:b@[::1]", U, "put user and password into a file"),
    Mistake(f"relay {GOLDEN} --broker [::1]", U, "names no operation: .*: say which: --operation"),
    Mistake("relay text.journal --broker [::1]", J, "not a journal .*text.journal"),
    Mistake("overview none.journal", J, "no such journal"),
    Mistake("overview --replicas none", U, "there are no replicas: none: start outby mirror"),
    Mistake("overview text.journal", J, "not a journal .*text.journal"),
    Mistake("mirror", U, "no broker was said"),
    Mistake("mirror --broker [::1] --key none.key", F, "key file is not there"),
    Mistake("mirror --broker [::1] --ca x.pem", U, "certificates, but no TLS"),
    Mistake("drill none", F, "no such scenario|scenario"),
    Mistake("drill --seed x", U, "--seed: invalid int value: 'x'"),
    Mistake("packs --speed 0", U, "no such speed: --speed 0: above 0"),
    Mistake("packs --boots -1", U, "no such number of boots"),
    Mistake("packs --link nope", U, "no such link: nope: udp:"),
    Mistake("packs --link udp:192.0.2.1:9", L, "192.0.2.1"),
    Mistake("packs --one --capture x", U, "one pack by typed lines"),
    Mistake("packs --pack 7", U, "--pack is for --one"),
    Mistake("packs --key text.toml", F, "key file"),
    Mistake("packs kiln-lane --capture text.toml", A, "there is a file already: text.toml"),
    Mistake("packs --roster-to text.toml", A, "there is a file already: text.toml"),
    Mistake("packs --truth text.toml", A, "there is a file already: text.toml: name another"),
    Mistake("packs --truth dangling", A, "there is a file already: dangling"),
    Mistake("packs --truth x --capture text.toml", A, "there is a file already: text.toml"),
    Mistake("packs --capture x --truth text.toml", A, "there is a file already: text.toml"),
    Mistake("packs --roster-to x --truth text.toml", A, "there is a file already: text.toml"),
    Mistake("conformance --for 0", U, "no such length: --for 0: 1 to"),
    Mistake("conformance --pack 0", U, "no such identity"),
    Mistake("conformance --link nope", U, "nope"),
    Mistake("conformance --key none", F, "key file is not there: none"),
    Mistake("keys", U, "required: ACT"),
    Mistake("keys create new.key", U, "--exercise --real is required"),
    Mistake("keys create text.toml --real", A, "there is a file already: text.toml"),
    Mistake("keys create no/where.key --real", F, "No such file or directory: no/where.key"),
    Mistake("keys show none.key", F, "key file is not there: none.key: check the name"),
    Mistake("keys show text.toml", F, "key file is not TOML"),
    Mistake("keys show folder", F, "key file is a folder: folder: name a file"),
    Mistake("keys show open.key", F, "others can read or write it: open.key: chmod 600 open.key"),
    Mistake("keys pack fleet.key 0", U, "0 is not a pack's identity"),
    Mistake("keys pack fleet.key 5 --epoch 9", U, "epoch 9 is not held: fleet.key: held: 1"),
    Mistake("keys drop fleet.key 1", U, "epoch 1 is the current one"),
    Mistake("keys journal fleet.key", U, "there is a journal key already"),
    Mistake("air", U, "required: --cylinder"),
    Mistake("air --cylinder huge", U, "huge"),
    Mistake("air --cylinder 6/300 --pressure 900", U, "900"),
    Mistake("air --cylinder 6/300 --procedure none", F, "no such procedure: none: give a path"),
    Mistake("air --cylinder 6/300 --connected 25:00", U, "25:00"),
    Mistake("verify none", J, "there is no such journal: none: see outby incidents"),
    Mistake("verify text.journal", J, "not a journal .*text.journal: name a journal"),
    Mistake(f"verify {GOLDEN} --noted xyz", U, "a digest has 32 hex digits"),
    Mistake(f"verify {GOLDEN} --noted {NEVER}", Exit.CHANGED, "noted"),
    Mistake(f"verify {GOLDEN} --salvage text.toml", A, "there is a file already: text.toml"),
    Mistake(f"verify {GOLDEN} --key none.key", F, "key file is not there: none.key"),
    Mistake("incidents --incidents-folder none", U, "there is no such folder: none"),
    Mistake("incidents pack none", J, "there is no such journal: none"),
    Mistake(f"incidents pack {GOLDEN} text.toml", A, "there is a file already: text.toml"),
    Mistake("incidents discard none", J, "there is no such journal: none"),
    Mistake(f"export {GOLDEN}", U, "nothing to write: name a FOLDER for tables, or --frames FILE"),
    Mistake(f"export {GOLDEN} folder", A, "there is something already: folder"),
    Mistake(f"export {GOLDEN} out --format xml", U, "invalid choice: 'xml'"),
    Mistake(f"export {GOLDEN} --frames text.toml", A, "there is a file already: text.toml"),
    Mistake(f"export {GOLDEN} text.toml/out", F, "nothing can be written there"),
    Mistake(f"report {GOLDEN} --json", U, "fields are of the alarms alone"),
    Mistake(f"report {GOLDEN} -o text.toml", A, "there is a file already: text.toml"),
    Mistake(f"report {GOLDEN} -o dangling", A, "there is a file already: dangling"),
    Mistake("orders", U, "no journal was named"),
    Mistake("orders --tone text.toml", A, "there is a file already: text.toml"),
    Mistake(f"orders {GOLDEN} --truth none", F, "none"),
    Mistake(f"handover {GOLDEN} --width 10", U, "too narrow for its tables: --width: 80 or more"),
    Mistake(f"handover {GOLDEN} -o text.toml", A, "there is a file already: text.toml"),
    Mistake(f"handover {GOLDEN} --renew", U, "only a file can be made anew: --renew"),
    Mistake(f"replay {GOLDEN} --plain --at never", U, "no such time: never: say HH:MM:SS"),
    Mistake(f"replay {GOLDEN} --speed 0", U, "no such speed: 0"),
    Mistake(f"score {GOLDEN} none.jsonl", F, "none.jsonl"),
    Mistake(f"score {GOLDEN} -o text.toml", A, "there is a file already: text.toml"),
    Mistake(f"score {GOLDEN} --trainee-page text.toml", A, "there is a file already: text.toml"),
    Mistake(f"score none.jsonl {GOLDEN}", U, "a truth file without its journal: none.jsonl"),
    Mistake("roster none", F, "no such roster: none: give a path"),
    Mistake("roster kiln-lane -o x.xls", U, "a roster is TOML or CSV: x.xls"),
    Mistake("roster kiln-lane -o text.toml", A, "there is a file already: text.toml"),
    Mistake("instruct", U, "no drill runs now"),
    Mistake("status", Exit.NOT_ANSWERED, "nothing is recorded here"),
    Mistake("status none", J, "there is no such journal: none"),
    Mistake(f"status {GOLDEN}", Exit.NOT_ANSWERED, "nobody records this incident"),
    Mistake("stop", Exit.NOT_ANSWERED, "nothing is recorded here"),
    Mistake(f"stop {GOLDEN}", Exit.NOT_ANSWERED, "nobody records this incident"),
    Mistake("feed", U, "no journal was named: outby feed: name one"),
    Mistake("feed text.journal", J, "not a journal .*text.journal: name a journal"),
    Mistake(f"feed {GOLDEN} --every 0", U, "no such length: --every 0: 0.1 to 3600"),
    Mistake("settings", U, "unknown setting", settings="officier = 'x'"),
    Mistake("doctor --format xml", U, "invalid choice: 'xml'"),
    Mistake("incidents recover none", J, "none"),
    Mistake("incidents", U, "unknown setting: settings.toml: officier: did you mean officer?",
            settings="officier = 'x'"),
    Mistake("incidents", U, '"udp:1" is not a list, as .*: settings.toml: links: correct or remove',
            settings="links = 'udp:1'"),
    Mistake("incidents", U, '"pink" is not .dark. or .daylight.: settings.toml: theme',
            settings="theme = 'pink'"),
    Mistake("incidents", U, '"pink" is not .dark. or .daylight.: OUTBY_THEME: correct or unset',
            environ="OUTBY_THEME=pink"),
    Mistake("incidents", U, "unknown setting: OUTBY_OFICER: did you mean officer?",
            environ="OUTBY_OFICER=x"),
    Mistake("incidents", F, "settings file is not TOML: settings.toml", settings="name = "),
    Mistake("incidents", F, "settings file not found: none: correct or unset OUTBY_SETTINGS",
            environ="OUTBY_SETTINGS=none"),
    Mistake("incidents", U, "there is no such folder: none: see the setting",
            environ="OUTBY_INCIDENTS_FOLDER=none"),
    Mistake("incidents", U, "this user has no home folder: HOME: set it", environ="HOME=~"),
)  # fmt: skip


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with files that are something else than they are taken for."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("OUTBY_INCIDENTS_FOLDER", "")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("XDG_CONFIG_DIRS", str(tmp_path / "config"))
    for name in ("text.toml", "text.journal"):
        Path(name).write_text("mine, and no other's\n")
    Path("folder").mkdir()
    Path("folder", "mine").write_text("mine")
    Path("dangling").symlink_to("nowhere")
    keyfile.create(Path("fleet.key"), "exercise")
    keyfile.create(Path("open.key"), "exercise")
    Path("open.key").chmod(0o644)
    return tmp_path


def snapshot(folder: Path) -> dict[str, bytes]:
    """All files; but for the memory of the base, which counts its starts."""
    return {
        str(path): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.name != "base-exercise.json"
    }


def ended(line: str) -> int:
    """The code that a command line ends with."""
    try:
        return main(shlex.split(line))
    except SystemExit as error:
        return int(error.code or 0)


@pytest.mark.parametrize("mistake", MISTAKES, ids=lambda m: f"{m.line} {m.settings}{m.environ}")
def test_a_mistake_is_one_line_and_its_code(
    mistake: Mistake,
    desk: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    Path("settings.toml").write_text(mistake.settings)
    monkeypatch.setenv("OUTBY_SETTINGS", "settings.toml")
    if mistake.environ:
        monkeypatch.setenv(*mistake.environ.split("="))
    before = snapshot(desk)
    code = ended(mistake.line)
    said = capsys.readouterr()
    lines = said.err.splitlines()
    assert re.search(mistake.said, lines[0]), said.err
    assert code == mistake.code, said.err
    assert lines[0].startswith("outby")
    assert len(lines) == 1 or (len(lines) == 2 and lines[1].startswith("usage: outby ")), said.err
    assert "Traceback" not in said.err
    assert ("chmod" in said.err) is ("open.key" in mistake.line)
    assert snapshot(desk) == before, "nothing is written, and nothing lost"


def test_there_are_sixty_and_more_and_each_command_has_some() -> None:
    assert len(MISTAKES) > 60
    assert {m.line.split(" ")[0] for m in MISTAKES} >= set(COMMANDS)


WRITTEN = {
    "packs --truth", "packs --capture", "packs --roster-to", "keys create file", "verify --salvage",
    "incidents pack target", "export folder", "export --frames", "report --output",
    "orders --tone", "handover --output", "score --output", "score --trainee-page",
    "roster --output",
}  # fmt: skip
"""What names something new that is written, at each command."""
READ = {
    "--ca", "--certificate", "--cylinders", "--desk", "--incidents-folder", "--instructor", "--key",
    "--login", "--private-key", "--procedure", "--replicas", "--roster", "--scenario", "--signer",
    "file", "files", "journal", "journals", "mirror folder", "orders --truth",
}  # fmt: skip
"""What names something that is there, wherever it is not one of the above."""
PLACES = re.compile("FILE|FOLDER|JOURNAL|PATH|TARGET|WAV")


def named(parser: argparse.ArgumentParser, command: str) -> Iterator[str]:
    """Each option and argument of a command, and of its acts, that names a place on disk."""
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, below in action.choices.items():
                yield from named(below, f"{command} {name}".strip())
        elif action.type is Path or PLACES.search(str(action.metavar)):
            yield f"{command} {(*action.option_strings, action.dest)[-2:][0]}"


def test_every_option_that_names_a_file_to_write_is_refused_one_that_is_there() -> None:
    """Whoever adds one says whether it is read or written, and what is refused."""
    found = set(named(build_parser(), ""))
    unknown = {one for one in found - WRITTEN if not {one, one.rsplit(" ", 1)[-1]} & READ}
    assert unknown == set()
    assert found >= WRITTEN
    refused = [m.line for m in MISTAKES if m.code == Exit.ALREADY_THERE]
    for one in WRITTEN:
        *command, option = one.split()
        words = [*command, option] if option.startswith("--") else command
        words = ["-o" if word == "--output" else word for word in words]
        assert any(all(word in line.split() for word in words) for line in refused), one


def test_each_code_is_on_the_page_of_its_command(capsys: pytest.CaptureFixture[str]) -> None:
    for mistake in MISTAKES:
        command = mistake.line.split(" ")[0]
        if command not in COMMANDS:
            continue
        with contextlib.suppress(SystemExit):
            main([command, "--help"])
        codes = capsys.readouterr().out.split("EXIT STATUS")[1]
        assert re.search(rf"^  {int(mistake.code)} ", codes, re.MULTILINE), mistake


def test_a_disk_that_takes_no_more_is_told_in_one_line(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Path("/dev/full").open("w") as full, contextlib.redirect_stdout(full):
        code = main(["air", "--cylinder", "6/300"])
    assert code == Exit.SYSTEM
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize(
    "line",
    [
        "keys create new --real", "keys next fleet.key", "packs --truth new",
        "packs --capture new --boots 0", "packs --roster-to new", "orders --tone new",
        f"report {GOLDEN} -o new", f"handover {GOLDEN} -o new", "roster kiln-lane -o new.toml",
        f"export {GOLDEN} --frames new", f"export {GOLDEN} new", f"incidents pack {GOLDEN} new",
    ],
)  # fmt: skip
def test_a_file_that_the_disk_takes_no_more_of_is_not_left_there(
    line: str, desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Half of one would be taken for the whole, and would be in the way of the next try."""
    before = snapshot(desk)
    with no_more_than(10):
        code = ended(line)
    error = capsys.readouterr().err
    assert code in {Exit.FILE, Exit.JOURNAL, Exit.SYSTEM}, error
    assert error.splitlines()[-1].startswith("outby: ")
    assert "Traceback" not in error
    assert snapshot(desk) == before


def test_an_incidents_folder_that_is_empty_is_no_mistake(
    desk: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Path("empty").mkdir()
    assert main(["incidents", "--incidents-folder", "empty"]) == Exit.OK
    assert capsys.readouterr().out == "no incidents in empty\n"
    assert main(["incidents"]) == Exit.OK, "nothing has been recorded yet on this machine"
