"""Gatherings that are kept beside a journal, so that a report need not read it from the first row.

One is the report's own pass as it stood at a commit, in the form of a checkpoint and with the same
proofs: right checksum, the very program, the same incident, a commit of the journal with its
digest, and the journal's tag where it has a key. Two are kept; the newest begins a report.
"""

from collections.abc import Iterator
from functools import cache
from pathlib import Path
from types import MappingProxyType, ModuleType

import monitor
from monitor.archive import wall_clock
from monitor.checkpoint import code
from monitor.checkpoint.classes import CLASSES, of
from monitor.checkpoint.file import Form, Key
from monitor.checkpoint.keeping import Series
from monitor.checkpoint.shelf import Folder, Shelf
from monitor.incident.incident import FOLD_VERSION
from monitor.journal.schema import Header
from monitor.report import alarm_lives, gathering, links, timeline, wears
from monitor.report.gathering import Gathering

ENDING = ".gathered"
APART_ROWS = 40_000
"""A second to fold on a slow machine: thirteen minutes of 50 packs. Writing one takes as long."""
COUNT_MAX = 2
"""The newest, and the one before it, for a report that is made as the newest is written."""
PARTS = (*code.PARTS, *(Path(monitor.__file__).parent / name for name in ("report", "archive")))
"""The source of what makes one."""


def _modules() -> Iterator[ModuleType]:
    yield from (alarm_lives, gathering, links, timeline, wall_clock, wears)


@cache
def _code() -> str:
    return code.of(PARTS)


FORM = Form(Gathering, MappingProxyType(dict(CLASSES) | dict(of(_modules()))))


def gatherings(
    shelf: Shelf, header: Header, secret: bytes = b"", apart_rows: int = APART_ROWS
) -> Series[Gathering]:
    """Those of a journal on some shelf. ``secret``: its key; then only those tagged with it."""
    key = Key(FOLD_VERSION, _code(), header.incident)
    return Series(shelf, key, apart_rows, COUNT_MAX, secret, FORM)


def gatherings_of(journal: Path, header: Header, secret: bytes = b"") -> Series[Gathering]:
    """Those beside a journal."""
    return gatherings(Folder(journal, ending=ENDING), header, secret)
