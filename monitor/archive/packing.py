"""One incident as one file for whoever gets it, with its digests.

A zip archive: the journal as one plain file, the page that tells how to read it, a manifest of
what it is and what verifying it found, and its running digest; of a drill also what its virtual
packs really did, and what was played. Beside the archive stands its own SHA-256, in the form that
``sha256sum -c`` reads.
"""

import contextlib
import json
import sqlite3
import tempfile
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import file_digest
from pathlib import Path

from monitor import __version__
from monitor.archive.refold import Refolded, refold
from monitor.archive.unpacking import BESIDE, ENDING
from monitor.errors import AlreadyThere, BadFile, BadJournal, Busy
from monitor.iso import iso_s
from monitor.journal import connection as files
from monitor.journal import digest, lock
from monitor.journal.reader import JournalReader
from monitor.journal.verify import Findings, examine
from shared.writing import new_file

MODE = 0o600
"""Names, whereabouts and health of people: for the owner only."""
NS_PER_S = 1_000_000_000
FORMAT_PAGE = Path(__file__).parents[1] / "journal" / "JOURNAL-FORMAT.md"


@dataclass(frozen=True, slots=True)
class Packed:
    """What was made."""

    archive: Path
    checksum: Path
    """The file beside it."""
    sha256: str
    """Of the archive, hex."""
    verdict: str
    """What verifying found, in one line."""


def pack(path: Path, target: Path, key: bytes, caution: str, wall_ns: int) -> Packed:
    """Make the archive ``target`` of a journal. ``key`` may be empty: a keyed digest stays open.

    Nothing is written over and the journal is not touched. Raises Busy while it is recorded,
    BadJournal where it cannot be read, BadFile where the archive cannot be made.
    """
    if not lock.is_free(path):
        raise Busy(
            "this incident is being recorded", str(path), "close it, or stop recording, first"
        )
    beside = target.with_name(target.name + ".sha256")
    for made in (target, beside):
        if made.exists():
            raise AlreadyThere("there is a file already", str(made), "choose another name")
    with _place(target), _copied(path, target.parent) as copy:
        about, verdict = _manifest(path.name, copy, key, caution, wall_ns)
        with (
            new_file(target, MODE) as file,
            zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive,
        ):
            archive.write(copy, path.name)
            for beside_it in _of_a_drill(path):
                archive.write(beside_it, beside_it.name)
            archive.writestr("manifest.json", json.dumps(about, indent=2, ensure_ascii=False))
            archive.writestr("digest.txt", f"{about['digest']['running']}\n")
            archive.write(FORMAT_PAGE, FORMAT_PAGE.name)
        with target.open("rb") as whole:
            sha256 = file_digest(whole, "sha256").hexdigest()
        with new_file(beside, MODE) as file:
            file.write(f"{sha256}  {target.name}\n".encode())
    return Packed(target, beside, sha256, verdict)


def _of_a_drill(path: Path) -> Iterator[Path]:
    """What virtual packs really did and what was played: without them a score knows little."""
    for ending in BESIDE:
        found = path.with_suffix(ending)
        if path.suffix == ENDING and found.is_file():
            yield found


@contextlib.contextmanager
def _place(target: Path) -> Iterator[None]:
    """Say in plain words what the system says of the place."""
    try:
        yield
    except FileExistsError:
        raise AlreadyThere("there is a file already", str(target), "choose another name") from None
    except OSError as error:
        what = f"the archive cannot be made ({error.strerror})"
        raise BadFile(what, str(target), "choose a folder that can be written") from None


@contextlib.contextmanager
def _copied(path: Path, folder: Path) -> Iterator[Path]:
    """The journal with all that its write-ahead log holds, as one plain file."""
    with tempfile.TemporaryDirectory(prefix=".packing-", dir=folder) as made:
        copy = Path(made) / path.name
        source = files.connect(path, "ro")
        try:
            with contextlib.closing(sqlite3.connect(copy, isolation_level=None)) as target:
                source.backup(target)
                target.execute("PRAGMA journal_mode=DELETE").fetchall()
        except sqlite3.Error as error:
            raise files.in_plain_words(error, path) from error
        finally:
            source.close()
        yield copy


def _manifest(
    name: str, copy: Path, key: bytes, caution: str, wall_ns: int
) -> tuple[dict[str, dict[str, object]], str]:
    found, verdict = _verified(copy, key)
    folded = refold(copy, found.last) if found.last else Refolded()
    if not verdict:
        verdict = str(folded.fault or _NOTHING)
        if folded.fault is None and found.unproved:
            verdict += "; its keyed digest was not checked"
        if folded.fault is None and not folded.sound:
            verdict = f"{folded.count} alarms are not those that were announced"
    header, last, opened = found.header, found.last, folded.opened
    with copy.open("rb") as whole:
        sha256 = file_digest(whole, "sha256").hexdigest()
    about: dict[str, dict[str, object]] = {
        "packed": {"by": f"outby {__version__}", "at": iso_s(wall_ns), "caution": caution},
        "incident": {
            "id": header.incident,
            "name": opened.name if opened else "",
            "place": opened.place if opened else "",
            "entry_point": opened.entry_point if opened else "",
            "operation": opened.operation if opened else "",
            "officer": opened.officer if opened else "",
            "use": header.use.upper(),
            "opened": iso_s(header.opened_wall_ns),
            "length_s": max(0, last.horizon) // NS_PER_S if last else 0,
            "closed": folded.closed,
        },
        "journal": {
            "file": name,
            "bytes": copy.stat().st_size,
            "sha256": sha256,
            "format": header.format,
            "rules_version": header.fold,
            "recorded_by": header.software,
            "rows": last.last_row if last else 0,
            "commits": last.batch if last else 0,
        },
        "digest": {
            "running": digest.shown(last.digest) if last else "",
            "keyed": header.digest == "keyed",
            "verified": verdict,
        },
        "signed": {
            "by": header.signer,
            "signatures": found.signatures,
            "checked": found.signatures_checked,
            "up_to_row": found.signed.last_row if found.signed else 0,
        },
    }
    return about, verdict


_NOTHING = "nothing in it speaks against it"


def _verified(copy: Path, key: bytes) -> tuple[Findings, str]:
    """What the digest says; the second is empty where nothing speaks against it."""
    try:
        found = examine(copy, key)
    except BadJournal as error:
        with JournalReader(copy) as reader:
            found = Findings(reader.header(), reader.last_batch())
        return found, f"not verified: {error.what}"
    return found, str(found.fault or "")
