"""The report: what gathering a journal costs beside its fold, and what one chart costs."""

import json
import tempfile
from collections.abc import Iterator
from pathlib import Path

from monitor.incident.decoding import event_of
from monitor.incident.incident import Incident
from monitor.incident.rows import Row
from monitor.journal.reader import JournalReader
from monitor.report.charts import wear_chart
from monitor.report.curves import WearCurves
from monitor.report.gathering import gather
from tests.benchmarks.measuring import Figure, compare
from tests.functional import long_journal

S = 1_000_000_000
FRAMES = 60_000


def figures() -> Iterator[Figure]:
    """Measure both."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.journal"
        long_journal.make(path, FRAMES)
        with JournalReader(path) as reader:
            last = reader.last_batch()
            steps = list(reader.steps(last.last_row))
        yield _gather(steps, last.horizon)
    yield _chart()


def _gather(steps: list[list[Row]], end_ns: int) -> Figure:
    """Peer: folding the same rows and keeping nothing."""

    def peers() -> None:
        incident = Incident()
        for step in steps:
            for row in step:
                event = event_of(row)
                if event is not None:
                    incident.apply(event)

    what = "report: a frame gathered, 500 looks at the board"
    return compare(what, "folding alone", lambda: gather(steps, end_ns), peers, FRAMES)


def _chart() -> Figure:
    """Peer: the same points as JSON."""
    line = tuple((t * S, 300.0 - t / 10) for t in range(0, 1800, 6))
    curves = WearCurves(
        title="Alpha 1", alt="", unit="bar", from_ns=0, to_ns=1800 * S, readings=(line,), gaps=(),
        estimates=(), voice=(), plan=line, limits=(("turn-back 170", 170.0),), letters=(),
        alarms=(), rate=(line,), planned_rate=50.0,
    )  # fmt: skip
    return compare(
        "report: the chart of one wear",
        "its points as JSON",
        lambda: wear_chart(curves, "w1", str, lambda t: t),
        lambda: json.dumps([line, line, line]),
        1,
    )
