"""Kinds of journals that are damaged, or that somebody made to do harm."""

import os
import sqlite3
from collections.abc import Callable
from contextlib import closing, suppress
from pathlib import Path
from random import Random

from monitor.incident.rows import RowKind
from protocol.codec import decode, encode
from protocol.packets import Receipt, Report
from tests.fuzz.hostile import cut, flipped, json_changed

PAGE = 2048
"""Bytes, as JOURNAL-FORMAT.md has them."""
Harm = Callable[[Random, Path], None]
ENDLESS = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n)"
KIND_BITS = 15


def _bytes(change: Callable[[Random, bytes], bytes]) -> Harm:
    def harm(rng: Random, path: Path) -> None:
        path.write_bytes(change(rng, path.read_bytes()))

    return harm


def _page_changed(rng: Random, data: bytes) -> bytes:
    """A page is empty, another's, or rubbish; the first one, which has the marks, less often."""
    pages = [data[at : at + PAGE] for at in range(0, len(data), PAGE)]
    one, other = rng.randrange(rng.choice([0, 1]), len(pages)), rng.randrange(len(pages))
    pages[one] = rng.choice([bytes(PAGE), pages[other], rng.randbytes(PAGE)])
    return b"".join(pages)


def _led_round(rng: Random, data: bytes) -> bytes:
    """Pages of the tree lead to others than below them, perhaps in a circle.

    SQLite's file format, section 1.6: an interior page of a table begins with 5, and its last child
    is named in its bytes 8 to 11; the places of the others stand from byte 12 on.
    """
    raw = bytearray(data)
    inner = [at for at in range(PAGE, len(raw), PAGE) if raw[at] == 5]
    for at in inner or [PAGE]:
        target = rng.randrange(1, len(raw) // PAGE + 1).to_bytes(4, "big")
        raw[at + 8 : at + 12] = target
        if rng.random() < 0.7:
            cells = int.from_bytes(raw[at + 3 : at + 5], "big")
            for number in range(cells):
                place = at + int.from_bytes(raw[at + 12 + 2 * number :][:2], "big")
                raw[place : place + 4] = target
    return bytes(raw)


def _sql(*choices: tuple[str, ...]) -> Harm:
    def harm(rng: Random, path: Path) -> None:
        with closing(sqlite3.connect(path)) as connection:
            for statement in rng.choice(choices):
                connection.execute(statement)
            connection.commit()

    return harm


_schema = _sql(
    ("CREATE VIEW more AS SELECT 1",),
    ("DROP TABLE sessions", f"CREATE VIEW sessions AS {ENDLESS} SELECT i FROM n"),
    ("DROP TABLE rows", f"CREATE VIEW rows AS {ENDLESS} SELECT i FROM n"),
    ("CREATE TRIGGER t AFTER INSERT ON batches BEGIN DELETE FROM rows; END",),
    ("ALTER TABLE rows ADD COLUMN more AS (zeroblob(1000000000))",),
    ("CREATE INDEX more ON rows(data)",),
    ("DROP TABLE batches",),
    ("PRAGMA user_version = 99",),
    ("PRAGMA application_id = 1",),
)
_content = _sql(
    ("DELETE FROM rows",),
    ("DELETE FROM rows WHERE id = 1",),
    ("DELETE FROM rows WHERE id > 1",),
    ("DELETE FROM batches",),
    ("DELETE FROM batches WHERE batch > 0",),
    ("DELETE FROM batches WHERE batch % 2",),
    ("DELETE FROM sessions",),
    ("DELETE FROM header",),
    ("UPDATE rows SET id = id + 1000000",),
    ("UPDATE rows SET t = t * 1000",),
    ("UPDATE batches SET horizon = horizon + 30000000000000000 WHERE horizon > 0",),
    ("UPDATE batches SET last_row = last_row + 1000000000",),
    (f"{ENDLESS} INSERT INTO header SELECT 'k' || i, 'v' FROM n LIMIT 5000",),
    (f"{ENDLESS} INSERT INTO sessions SELECT i + 9, '', 0, 0, '' FROM n LIMIT 5000",),
)
_COLUMNS = {
    "header": ("key", "value"),
    "sessions": ("session", "boot_id", "origin_boot_ns", "started_wall_ns", "software"),
    "rows": ("t", "kind", "link", "late_ns", "signal_dbm", "data"),
    "batches": ("session", "last_row", "horizon", "boot_ns", "wall_ns", "digest"),
}
_VALUES: tuple[object, ...] = (
    0, 1, -1, 2, 17, 255, 2**31, 2**62, 2**63 - 1, -(2**63), 1.5, 1e300, "", "x", "\x1b[2J",
    "9" * 5_000, "9999999999999999999999", b"", b"\xff", b"{}", b"x" * 300_000, "REAL", "real",
    "exercise",
)  # fmt: skip


def _cell(rng: Random, path: Path) -> None:
    """One value of one table is another one."""
    table = rng.choice(list(_COLUMNS))
    column = rng.choice(_COLUMNS[table])
    with closing(sqlite3.connect(path)) as connection:
        key = "key" if table == "header" else "rowid"
        ids = connection.execute(f"SELECT {key} FROM {table}").fetchall()
        with suppress(sqlite3.IntegrityError):
            connection.execute(
                f"UPDATE {table} SET {column} = ? WHERE {key} = ?",
                (rng.choice(_VALUES), rng.choice(ids)[0]),
            )
        connection.commit()


def _rows_of(connection: sqlite3.Connection, *, frames: bool) -> list[tuple[int, bytes]]:
    is_frame = "=" if frames else "<>"
    return connection.execute(
        f"SELECT id, data FROM rows WHERE kind & {KIND_BITS} {is_frame} ?", (int(RowKind.FRAME),)
    ).fetchall()


def _said(rng: Random, path: Path) -> None:
    """What acts, facts or announcements say is something else: once, or at many places."""
    with closing(sqlite3.connect(path)) as connection:
        rows = _rows_of(connection, frames=False)
        for number, data in rng.sample(rows, rng.choice([1, 1, 1, 10])):
            connection.execute(
                "UPDATE rows SET data = ? WHERE id = ?", (json_changed(rng, data), number)
            )
        connection.commit()


def _first_row(rng: Random, path: Path) -> None:
    """The opening, with procedure and all, says something else."""
    with closing(sqlite3.connect(path)) as connection:
        data = connection.execute("SELECT data FROM rows WHERE id = 1").fetchone()[0]
        for _ in range(rng.choice([1, 3])):
            data = json_changed(rng, data)
        connection.execute("UPDATE rows SET data = ? WHERE id = 1", (data,))
        connection.commit()


def _moved(rng: Random, path: Path) -> None:
    """What is said stands at other places, in other kinds of rows, or twice."""
    with closing(sqlite3.connect(path)) as connection:
        rows = connection.execute("SELECT id, kind, data FROM rows").fetchall()
        few = [row for row in rows if row[1] & KIND_BITS != RowKind.FRAME]
        for _ in range(rng.choice([1, 5, 30])):
            one, other = rng.choice(few), rng.choice(rows)
            kind = one[1] if rng.random() < 0.9 else rng.choice([1, 2, 3, 4, 17, 33, 49, 65])
            connection.execute(
                "UPDATE rows SET kind = ?, data = ? WHERE id = ?", (kind, one[2], other[0])
            )
        connection.commit()


def _frames(rng: Random, path: Path) -> None:
    """Frames are torn, or say something else with a checksum that is right."""
    with closing(sqlite3.connect(path)) as connection:
        rows = _rows_of(connection, frames=True)
        for number, data in rng.sample(rows, rng.choice([1, 5, 50])):
            changed = rng.choice([flipped, cut, _another_frame])(rng, data)
            connection.execute("UPDATE rows SET data = ? WHERE id = ?", (changed, number))
        connection.commit()


def _another_frame(rng: Random, data: bytes) -> bytes:
    packet = decode(data)
    if not isinstance(packet, Report | Receipt):
        return data
    for name in rng.sample(packet.__slots__, 2):
        if type(getattr(packet, name)) is int:
            setattr(packet, name, rng.choice([0, 1, 2**31, 2**32 - 1, rng.randrange(10_000)]))
    packet.keyed, packet.epoch = False, 0
    try:
        return encode(packet, None)
    except Exception:  # noqa: BLE001 - what cannot be encoded is left as it was
        return data


def _beside(rng: Random, path: Path) -> None:
    """Files beside the journal that are no log, no lock and no memory."""
    for ending in ("-wal", "-shm", "-journal", ".lock"):
        beside = path.with_name(path.name + ending)
        kind = rng.random()
        if kind < 0.3:
            beside.write_bytes(rng.randbytes(rng.choice([0, 32, 5_000])))
        elif kind < 0.4:
            beside.mkdir()
        elif kind < 0.5:
            os.mkfifo(beside)
        elif kind < 0.6:
            beside.symlink_to(path)


def _no_file(rng: Random, path: Path) -> None:
    """No file at all."""
    path.unlink()
    kind = rng.randrange(5)
    if kind == 0:
        os.mkfifo(path)
    elif kind == 1:
        path.mkdir()
    elif kind == 2:
        path.symlink_to(path)
    elif kind == 3:
        path.symlink_to("/dev/zero")
    else:
        with path.open("wb") as file:
            file.truncate(20 * 1024**3)


JOURNAL_KINDS: dict[str, Harm] = {
    "flipped": _bytes(flipped), "cut": _bytes(cut), "a page": _bytes(_page_changed),
    "led round": _bytes(_led_round), "schema": _schema, "content": _content, "a cell": _cell,
    "said": _said, "the opening": _first_row, "moved": _moved, "frames": _frames,
    "beside": _beside, "no file": _no_file,
}  # fmt: skip
