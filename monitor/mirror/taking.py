"""Which commits a replica takes: those that follow what it has, by order and digest. Pure.

Nothing of a stream is trusted: not its order, nor that it is whole, nor who wrote it. A commit is
taken if it is the next by number, if its rows lie where they must, and if the running digest over
it is the one that it says. So what came twice is passed over, and what is missing is found out.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from pathlib import Path
from typing import NamedTuple

from monitor.errors import BadJournal
from monitor.journal import digest
from monitor.journal.connection import header_of
from monitor.journal.schema import FORMAT_VERSION, HORIZON_BEFORE_ALL, Batch, Header
from monitor.journal.sealing import Sealed
from monitor.relay.wire import Commit, HeaderMessage

CUT_BACK_NS_MAX = 10_000_000_000
"""A loss of power takes the newest rows that no disk had yet, some 0.25 s of them. A door that went
on otherwise from further back than this is another history, and is not followed."""


class Proof(StrEnum):
    """What the running digest of a replica shows."""

    KEYED = "keyed"
    """Made with a key that the mirror has: only whoever has it wrote these rows."""
    OPEN = "open"
    """Made without: right as it came, and anybody could have made it."""
    UNPROVED = "unproved"
    """Made with a key that the mirror has not: looked at, and believed."""


class Why(StrEnum):
    """Why a commit, or a header, was not taken."""

    HEADER = "its header is not right"
    FOREIGN = "its header is of another incident"
    NEWER = "it is of a newer format"
    KEY = "it is not made with this mirror's key"
    MISSING = "commits before it are missing"
    ORDER = "it does not follow the last commit"
    DIGEST = "its running digest does not fit"
    OTHER = "it is another history of that incident"


@dataclass(frozen=True, slots=True)
class Rules:
    """What a mirror believes."""

    key: bytes = b""
    """Of the journals; empty: it has none."""
    unproved: bool = False
    """Take journals too that it cannot prove."""


class Begun(NamedTuple):
    """A replica that can begin."""

    stored: Mapping[str, str]
    header: Header
    first: Batch
    proof: Proof


def begin(message: HeaderMessage, incident: str, rules: Rules) -> Begun | Why:
    """Judge the header of ``incident``, as its subject says."""
    stored = dict(message.stored)
    try:
        header = header_of(stored, Path())
    except BadJournal:
        return Why.HEADER
    if header.incident != incident:
        return Why.FOREIGN
    if header.format > FORMAT_VERSION:
        return Why.NEWER
    proof = proof_of(header, rules)
    if isinstance(proof, Why):
        return proof
    first = Batch(0, 0, 0, HORIZON_BEFORE_ALL, 0, header.opened_wall_ns, message.digest)
    key = rules.key if proof is Proof.KEYED else b""
    if proof is not Proof.UNPROVED and digest.of_header(stored, key) != message.digest:
        return Why.DIGEST
    return Begun(stored, header, first, proof)


def proof_of(header: Header, rules: Rules) -> Proof | Why:
    """What the digest of that journal can show this mirror; why it is none for it."""
    if header.digest == "keyed" and rules.key and header.key_check == digest.key_check(rules.key):
        return Proof.KEYED
    if header.digest == "open" and (not rules.key or rules.unproved):
        return Proof.OPEN
    return Proof.UNPROVED if rules.unproved else Why.KEY


@dataclass(frozen=True, slots=True)
class Taken:
    """What comes of one message."""

    sealed: tuple[Sealed, ...] = ()
    """To be written, in one."""
    cut_back: Batch | None = None
    """First take away all behind this one: the door itself does not have it any more."""
    why: Why | None = None
    """Why the rest was not taken; None: nothing is left."""
    batch: int = -1
    """Number of the first commit that was not taken."""


@dataclass(frozen=True, slots=True)
class Judge:
    """Judges commits for one replica."""

    proof: Proof
    rules: Rules
    had: Callable[[int], Batch | None]
    """The commit of that number in the replica."""

    def take(self, last: Batch, commits: tuple[Commit, ...]) -> Taken:
        """Judge the commits of one message, for a replica whose last is ``last``."""
        taken: list[Sealed] = []
        cut_back: Batch | None = None
        for one in commits:
            number = one.batch.batch
            if number <= last.batch and not taken:
                if self.had(number) == one.batch:
                    continue
                before = self._other_history(last, one)
                if before is None:
                    return Taken(why=Why.OTHER, batch=number)
                cut_back = last = before
            why = self._why_not(last, one)
            if why is not None:
                return Taken(tuple(taken), cut_back if taken else None, why, number)
            taken.append(Sealed(last, one.batch, one.rows, one.new))
            last = one.batch
        return Taken(tuple(taken), cut_back)

    def _other_history(self, last: Batch, one: Commit) -> Batch | None:
        """The commit behind which a door went on otherwise, if that is one it may have done."""
        before = self.had(one.batch.batch - 1)
        if before is None or last.horizon - before.horizon > CUT_BACK_NS_MAX:
            return None
        newer = one.batch.wall_ns >= last.wall_ns or one.batch.session > last.session
        return before if newer and self._why_not(before, one) is None else None

    def _why_not(self, before: Batch, one: Commit) -> Why | None:
        if one.batch.batch > before.batch + 1:
            return Why.MISSING
        if not follows(before, one):
            return Why.ORDER
        return None if self._fits(before, one) else Why.DIGEST

    def _fits(self, before: Batch, one: Commit) -> bool:
        if self.proof is Proof.UNPROVED:
            return True
        keys = [self.rules.key] if self.proof is Proof.KEYED else [b""]
        if self.proof is Proof.KEYED and self.rules.unproved:
            # A recorder that lost its key goes on without, and says so.
            keys.append(b"")
        batch, rows, new = one
        return any(digest.of_batch(before, batch, rows, new, k) == batch.digest for k in keys)


def follows(before: Batch, one: Commit) -> bool:
    """Whether a commit stands where it must behind another, whatever is in it."""
    batch, rows, new = one
    if batch.batch != before.batch + 1 or batch.last_row != before.last_row + len(rows.t):
        return False
    if new is None and (batch.session != before.session or not batch.session):
        return False
    if new is not None and new.session != before.session + 1:
        return False
    times = (before.horizon + 1, *rows.t, batch.horizon)
    if not rows.t:
        return batch.horizon >= before.horizon
    return all(one <= other for one, other in pairwise(times))
