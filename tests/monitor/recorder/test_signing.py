"""A recorder's signatures: when they come, what they prove, and what somebody does to the file."""

import sqlite3
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path

import pytest

from monitor.archive.salvage import salvage
from monitor.clock import Stamp
from monitor.incident.decoding import row_of
from monitor.incident.events import Note
from monitor.incident.rows import Row
from monitor.journal import connection as files
from monitor.journal import digest, signing
from monitor.journal.commits import commits
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch, Header, Session
from monitor.journal.verify import examine
from monitor.journal.writer import JournalWriter
from monitor.recorder.signing import EVERY_NS, Signing, signer_of, signing_of

SEED, OTHER = b"s" * 32, b"t" * 32
S = 1_000_000_000
HEADER = Header(
    fold=1, software="outby test", incident="ab12", use="exercise", opened_wall_ns=1_000 * S,
    signer=signing.public_of(SEED).hex(),
)  # fmt: skip


def note(t: int) -> Row:
    return row_of(t, Note(id=f"note-{t}", by="R. Harrow", text="x"))


def signing_here(path: Path, seed: bytes = SEED) -> Signing:
    found = signing_of(path, seed)
    assert found is not None
    return found


def record(writer: JournalWriter, signs: Signing | None, seconds: Iterable[int], end: int) -> int:
    """A note a second; signatures as a recorder has them, in the next commit. How many."""
    rows: list[Row] = []
    count = 0
    for second in seconds:
        t = second * S
        made = writer.sealer.seal([*rows, note(t)], t, Stamp(t, 1_000 * S + t))
        writer.write((made,))
        found = signs.sealed(made, end=second == end) if signs else None
        count += found is not None
        rows = [row_of(t + 1, found)] if found else []
    if rows:
        t = rows[0].t
        made = writer.sealer.seal(rows, t, Stamp(t, 1_000 * S + t))
        writer.write((made,))
        assert signs is not None
        assert signs.sealed(made, end=True) is None, "a signature alone needs none"
    return count


@pytest.fixture(params=[b"", b"k" * 32], ids=["open", "keyed"])
def path(tmp_path: Path, request: pytest.FixtureRequest) -> Path:
    """35 s and 35 notes; signed at the first, at 11, 21 and 31 s, and at the end."""
    path = tmp_path / "signed.journal"
    writer = JournalWriter.create(path, HEADER, request.param)
    writer.begin_session("boot", 0, 1_000 * S, "outby test")
    assert record(writer, signing_here(path), range(1, 36), 35) == 5
    assert EVERY_NS == 10 * S
    writer.close(final=True)
    return path


def test_anybody_can_tell_without_any_secret(path: Path) -> None:
    """40 rows: 35 notes and five signatures, of which the last covers all but itself."""
    found = examine(path)
    assert (found.fault, found.signatures, found.signatures_checked) == (None, 5, True)
    assert found.last is not None
    assert found.signed is not None
    assert (found.last.last_row, found.signed.last_row) == (40, 39)


def remade(path: Path, change: str) -> Path:
    """Somebody changes rows and makes all digests again, with no key, as the page tells."""
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(change)
        db.execute("UPDATE header SET value = 'open' WHERE key = 'digest'")
        db.execute("UPDATE header SET value = '' WHERE key = 'key_check'")
        stored = dict(db.execute("SELECT key, value FROM header"))
        sessions = db.execute("SELECT * FROM sessions").fetchall()
        batches = [Batch(*row) for row in db.execute("SELECT * FROM batches ORDER BY batch")]
        before = batches[0]._replace(digest=digest.of_header(stored))
        db.execute("UPDATE batches SET digest = ? WHERE batch = 0", (before.digest,))
        for batch in batches[1:]:
            asked = (
                "SELECT t, kind, link, late_ns, signal_dbm, data FROM rows"
                " WHERE id > ? AND id <= ? ORDER BY id"
            )
            rows = db.execute(asked, (before.last_row, batch.last_row)).fetchall()
            columns = digest.Columns(*zip(*rows, strict=True)) if rows else digest.NO_ROWS
            new = None
            if batch.session != before.session:
                new = Session(*sessions[batch.session - 1])
            made = digest.of_batch(before, batch, columns, new, b"")
            db.execute("UPDATE batches SET digest = ? WHERE batch = ?", (made, batch.batch))
            before = batch._replace(digest=made)
    return path


def test_a_row_that_was_changed_with_all_digests_is_told_by_the_next_signature(
    tmp_path: Path,
) -> None:
    """The 15th row is a note of 13 s; the signature of 11 s covers row 12, that of 21 s row 23.

    Rows: note 1, its signature, notes 2 to 11 (rows 3 to 12), a signature, notes 12 to 21.
    """
    path = tmp_path / "signed.journal"
    writer = JournalWriter.create(path, HEADER)
    writer.begin_session("boot", 0, 1_000 * S, "outby test")
    record(writer, signing_here(path), range(1, 36), 35)
    writer.close(final=True)
    row = "CAST(replace(CAST(data AS TEXT), 'Harrow', 'Barrow') AS BLOB)"
    fault = examine(remade(path, f"UPDATE rows SET data = {row} WHERE id = 15")).fault
    assert fault is not None
    assert (fault.first_row, fault.last_row) == (13, 23)
    assert "changed since it was signed" in fault.what


