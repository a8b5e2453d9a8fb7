"""The writer of Parquet. Only this module needs pyarrow, the extra ``parquet``."""

import os
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from monitor.export.sinks import BUFFER_BYTES, Row, open_new
from monitor.export.tables import Table, Type

ROWS_A_GROUP = 50_000
"""Rows of a row group, held in memory: some tens of megabytes."""

_TYPES = {
    Type.TEXT: pa.string(),
    Type.INTEGER: pa.int64(),
    Type.NUMBER: pa.float64(),
    Type.TRUTH: pa.bool_(),
    Type.TIME: pa.timestamp("ns", tz="UTC"),
}


class ParquetSink:
    """A row group at a time; unit and meaning stand in each column's metadata."""

    def __init__(self, path: Path, table: Table) -> None:
        fields = [
            pa.field(c.name, _TYPES[c.type], metadata={"unit": c.unit, "meaning": c.meaning})
            for c in table.columns
        ]
        self._schema = pa.schema(fields, metadata={"table": table.name, "about": table.about})
        self._file = os.fdopen(open_new(path), "wb", BUFFER_BYTES)
        self._writer = pq.ParquetWriter(self._file, self._schema)
        self._rows: list[Row] = []

    def write(self, row: Row) -> None:
        """Take one row."""
        self._rows.append(row)
        if len(self._rows) >= ROWS_A_GROUP:
            self._flush()

    def _flush(self) -> None:
        if self._rows:
            columns = [
                pa.array(values, field.type)
                for values, field in zip(zip(*self._rows, strict=True), self._schema, strict=True)
            ]
            self._writer.write_batch(pa.record_batch(columns, schema=self._schema))
            self._rows.clear()

    def close(self) -> None:
        """Write out what is held and let go of the file."""
        self._flush()
        self._writer.close()
        self._file.close()
