"""Looks at the signatures of a journal while it is verified, commit after commit."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.incident.rows import Row, RowKind
from monitor.journal import digest, signing
from monitor.journal.schema import KIND_OF, Batch, Header, Session


@dataclass(slots=True)
class Signatures:
    """Those of one journal up to one commit."""

    header: Header
    right: int = 0
    """How many fit what stands before them."""
    checked: bool = True
    """False: this installation cannot check any; that they fit the rows was looked at."""
    signed: Batch | None = None
    """The last commit that one covers."""
    last: Batch | None = None
    """The last commit taken."""
    so_far: bytes = b""
    """Its open digest."""

    def begin(self, stored: Mapping[str, str], first: Batch) -> None:
        """Take the making of the file."""
        self.last = first
        self.so_far = digest.of_header(stored, size=digest.OPEN_BYTES)
        self.checked = signing.is_there()

    def take(
        self, batch: Batch, rows: digest.Columns, new: Session | None
    ) -> tuple[int, int, str] | None:
        """Take the next commit; give first and last row of what is not as it was signed, and why.

        A signature comes with the commit right behind the one that it covers.
        """
        before = self.last
        assert before is not None, "begun"
        for at, (kind, data) in enumerate(zip(rows.kind, rows.data, strict=True)):
            if KIND_OF.get(kind) is not RowKind.FACT:
                continue
            found = signing.signed_in(Row(0, RowKind.FACT, data))
            if found is None:
                continue
            row = before.last_row + 1 + at
            if found.batch != before.batch or found.digest != self.so_far.hex():
                since = self.signed.last_row + 1 if self.signed else 1
                return since, before.last_row, "changed since it was signed, by the signature after"
            if self.checked and not signing.is_signed(found, self.header):
                return row, row, "the signature is not that of the key in the header"
            self.right += 1
            self.signed = before
        self.so_far = digest.open_of_batch(self.so_far, batch, rows, new)
        self.last = batch
        return None
