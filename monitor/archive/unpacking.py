"""The journal of a packed incident, taken out of its archive for as long as it is read.

An archive may come from anybody. Only a journal and the files of a drill are taken out of it, by
plain names, each as long as it says that it is, and never more than a named limit.
"""

import contextlib
import shutil
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from monitor.errors import BadJournal
from shared.reading import Unreadable, part

ENDING = ".journal"
BESIDE = (".truth.jsonl",)
"""Endings of what is packed with the journal of a drill; the scenario is in that file."""
MAGIC = b"PK\x03\x04"
BYTES_MAX = 8_000_000_000
"""All together: a journal of fifty packs grows by 11 MB an hour."""
SHRUNK_MAX = 200
"""Times. A journal becomes a tenth at the least; a file of one byte over and over a thousandth."""
MEMBERS_MAX = 100
_WRONG = (
    zipfile.BadZipFile,
    zipfile.LargeZipFile,
    zlib.error,
    RuntimeError,
    EOFError,
    ValueError,
)
"""What the library raises of an archive that is damaged, encrypted or packed in another way."""


def is_packed(path: Path) -> bool:
    """Whether a file is an archive, by how it begins; False where it cannot be read."""
    try:
        return part(path, len(MAGIC)) == MAGIC
    except Unreadable:
        return False


@contextlib.contextmanager
def unpacked(path: Path) -> Iterator[Path]:
    """Give the journal in an archive as a file of its own, which is gone afterwards.

    Raises BadJournal where there is not exactly one in it, or the archive is not right.
    """
    with tempfile.TemporaryDirectory(prefix="outby-packed-") as made:
        try:
            with zipfile.ZipFile(path) as archive:
                journal = _taken_out(archive, path, Path(made))
        except _WRONG as error:
            what = f"the archive is damaged ({error})"
            raise BadJournal(what, str(path), "compare its checksum; get it again") from None
        except OSError as error:
            what = f"the archive cannot be unpacked ({error.strerror})"
            raise BadJournal(what, str(path), f"see to space and rights in {made}") from None
        yield journal


def _taken_out(archive: zipfile.ZipFile, path: Path, folder: Path) -> Path:
    members = archive.infolist()
    if len(members) > MEMBERS_MAX:
        raise BadJournal("there is too much in the archive", str(path), "name a packed incident")
    journals = [one for one in members if one.filename.endswith(ENDING)]
    what = ""
    if not journals:
        what = "there is no journal in it"
    elif len(journals) > 1:
        what = f"there are {len(journals)} journals in it"
    elif not _plain(journals[0].filename):
        what = "what is in it has a name that no journal has"
    if what:
        raise BadJournal(what, str(path), "name one that outby incidents pack has made")
    stem = journals[0].filename.removesuffix(ENDING)
    wanted = {f"{stem}{ending}" for ending in (ENDING, *BESIDE)}
    taken = [one for one in members if one.filename in wanted]
    if sum(one.file_size for one in taken) > BYTES_MAX or any(map(_swollen, taken)):
        what = "what is in the archive is too long to be a journal"
        raise BadJournal(what, str(path), "name a packed incident")
    for one in taken:
        with archive.open(one) as source, (folder / one.filename).open("xb") as target:
            shutil.copyfileobj(source, target)
    return folder / journals[0].filename


def _swollen(one: zipfile.ZipInfo) -> bool:
    return one.file_size > SHRUNK_MAX * max(one.compress_size, 1_000)


def _plain(name: str) -> bool:
    """Whether it names a file of that folder and nothing else, and can be shown."""
    return name.isprintable() and Path(name).name == name and len(name) > len(ENDING)
