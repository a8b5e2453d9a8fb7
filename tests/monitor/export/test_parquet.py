"""Parquet, read by another library than the one that wrote it."""

import stat
from pathlib import Path

import polars as pl
import pyarrow.parquet as pq

from monitor.export.parquet import ROWS_A_GROUP, ParquetSink
from monitor.export.tables import Table
from tests.monitor.export.conftest import WALL_NS

Rows = list[tuple[object, ...]]


def test_what_is_written_is_read_back(tmp_path: Path, every_type: Table, rows: Rows) -> None:
    path = tmp_path / "every.parquet"
    sink = ParquetSink(path, every_type)
    for row in rows:
        sink.write(row)
    sink.close()
    frame = pl.read_parquet(path)
    assert frame.schema == {
        "use": pl.String, "count": pl.Int64, "pressure_bar": pl.Float64, "low": pl.Boolean,
        "clock": pl.Datetime("ns", "UTC"),
    }  # fmt: skip
    for place, name in enumerate(("use", "count", "pressure_bar", "low")):
        assert frame[name].to_list() == [row[place] for row in rows]
    assert frame["clock"].dt.epoch("ns").to_list() == [row[4] for row in rows]
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_unit_and_meaning_stand_beside_each_column(tmp_path: Path, every_type: Table) -> None:
    path = tmp_path / "every.parquet"
    ParquetSink(path, every_type).close()
    schema = pq.read_schema(path)
    assert schema.field("pressure_bar").metadata == {b"unit": b"bar", b"meaning": b"a pressure"}
    assert schema.metadata[b"table"] == b"every"
    assert pl.read_parquet(path).height == 0


def test_more_rows_than_a_group_holds(tmp_path: Path, every_type: Table) -> None:
    path = tmp_path / "every.parquet"
    sink = ParquetSink(path, every_type)
    for number in range(ROWS_A_GROUP + 1):
        sink.write(("REAL", number, None, None, WALL_NS))
    sink.close()
    assert pq.read_metadata(path).num_row_groups == 2
    assert pl.read_parquet(path)["count"].sum() == ROWS_A_GROUP * (ROWS_A_GROUP + 1) // 2
