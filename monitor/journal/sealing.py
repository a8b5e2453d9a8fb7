"""Numbers and digests for batches that are to be written. Pure.

A batch is sealed once, when it is made: its rows have their numbers and it has its place in the
running digest before any disk has seen it. So the same batch can be tried again, or be written in
another place, and is the same batch wherever it is found.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from monitor.incident.rows import Row
from monitor.journal import digest
from monitor.journal.schema import STANDING_SHIFT, Batch, Session

if TYPE_CHECKING:
    from monitor.clock import Stamp


class Sealed(NamedTuple):
    """One batch as it stands in a journal, wherever that is."""

    before: Batch
    """The batch that it follows."""
    batch: Batch
    rows: digest.Columns
    """Numbered from ``before.last_row + 1``."""
    new: Session | None = None
    """The session that begins with it."""


@dataclass(slots=True)
class Sealer:
    """Seals one batch after the other, following ``last``."""

    last: Batch
    key: bytes
    new: Session | None = None
    """A session that begins with the next batch."""

    def begin_session(
        self, boot_id: str, origin_boot_ns: int, started_wall_ns: int, software: str
    ) -> Session:
        """Start a stretch of recording; it begins with the next batch."""
        number = self.last.session + 1
        self.new = Session(number, boot_id, origin_boot_ns, started_wall_ns, software)
        return self.new

    def seal(self, rows: Sequence[Row], horizon: int, stamp: "Stamp") -> Sealed:
        """Seal ``rows``, which are in order of time and lie between the last horizon and this."""
        before, new = self.last, self.new
        columns = columns_of(rows)
        _check_times(columns, before.horizon, horizon)
        session = new.session if new else before.session
        last_row = before.last_row + len(rows)
        batch = Batch(before.batch + 1, session, last_row, horizon, *stamp, b"")
        batch = batch._replace(digest=digest.of_batch(before, batch, columns, new, self.key))
        self.last, self.new = batch, None
        return Sealed(before, batch, columns, new)


def columns_of(rows: Sequence[Row]) -> digest.Columns:
    """Rows as columns, as they are stored and as their digest is made."""
    if not rows:
        return digest.NO_ROWS
    return digest.Columns(
        [row.t for row in rows],
        [row.kind | row.standing << STANDING_SHIFT for row in rows],
        [row.link for row in rows],
        [row.late_ns for row in rows],
        [row.signal_dbm for row in rows],
        [row.data for row in rows],
    )


def _check_times(columns: digest.Columns, last_horizon: int, horizon: int) -> None:
    times = list(columns.t)
    assert horizon >= last_horizon, "the horizon never goes back"
    assert times == sorted(times), "rows are in order of time"
    assert not times or last_horizon < times[0] <= times[-1] <= horizon, "rows lie between horizons"
