"""Every file that a person may name, damaged: one line and the exit code of its kind."""

import json
import os
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest

import shared
from monitor import keyfile, roster, roster_text
from monitor.errors import Exit
from monitor.instructor.tail import TruthTail
from monitor.recorder import memory
from simulators import instructions
from simulators.scenario_file import ScenarioFault
from simulators.scenario_file import load as load_scenario
from tests.fuzz.hostile import TEXT_KINDS, Ended, check, run

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))
RUNS = int(os.environ.get("HOSTILE", "0"))
SAMPLE = 2
FAILED: tuple[tuple[str, str, int], ...] = ()
AIR = ("air", "--cylinder", "6.8/300", "--pressure", "200")


def _of(kind: str, name: str) -> Callable[[Path], bytes]:
    return lambda _folder: shared.path(kind, f"{name}.toml").read_bytes()


def _table(_folder: Path) -> bytes:
    return roster_text.table(roster.load("kiln-lane")).encode()


def _key(folder: Path) -> bytes:
    keyfile.create(folder / "made.key", "real")
    return (folder / "made.key").read_bytes()


def _truth(_folder: Path) -> bytes:
    notes: list[dict[str, object]] = [
        {"what": "run", "format": 1, "scenario": "Kiln Lane", "seed": 1, "boots_before": 0},
        {"what": "frame", "t_ns": 5, "pack": 101, "sequence": 1},
        {"what": "inject", "t_ns": 9, "name": "smoke", "shows": "distress", "shows_for": [1],
         "shows_within_s": 5.0},
        {"what": "tone", "pack": 101, "from_ns": 1, "to_ns": 2},
        {"what": "state", "t_ns": 6, "wearer": 1, "pressure_bar": 200.0, "rate_l_min": 40.0,
         "work": "rest", "still_s": 0.0, "breathing_from_set": True, "place": "door", "floor": 0,
         "way_back_s": 1.0},
        {"what": "instructor", "t_ns": 7, "do": "tick", "told": "called", "wearers": [1]},
        {"what": "order", "t_ns": 8, "pack": 101, "kind": "EVACUATE"},
    ]  # fmt: skip
    return b"".join(json.dumps(note).encode() + b"\n" for note in notes * 3)


def _instructions(folder: Path) -> bytes:
    for one in (
        instructions.Stand(), instructions.Tick(told="called", wearers=(1, 2)),
        instructions.Bookmark(text="here"), instructions.Sooner(name="smoke"),
    ):  # fmt: skip
        instructions.add(folder / "made", one)
    return (folder / "made").read_bytes()


def _memory(_folder: Path) -> bytes:
    return memory.Memory(base=7, session=3, packs={101: (1, 2, 3, b"")}).model_dump_json().encode()


def _command(*argv: str) -> Callable[[Path], Ended]:
    return lambda path: run([str(path) if word == "F" else word for word in argv])


def _settings(path: Path) -> Ended:
    before = os.environ["OUTBY_SETTINGS"]
    os.environ["OUTBY_SETTINGS"] = str(path)
    try:
        return run(["incidents"])
    finally:
        os.environ["OUTBY_SETTINGS"] = before


def _scenario(path: Path) -> Ended:
    try:
        load_scenario(str(path))
    except ScenarioFault as fault:
        return Ended(Exit.FILE, "", f"outby: {fault}\n")
    return Ended(Exit.OK, "", "")


def _tails(path: Path) -> Ended:
    """Those that are looked at again and again: a line that is none is passed over."""
    said = [str(one) for one in instructions.Instructions(path).take()]
    TruthTail(path).poll()
    return Ended(Exit.OK, "\n".join(line.encode("unicode_escape").decode() for line in said), "")


def _memory_read(path: Path) -> Ended:
    found, fault = memory.load(path)
    return Ended(Exit.OK, str(found), "") if found else Ended(Exit.FILE, "", f"outby: {fault}\n")


FILES: dict[str, tuple[Callable[[Path], bytes], str, Callable[[Path], Ended]]] = {
    "roster": (_of("rosters", "kiln-lane"), ".toml", _command("roster", "F")),
    "table": (_table, ".csv", _command("roster", "F")),
    "procedure": (_of("procedures", "us-psi"), ".toml", _command(*AIR, "--procedure", "F")),
    "cylinders": (lambda _: shared.path("", "cylinders.toml").read_bytes(), ".toml",
                  _command(*AIR, "--cylinders", "F")),
    "scenario": (_of("scenarios", "kiln-lane"), ".toml", _scenario),
    "settings": (lambda _: b'name = "Kiln Lane"\nlinks = ["udp:41900"]\nmouse = true\n', ".toml",
                 _settings),
    "key": (_key, ".key", _command("keys", "show", "F")),
    "truth": (_truth, ".jsonl", _command("orders", GOLDEN, "--truth", "F")),
    "truth of a score": (_truth, ".jsonl", _command("score", GOLDEN, "F")),
    "tails": (_instructions, ".jsonl", _tails),
    "truth that grows": (_truth, ".jsonl", _tails),
    "memory": (_memory, ".json", _memory_read),
}  # fmt: skip
SLOW = frozenset({"truth", "truth of a score"})
KINDS = [(file, kind) for file in FILES for kind in TEXT_KINDS]
COUNT = RUNS // len(KINDS) + 1 if RUNS else SAMPLE
CASES = [
    *FAILED,
    *((f, k, n) for f, k in KINDS for n in range(COUNT if RUNS or f not in SLOW else 1)),
]


@pytest.fixture(autouse=True)
def _own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "settings.toml").touch()
    monkeypatch.setenv("OUTBY_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("OUTBY_INCIDENTS_FOLDER", str(tmp_path))


@pytest.mark.parametrize(("file", "kind", "seed"), CASES)
def test_one_line_whatever_it_holds(tmp_path: Path, file: str, kind: str, seed: int) -> None:
    rng = Random(f"{file} {kind} {seed}")
    make, ending, read = FILES[file]
    path = tmp_path / f"named{ending}"
    path.write_bytes(TEXT_KINDS[kind](rng, make(tmp_path)))
    path.chmod(0o600)
    check(read(path), (Exit.OK, Exit.FILE, Exit.USAGE))


@pytest.mark.parametrize(
    ("file", "what"),
    [
        (file, what)
        for file in FILES
        for what in ("pipe", "folder", "device", "20 GiB", "round", "long", "nul")
        # Those that grow may be anything before they are there; no variable can hold a zero byte.
        if "tail" not in file and "grows" not in file and (file, what) != ("settings", "nul")
    ],
)
def test_what_is_no_file_is_told_at_once(tmp_path: Path, file: str, what: str) -> None:
    _, ending, read = FILES[file]
    path = tmp_path / f"named{ending}"
    if what == "pipe":
        os.mkfifo(path)
    elif what == "folder":
        path.mkdir()
    elif what == "device":
        path.symlink_to("/dev/zero")
    elif what == "round":
        path.symlink_to(path)
    elif what == "20 GiB":
        with path.open("wb") as sparse:
            sparse.truncate(20 * 1024**3)
    elif what == "long":
        path = tmp_path / ("n" * 300 + ending)
    else:
        path = tmp_path / f"a\0b{ending}"
    ended = read(path)
    check(ended, (Exit.FILE, Exit.USAGE))
    if file == "memory" or ended.code == Exit.USAGE:
        return
    assert str(path)[:100].split("\0")[0] in ended.err
