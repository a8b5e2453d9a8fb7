"""What is written is read back the same, by Python's own readers and by a data-frame library."""

import csv
import json
import stat
from pathlib import Path

import polars as pl
import pytest

from monitor.csv_cells import plain
from monitor.export.sinks import CsvSink, JsonLinesSink, open_new
from monitor.export.tables import Table

Rows = list[tuple[object, ...]]
TIMES = ["2023-11-14T22:13:20.000000001Z", "2023-11-14T22:13:20.999999999Z", None,
         "2023-11-14T22:13:20.000000000Z"]  # fmt: skip


def test_comma_separated_values_to_the_byte(tmp_path: Path, every_type: Table, rows: Rows) -> None:
    """RFC 4180: lines end in CR LF, a quote within quotes is doubled."""
    path = tmp_path / "every.csv"
    sink = CsvSink(path, every_type)
    for row in rows[:3]:
        sink.write(row)
    sink.close()
    assert path.read_bytes().decode() == (
        "use,count,pressure_bar,low,clock\r\n"
        "EXERCISE,1,287.5,true,2023-11-14T22:13:20.000000001Z\r\n"
        '"said ""now"", then\nleft",-4611686018427387904,0.1,false,'
        "2023-11-14T22:13:20.999999999Z\r\n"
        ",,,,\r\n"
    )
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_comma_separated_values_read_back(tmp_path: Path, every_type: Table, rows: Rows) -> None:
    path = tmp_path / "every.csv"
    sink = CsvSink(path, every_type)
    for row in rows:
        sink.write(row)
    sink.close()
    with path.open(newline="", encoding="utf-8") as file:
        read = list(csv.DictReader(file))
    assert [line["use"] or None for line in read] == [row[0] for row in rows]
    frame = pl.read_csv(path, try_parse_dates=True)
    assert frame.schema == {
        "use": pl.String, "count": pl.Int64, "pressure_bar": pl.Float64, "low": pl.Boolean,
        "clock": frame.schema["clock"],
    }  # fmt: skip
    assert frame.schema["clock"].is_temporal()
    for place, name in enumerate(("use", "count", "pressure_bar", "low")):
        assert frame[name].to_list() == [row[place] for row in rows]


def test_json_lines_read_back(tmp_path: Path, every_type: Table, rows: Rows) -> None:
    path = tmp_path / "every.jsonl"
    sink = JsonLinesSink(path, every_type)
    for row in rows:
        sink.write(row)
    sink.close()
    read = [json.loads(line) for line in path.read_text("utf-8").split("\n")[:-1]]
    names = [column.name for column in every_type.columns]
    assert [list(line) for line in read] == [names] * len(rows)
    for line, row, time in zip(read, rows, TIMES, strict=True):
        assert list(line.values()) == [*row[:4], time]
    frame = pl.read_ndjson(path)
    assert frame["count"].to_list() == [row[1] for row in rows]
    assert frame["clock"].to_list() == TIMES


def test_a_file_that_is_there_stays(tmp_path: Path) -> None:
    (tmp_path / "mine").write_text("mine")
    with pytest.raises(FileExistsError):
        open_new(tmp_path / "mine")


def test_no_text_is_a_formula_and_numbers_stay_numbers(
    tmp_path: Path, every_type: Table, rows: Rows
) -> None:
    """OWASP, "CSV Injection" (owasp.org/www-community/attacks/CSV_Injection)."""
    path = tmp_path / "every.csv"
    sink = CsvSink(path, every_type)
    for text in ("=1+1", "\t=1+1", "@x", "'-1"):
        sink.write((text, -1, -0.5, *rows[0][3:]))
    sink.close()
    with path.open(newline="", encoding="utf-8") as file:
        read = list(csv.DictReader(file))
    assert [line["use"] for line in read] == ["'=1+1", "'\t=1+1", "'@x", "''-1"]
    assert [plain(line["use"]) for line in read] == ["=1+1", "\t=1+1", "@x", "'-1"]
    assert {(line["count"], line["pressure_bar"]) for line in read} == {("-1", "-0.5")}
