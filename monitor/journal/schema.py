"""What is in a journal file: marks, tables, header, sessions, batches.

The whole is described for strangers in ``JOURNAL-FORMAT.md``; a test holds the two together.
"""

from typing import Annotated, Literal, NamedTuple

from pydantic import BaseModel, ConfigDict, Field

from monitor.incident.event_parts import Ns, Number, Said
from monitor.incident.rows import RowKind, Standing

APPLICATION_ID = 0x4F757442
"""Bytes 68 to 71 of the file: ``OutB``, so that no other SQLite file is taken for a journal."""
FORMAT_VERSION = 1
"""SQLite's user version. A program refuses a journal of a higher one."""
PAGE_BYTES = 2048
"""A commit rewrites whole pages; small ones keep the write-ahead log and a short journal small."""
ROWS_A_STEP_MAX = 2_000
"""Most rows fetched in one read transaction, so that a reader never holds up a checkpoint."""

TABLES = (
    """CREATE TABLE header(
 key TEXT PRIMARY KEY,
 value TEXT NOT NULL) WITHOUT ROWID""",
    """CREATE TABLE sessions(
 session INTEGER PRIMARY KEY,
 boot_id TEXT NOT NULL,
 origin_boot_ns INTEGER NOT NULL,
 started_wall_ns INTEGER NOT NULL,
 software TEXT NOT NULL)""",
    """CREATE TABLE rows(
 id INTEGER PRIMARY KEY,
 t INTEGER NOT NULL,
 kind INTEGER NOT NULL,
 link INTEGER NOT NULL,
 late_ns INTEGER NOT NULL,
 signal_dbm INTEGER,
 data BLOB NOT NULL)""",
    """CREATE TABLE batches(
 batch INTEGER PRIMARY KEY,
 session INTEGER NOT NULL,
 last_row INTEGER NOT NULL,
 horizon INTEGER NOT NULL,
 boot_ns INTEGER NOT NULL,
 wall_ns INTEGER NOT NULL,
 digest BLOB NOT NULL)""",
)

DATA_BYTES_MAX = 250_000
"""Of one value. The longest is the opening, with its procedure: that has 100,000 at most."""
HEADER_KEYS_MAX = 100
SESSIONS_MAX = 100_000
"""A recorder that dies every minute makes as many in two months."""
HORIZON_NS_MAX = 366 * 24 * 3_600_000_000_000
"""A year. A time beyond it would only keep a reader busy with all that falls due until then."""

STANDING_SHIFT = 4
"""Column ``kind`` holds the row's kind in its low four bits and the standing above them: what
nearly every row is, a live frame, is then the number 1, which SQLite stores in no byte at all."""
KIND_OF = {k | s << STANDING_SHIFT: k for k in RowKind for s in Standing}
STANDING_OF = {k | s << STANDING_SHIFT: s for k in RowKind for s in Standing}

HORIZON_BEFORE_ALL = -1
"""Horizon of batch 0, which holds no row: the first row may be at incident time 0."""


class Header(BaseModel):
    """What never changes in one journal. Keys that this version does not know are passed over."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    format: Number = FORMAT_VERSION
    fold: Annotated[Number, Field(ge=1)]
    """Version of the fold that the recorder ran."""
    software: Said
    incident: Said
    """Unique, UUID hex."""
    use: Literal["exercise", "real"]
    opened_wall_ns: Annotated[Ns, Field(ge=0)]
    catalogue: Said = ""
    """Digest of the alarm catalogue, hex."""
    simulated: Said = ""
    """What the simulated packs were started from; empty where the packs are real."""
    salvaged: Said = ""
    """Made of a damaged journal: which, how far that was right, what is wrong after; else empty."""
    signer: Annotated[str, Field(pattern="^([0-9a-f]{64})?$")] = ""
    """Public Ed25519 key of whoever signs it now and then, hex; empty: it is not signed."""
    digest: Literal["open", "keyed"] = "open"
    """Whether the running digest is made with a key; set when the journal is made."""
    key_check: Said = ""
    """Tells the right key from a wrong one without showing it, hex; empty where open."""


class Session(NamedTuple):
    """One stretch of recording by one recorder process."""

    session: int
    """From 1."""
    boot_id: str
    """Which start of the machine; see ``monitor.clock``."""
    origin_boot_ns: int
    """What the boot clock read, or would have read, at incident time 0."""
    started_wall_ns: int
    software: str


class Batch(NamedTuple):
    """One commit."""

    batch: int
    """From 0, which is the making of the file."""
    session: int
    last_row: int
    """Number of the last row committed with it or before."""
    horizon: int
    """Incident time, ns: everything up to here is in the journal."""
    boot_ns: int
    wall_ns: int
    digest: bytes