def test_another_signer_cannot_pass_for_the_first(path: Path) -> None:
    """Whoever makes the digests again cannot sign them; with another key the header names it."""
    fault = examine(remade(path, "UPDATE rows SET data = x'7b7d' WHERE id = 1")).fault
    assert fault is not None
    assert "changed since it was signed" in fault.what
    public = signing.public_of(OTHER).hex()
    remade(path, f"UPDATE header SET value = '{public}' WHERE key = 'signer'")
    assert examine(path).fault is not None


def test_what_is_salvaged_is_no_longer_signed_and_says_so(path: Path) -> None:
    """Its header and so all digests are other ones: the signatures in it are only told of."""
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("DELETE FROM rows WHERE id = 30")
    with JournalReader(path) as reader:
        key = b"k" * 32 if reader.header().digest == "keyed" else b""
    found = examine(path, key)
    assert found.signatures == 3
    made = salvage(path, found, path.with_name("whole.journal"), key)
    whole = examine(made.path, key)
    assert (whole.fault, whole.signatures, whole.header.signer) == (None, 0, "")


def test_a_signer_taken_out_of_the_header_is_missed(path: Path) -> None:
    """Whoever makes all digests again without one leaves signatures that nobody names."""
    fault = examine(remade(path, "UPDATE header SET value = '' WHERE key = 'signer'")).fault
    assert fault is not None
    assert (fault.first_row, fault.last_row) == (2, 2)
    assert fault.what == "a signature, but the header names no signer any more"


def test_a_signature_of_another_key_is_told(tmp_path: Path) -> None:
    path = tmp_path / "one.journal"
    writer = JournalWriter.create(path, HEADER)
    writer.begin_session("boot", 0, 1_000 * S, "outby test")
    wrong = signing_here(path)
    wrong.seed = OTHER
    record(writer, wrong, range(1, 3), 2)
    writer.close(final=True)
    fault = examine(path).fault
    assert fault is not None
    assert fault.what == "the signature is not that of the key in the header"


def test_taken_up_it_goes_on_and_covers_what_a_crash_left(path: Path) -> None:
    """Four more notes: the first commit is signed at once, and the end."""
    with JournalReader(path) as reader:
        keyed = reader.header().digest == "keyed"
    writer = JournalWriter.open(path, b"k" * 32 if keyed else b"")
    writer.begin_session("boot", 0, 1_000 * S, "outby test")
    record(writer, None, (36, 37), 0)
    assert record(writer, signing_here(path), (38, 39), 39) == 2
    writer.close(final=True)
    found = examine(path)
    assert (found.fault, found.signatures) == (None, 7)
    assert found.last is not None
    assert found.signed is not None
    assert found.signed.last_row == found.last.last_row - 1


def test_what_is_gone_on_with_is_what_was_sealed(path: Path) -> None:
    """From the last signature on it comes to the same open digest as from the first commit."""
    with closing(sqlite3.connect(path)) as db, db:
        db.execute("DELETE FROM rows WHERE id = 40")
        db.execute("DELETE FROM batches WHERE last_row = 40")
    near = signing_here(path).so_far
    with closing(sqlite3.connect(path)) as db, db:
        stored = dict(db.execute("SELECT key, value FROM header"))
    with closing(files.connect(path, "ro")) as connection:
        first, last = files.batch(connection, 0), files.last_batch(connection)
        assert first is not None
        assert last is not None
        far = digest.of_header(stored, size=32)
        for one in commits(connection, first, last):
            far = digest.open_of_batch(far, one.batch, one.rows, one.new)
    assert near == far


def test_without_its_own_key_nothing_is_signed_and_recording_goes_on(
    path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    assert signing_of(path, b"") is None
    assert signing_of(path, OTHER) is None
    assert "no longer signed" in caplog.text
    assert signing_of(path.with_name("none.journal"), SEED) is None
    assert signer_of(b"") == ""


def test_one_that_was_begun_without_a_signer_is_never_signed(tmp_path: Path) -> None:
    path = tmp_path / "unsigned.journal"
    JournalWriter.create(path, HEADER.model_copy(update={"signer": ""})).close(final=True)
    assert signing_of(path, SEED) is None


def test_a_minute_with_nothing_written_is_not_signed(tmp_path: Path) -> None:
    path = tmp_path / "idle.journal"
    writer = JournalWriter.create(path, HEADER)
    writer.begin_session("boot", 0, 1_000 * S, "outby test")
    signs = signing_here(path)
    for second in range(60):
        made = writer.sealer.seal([], second * S, Stamp(second * S, 0))
        writer.write((made,))
        assert signs.sealed(made, end=False) is None
    writer.close(final=False)
    found = examine(path)
    assert (found.fault, found.signatures, found.signed) == (None, 0, None)


def test_without_the_extra_it_is_recorded_unsigned_and_looked_at_as_far_as_that_goes(
    path: Path, without_signing: None, caplog: pytest.LogCaptureFixture
) -> None:
    """That signatures fit the rows needs no library; that they are right does."""
    assert signer_of(SEED) == ""
    assert "install the extra 'signing'" in caplog.text
    assert signing_of(path, SEED) is None
    found = examine(path)
    assert (found.fault, found.signatures, found.signatures_checked) == (None, 5, False)
