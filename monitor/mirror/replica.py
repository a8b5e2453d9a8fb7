"""One replica: a journal written as its original was, commit by commit, and by nobody else."""

import contextlib
from hashlib import sha256
from pathlib import Path
from typing import Self

from monitor.errors import BadJournal, Busy
from monitor.journal.connection import header_of
from monitor.journal.lock import Lock
from monitor.journal.schema import Batch
from monitor.journal.writer import JournalWriter
from monitor.mirror.beside import Beside, write
from monitor.mirror.taking import Begun, Judge, Proof, Rules, Taken, Why, proof_of
from monitor.relay.source import Source, closes
from monitor.relay.wire import CommitsMessage

WORD_MAX = 200
"""Of 255 bytes in a name (pathconf(3), NAME_MAX)."""
LOG_BYTES_MIN = 4 * 1024 * 1024
"""So much of SQLite's log is moved into the file at once: it syncs the disk, and takes a while."""


class Replica:
    """Made by ``begin`` or ``open``; belongs to this process until it is closed."""

    def __init__(
        self, lock: Lock, writer: JournalWriter, said: Beside, rules: Rules, *, closed: bool = False
    ) -> None:
        """``lock`` and ``writer`` are those of one journal; ``closed``: the incident has ended."""
        self._lock = lock
        self._writer = writer
        self._judge = Judge(Proof(said.proof), rules, self._had)
        self.path = writer.path
        self.said = said
        """What stands beside it."""
        self.closed = closed

    @classmethod
    def begin(cls, path: Path, operation: str, begun: Begun, rules: Rules) -> Self:
        """Make a new one. Raises Busy, BadJournal, OSError."""
        said = Beside(operation=operation, incident=begun.header.incident, proof=begun.proof.value)
        lock = _locked(path)
        try:
            # First of all: nobody may ever take it for a journal to go on with.
            write(path, said)
            writer = JournalWriter.begin_replica(path, begun.stored, begun.first)
            lock.hold()
        except BaseException:
            lock.release()
            raise
        return cls(lock, writer, said, rules)

    @classmethod
    def open(cls, path: Path, operation: str, rules: Rules) -> Self:
        """Go on with one. Raises Busy, BadJournal, OSError."""
        lock = _locked(path)
        try:
            with Source(path) as source:
                closed = source.is_closed()
            writer = JournalWriter.open(path, keyless=True)
        except BaseException:
            lock.release()
            raise
        header = header_of(writer.stored, path)
        proof = proof_of(header, rules)
        if isinstance(proof, Why):
            writer.close(final=False)
            lock.release()
            raise BadJournal(proof.value, str(path), "give its key, or --unproved")
        said = Beside(operation=operation, incident=header.incident, proof=proof.value)
        write(path, said)
        return cls(lock, writer, said, rules, closed=closed)

    @property
    def last(self) -> Batch:
        """The newest commit that it has."""
        return self._writer.last

    def is_of(self, first: Batch) -> bool:
        """Whether it begins with that batch 0."""
        return self._had(0) == first

    def take(self, message: CommitsMessage) -> Taken:
        """Write what follows of a message, in one transaction. Raises BadJournal, OSError."""
        taken = self._judge.take(self.last, message.commits)
        if taken.cut_back is not None and taken.sealed:
            self._cut_back(taken.cut_back)
        if taken.sealed:
            self._writer.write(taken.sealed)
            self.closed = self.closed or any(map(closes, taken.sealed))
            if self._writer.wal_bytes() >= LOG_BYTES_MIN:
                self._writer.checkpoint()
        self._say(taken.why, taken.batch)
        return taken

    def refuse(self, why: str) -> None:
        """Say that something came which is no message of this incident. Raises OSError."""
        self._tell(self.said.model_copy(
            update={"fault": why, "refused": self.said.refused + 1}
        ))  # fmt: skip

    def close(self) -> None:
        """Let go of it; of an ended incident one plain file is left, once its readers let go."""
        try:
            with contextlib.suppress(BadJournal):
                self._writer.close(final=self.closed, wait_s=0.0)
        finally:
            self._lock.release()

    def _had(self, number: int) -> Batch | None:
        return self._writer.batch(number)

    def _say(self, why: Why | None, batch: int) -> None:
        said = self.said
        if why is not None:
            said = said.model_copy(
                update={"fault": f"commit {batch}: {why}", "refused": said.refused + 1}
            )
        elif said.fault:
            said = said.model_copy(update={"fault": ""})
        self._tell(said)

    def _tell(self, said: Beside) -> None:
        if said != self.said:
            write(self.path, said)
            self.said = said

    def _cut_back(self, last: Batch) -> None:
        number = self.said.cut_back + 1
        while (kept := self.path.with_name(f"{self.path.stem}.before-{number}.journal")).exists():
            number += 1
        write(kept, self.said)
        copy = self._writer.copied_to(kept)
        if copy is None:
            raise BadJournal("it cannot be copied", str(self.path), "see to the disk")
        copy.close(final=True)
        self._writer.cut_back(last)
        self._tell(self.said.model_copy(update={"cut_back": number}))


def _locked(path: Path) -> Lock:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    lock = Lock.take(path)
    if lock is None:
        to_do = "one mirror a folder: end the other, or name another folder"
        raise Busy("another mirror writes this replica", str(path), to_do)
    return lock


def folder_of(incidents: Path) -> Path:
    """Where replicas lie unless another folder is said: beside the journals of this machine."""
    return incidents.with_name("replicas")


def of_operation(folder: Path, word: str) -> Path:
    """The folder of an operation's replicas. ``word`` is that of its subject, so it has no slash.

    A long one that file systems would not take as a name is cut, and told apart by its digest.
    """
    if len(word) <= WORD_MAX:
        return folder / word
    return folder / f"{word[:WORD_MAX]}.{sha256(word.encode()).hexdigest()[:16]}"


def named(folder: Path, word: str, incident: str) -> Path:
    """Where the replica of an incident is."""
    return of_operation(folder, word) / f"{incident}.journal"
