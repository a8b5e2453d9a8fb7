"""``outby export``: three formats that tell the same, and a capture; one line for each error."""

import sys
from pathlib import Path
from typing import Any

import polars as pl
import pytest

import shared
from monitor.cli import main
from monitor.errors import Exit
from monitor.export.tables import TABLES, Type

GOLDEN = str(shared.path("journals", "kiln-lane.journal"))


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_a_data_frame_library_reads_the_same_from_all_three(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Types are those of the dictionary; values are equal in all formats."""
    formats = [part for name in ("csv", "jsonl", "parquet") for part in ("--format", name)]
    assert main(["export", GOLDEN, "out", *formats]) == Exit.OK
    assert capsys.readouterr().out.splitlines()[1] == (
        "tables in out; DATA-DICTIONARY.md there says what they hold"
    )
    kinds: dict[Type, Any] = {
        Type.TEXT: pl.String, Type.INTEGER: pl.Int64, Type.NUMBER: pl.Float64,
        Type.TRUTH: pl.Boolean, Type.TIME: pl.Datetime("ns", "UTC"),
    }  # fmt: skip
    for table in TABLES:
        wanted = {column.name: kinds[column.type] for column in table.columns}
        as_text = {n: pl.String if k == kinds[Type.TIME] else k for n, k in wanted.items()}
        parquet = pl.read_parquet(here / "out" / f"{table.name}.parquet")
        assert dict(parquet.schema) == wanted
        times = pl.col([table.columns[i].name for i in table.places(Type.TIME)] or ["use"])
        form = "%Y-%m-%dT%H:%M:%S%.9fZ"
        if table.places(Type.TIME):
            parquet = parquet.with_columns(times.dt.strftime(form))
        csv = pl.read_csv(here / "out" / f"{table.name}.csv", schema=as_text)
        jsonl = pl.read_ndjson(here / "out" / f"{table.name}.jsonl", schema=as_text)
        assert csv.equals(jsonl), table.name
        assert jsonl.equals(parquet), table.name


def test_comma_separated_values_unless_something_else_is_said(here: Path) -> None:
    assert main(["export", GOLDEN, "out"]) == Exit.OK
    names = {path.name for path in (here / "out").iterdir()}
    assert names == {f"{table.name}.csv" for table in TABLES} | {"DATA-DICTIONARY.md"}


def test_the_capture_alone(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", GOLDEN, "--frames", "one.pcapng"]) == Exit.OK
    said = capsys.readouterr().out
    assert "frames in one.pcapng" in said
    script = Path(said.split("lua_script:")[1].split()[0])
    assert script.name == "outby.lua"
    assert script.exists()
    assert [path.name for path in here.iterdir()] == ["one.pcapng"]


@pytest.mark.parametrize(
    ("asked", "code", "said"),
    [
        ([GOLDEN], Exit.USAGE, "nothing to write"),
        ([GOLDEN, "--format", "csv", "--frames", "x"], Exit.USAGE, "tables need a place"),
        (["never.journal", "out"], Exit.JOURNAL, "there is no such journal"),
        (["mine", "out"], Exit.JOURNAL, "not a journal"),
        ([GOLDEN, "mine"], Exit.ALREADY_THERE, "there is something already: mine"),
        ([GOLDEN, "out", "--frames", "mine"], Exit.ALREADY_THERE, "there is a file already: mine"),
        ([GOLDEN, "--frames", "no/where"], Exit.FILE, "nothing can be written there"),
    ],
)
def test_an_error_is_one_line_and_leaves_nothing(
    here: Path, capsys: pytest.CaptureFixture[str], asked: list[str], code: Exit, said: str
) -> None:
    (here / "mine").write_text("Dear all")
    assert main(["export", *asked]) == code
    error = capsys.readouterr().err
    assert said in error
    assert error.count("\n") == 1
    assert [path.name for path in here.iterdir()] == ["mine"]


def test_one_of_which_nothing_is_right_leaves_nothing(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    torn = here / "torn.journal"
    torn.write_bytes(Path(GOLDEN).read_bytes()[:4_096])
    assert main(["export", "torn.journal", "out", "--frames", "one.pcapng"]) == Exit.JOURNAL
    assert capsys.readouterr().err.count("\n") == 1
    assert [path.name for path in here.iterdir()] == ["torn.journal"]


def test_parquet_without_its_extra_names_the_extra(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An entry of None in the table of modules is how Python marks one that cannot be imported."""
    monkeypatch.delitem(sys.modules, "monitor.export.parquet", raising=False)
    monkeypatch.setitem(sys.modules, "pyarrow", None)
    assert main(["export", GOLDEN, "out", "--format", "parquet"]) == Exit.USAGE
    error = capsys.readouterr().err
    assert "Parquet needs the extra of that name" in error
    assert "pip install 'outby[parquet]'" in error
    assert list(here.iterdir()) == []
