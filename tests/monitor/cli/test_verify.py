"""``outby verify`` says what is right, and where it no longer is."""

import sqlite3
from pathlib import Path

import pytest

import shared
from monitor import keyfile
from monitor.cli import main
from monitor.clock import Stamp
from monitor.errors import Exit
from monitor.incident.decoding import row_of
from monitor.journal import signing
from monitor.journal.digest import shown
from monitor.journal.reader import JournalReader
from monitor.journal.writer import JournalWriter
from monitor.recorder.signing import signing_of

GOLDEN = shared.path("journals", "kiln-lane.journal")


@pytest.fixture
def journal(tmp_path: Path) -> Path:
    copy = tmp_path / "one.journal"
    copy.write_bytes(GOLDEN.read_bytes())
    return copy


def change(path: Path, sql: str) -> None:
    connection = sqlite3.connect(path)
    connection.execute(sql)
    connection.commit()
    connection.close()


def digest_of(path: Path) -> str:
    with JournalReader(path) as reader:
        return shown(reader.last_batch().digest)


def test_a_journal_as_it_was_written(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", str(GOLDEN)]) == Exit.OK
    said = capsys.readouterr().out
    assert "use            EXERCISE" in said
    assert f"digest         {digest_of(GOLDEN)}  right, without a key" in said
    assert "0.000 s of missing horizon" in said
    assert "all the same when folded anew" in said
    assert "not closed: it is being recorded, recording stopped, or the end was cut off" in said
    assert said.endswith("nothing in it speaks against it\n")


def test_an_edited_act_is_found_with_row_and_time(
    journal: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Somebody else is said to have taken the alarm."""
    (row, before), *_ = _acts(journal)
    edited = "CAST(replace(CAST(data AS TEXT), 'R. Harrow', 'R. Barrow') AS BLOB)"
    change(journal, f"UPDATE rows SET data = {edited} WHERE id = {row}")
    assert main(["verify", str(journal)]) == Exit.CHANGED
    out, err = capsys.readouterr()
    assert err.count("\n") == 1
    assert f"row {row}: changed since it was written, after " in err
    assert "nothing in it speaks against it" not in out
    seconds = before // 1_000_000_000
    assert f"{seconds // 60} min {seconds % 60} s (2023-11-14" in err


def _acts(path: Path) -> list[tuple[int, int]]:
    """Acts that are the only row of their commit, with the horizon of the one before."""
    connection = sqlite3.connect(path)
    sql = (
        "SELECT r.id, a.horizon FROM rows r JOIN batches b ON b.last_row = r.id"
        " JOIN batches a ON a.batch = b.batch - 1 AND a.last_row = r.id - 1"
        " WHERE r.kind = 2 AND CAST(r.data AS TEXT) LIKE '%acknowledge%' ORDER BY r.id"
    )
    found = connection.execute(sql).fetchall()
    connection.close()
    return found


def test_a_file_that_is_cut_off(journal: Path, capsys: pytest.CaptureFixture[str]) -> None:
    journal.write_bytes(journal.read_bytes()[:100_000])
    assert main(["verify", str(journal)]) == Exit.CHANGED
    out, err = capsys.readouterr()
    assert "right up to here" in out
    assert "damaged or cut off here" in err
    assert "announced, all the same when folded anew" in out


def test_a_tail_cut_off_whole_is_tolerated_and_named_by_a_noted_digest(
    journal: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    noted = digest_of(journal)
    assert main(["verify", str(journal), "--noted", noted.replace(" ", "").upper()]) == Exit.OK
    assert "noted digest   that of 2023-11-14" in capsys.readouterr().out
    change(journal, "DELETE FROM batches WHERE batch > 2000")
    change(journal, "DELETE FROM rows WHERE id > (SELECT max(last_row) FROM batches)")
    assert main(["verify", str(journal)]) == Exit.OK
    assert "the end was cut off" in capsys.readouterr().out
    assert main(["verify", str(journal), "--noted", noted]) == Exit.CHANGED
    assert "no commit has the digest that was noted" in capsys.readouterr().err


@pytest.mark.parametrize("noted", ["d604", "x" * 32, "d604576fe5458bdaf1a0a3219e9824fe00"])
def test_what_is_no_digest(noted: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["verify", str(GOLDEN), "--noted", noted])
    assert ended.value.code == Exit.USAGE
    assert "a digest has 32 hex digits" in capsys.readouterr().err


@pytest.fixture
def keyed(tmp_path: Path) -> tuple[Path, Path]:
    """The golden rows in a journal with a keyed digest, and its key file."""
    key_file, path = tmp_path / "fleet.key", tmp_path / "keyed.journal"
    keyfile.create(key_file, "exercise")
    with JournalReader(GOLDEN) as reader:
        header, last = reader.header(), reader.last_batch()
        rows = [row for step in reader.steps(last.last_row) for row in step]
    writer = JournalWriter.create(path, header, keyfile.journal_key(key_file))
    writer.begin_session("golden", 0, 0, header.software)
    writer.commit(rows, last.horizon, Stamp(last.boot_ns, last.wall_ns))
    writer.close(final=True)
    return path, key_file


def test_a_keyed_digest_needs_its_key_file(
    keyed: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, key_file = keyed
    other = tmp_path / "other.key"
    keyfile.create(other, "exercise")
    assert main(["verify", str(path)]) == Exit.OK
    said = capsys.readouterr().out
    assert "NOT CHECKED: it is keyed, and needs --key" in said
    assert "right, keyed" not in said
    assert "the digest is keyed: it needs --key to show who wrote it" in said
    assert main(["verify", str(path), "--key", str(other)]) == Exit.JOURNAL
    assert "made with another key" in capsys.readouterr().err
    assert main(["verify", str(path), "--key", str(key_file)]) == Exit.OK
    assert "right, keyed" in capsys.readouterr().out


def test_what_is_no_journal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "letter.txt").write_text("Dear all")
    for said in ("letter.txt", "nothing.journal"):
        assert main(["verify", str(tmp_path / said)]) == Exit.JOURNAL
        assert capsys.readouterr().err.count("\n") == 1


@pytest.fixture
def signed(tmp_path: Path) -> tuple[Path, str]:
    """The golden rows, signed at their end as a recorder does, and the public key."""
    path, seed = tmp_path / "signed.journal", b"s" * 32
    public = signing.public_of(seed).hex()
    with JournalReader(GOLDEN) as reader:
        header, last = reader.header(), reader.last_batch()
        rows = [row for step in reader.steps(last.last_row) for row in step]
    writer = JournalWriter.create(path, header.model_copy(update={"signer": public}))
    signs = signing_of(path, seed)
    assert signs is not None
    writer.begin_session("golden", 0, 0, header.software)
    made = writer.sealer.seal(rows, last.horizon, Stamp(last.boot_ns, last.wall_ns))
    writer.write((made,))
    fact = signs.sealed(made, end=True)
    assert fact is not None
    writer.commit([row_of(last.horizon + 1, fact)], last.horizon + 1, Stamp(1, last.wall_ns))
    writer.commit([], last.horizon + 2, Stamp(2, last.wall_ns))
    writer.close(final=True)
    return path, public


def test_a_signed_one_is_proved_by_the_public_key_alone(
    signed: tuple[Path, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path, public = signed
    kept = tmp_path / "brigade.pub"
    kept.write_text(public.upper() + "\n")
    for said in (public, str(kept)):
        assert main(["verify", str(path), "--signer", said]) == Exit.OK
        out = capsys.readouterr().out
        assert "1 signature, right" in out
        assert "one that was given" in out
        assert "not proved" not in out
    assert main(["verify", str(path)]) == Exit.OK
    assert "whose that key is: compare it" in capsys.readouterr().out
    assert main(["verify", str(path), "--signer", "ab" * 32]) == Exit.CHANGED
    assert "it is signed with another key" in capsys.readouterr().err
    assert main(["verify", str(GOLDEN), "--signer", public]) == Exit.CHANGED
    assert "begun before there was a signing key" in capsys.readouterr().err


def test_who_has_changed_the_key_gives_all_of_them_in_one_file(
    signed: tuple[Path, str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A journal stays signed with the key that it was begun with."""
    path, public = signed
    kept = tmp_path / "brigade.pub"
    kept.write_text(f"# of last year\n{public}\n\n{'ab' * 32}  # since March\n")
    assert main(["verify", str(path), "--signer", str(kept)]) == Exit.OK
    assert "one that was given" in capsys.readouterr().out
    kept.write_text(f"{'ab' * 32}\n{'cd' * 32}\n")
    assert main(["verify", str(path), "--signer", str(kept)]) == Exit.CHANGED
    assert "it is signed with another key" in capsys.readouterr().err
    for wrong in ("# none\n", f"{public}\nDear all\n"):
        kept.write_text(wrong)
        assert main(["verify", str(path), "--signer", str(kept)]) == Exit.FILE
        assert "one key a line" in capsys.readouterr().err


def test_what_is_no_public_key(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "letter").write_text("Dear all")
    for said in ("d604", str(tmp_path / "letter"), str(tmp_path / "none")):
        assert main(["verify", str(GOLDEN), "--signer", said]) == Exit.FILE
        error = capsys.readouterr().err
        assert "64 hex digits" in error
        assert error.count("\n") == 1


def test_signatures_without_the_extra_are_said_to_be_unchecked(
    signed: tuple[Path, str], without_signing: None, capsys: pytest.CaptureFixture[str]
) -> None:
    path, public = signed
    assert main(["verify", str(path), "--signer", public]) == Exit.OK
    said = capsys.readouterr().out
    assert "1 signature, not checked: the extra 'signing' is missing" in said
    assert "not proved     the signatures: pip install 'outby[signing]'" in said
