"""The checkpoints of one journal: the last before an instant; another now and then; few enough.

None is believed for its own word alone: the journal must have a commit with the same number, row,
horizon and running digest, so one of another journal, or of rows that were replaced, is dropped.
"""

from collections.abc import Callable
from typing import Generic, NamedTuple, Protocol, TypeVar

from monitor.checkpoint.file import RECALLED, Form, Key, Place, opened, place_of, written
from monitor.checkpoint.graph import BadGraph
from monitor.checkpoint.recalled import Recalled
from monitor.checkpoint.shelf import Shelf
from monitor.errors import BadJournal
from monitor.journal.schema import Batch

APART_ROWS = 10_000
"""Rows between two: a quarter of a second to fold on a slow machine, three minutes of 50 packs."""
PACKS_MORE = 150
"""For each so many packs that are known they lie so much further apart again: writing a state of
thousands takes seconds, and must stay a part of folding."""
COUNT_MAX = 200
"""Enough for eleven hours of 50 packs without thinning out."""
BYTES_MAX = 64 * 1024 * 1024
"""Of all of one journal; as much as its ballast."""

Proves = Callable[[int], Batch | None]
"""The commit of that number in the journal, if there is one."""


class State(Protocol):
    """What is kept."""

    row: int
    """Number of the last row folded."""

    @property
    def packs(self) -> int:
        """How many are known: with them the work of writing it grows."""


S = TypeVar("S", bound=State)


class Found(NamedTuple, Generic[S]):
    """A checkpoint that the journal proves."""

    place: Place
    state: S
    """Made for whoever asked: theirs to fold on."""


class Series(Generic[S]):
    """Those of one journal and one kind that this program made."""

    def __init__(
        self,
        shelf: Shelf,
        key: Key,
        apart_rows: int = APART_ROWS,
        count_max: int = COUNT_MAX,
        secret: bytes = b"",
        form: Form = RECALLED,
    ) -> None:
        """Without a digest of the code in the key nothing is found and nothing kept.

        ``form``: what is kept, a state ``S``.
        ``secret``: the journal's key; then only those are believed that were tagged with it.
        """
        self._secret = secret
        self._form = form
        self._shelf = shelf
        self._key = key
        self._apart_rows = apart_rows
        self._count_max = count_max
        self._mark = key.code[:8]

    @property
    def apart_rows(self) -> int:
        """Rows from one to the next."""
        return self._apart_rows

    def next_row(self, state: S) -> int:
        """Give the row after a state's at which one is kept, by whoever comes there."""
        apart = self._apart_rows * (1 + state.packs // PACKS_MORE)
        return state.row - state.row % apart + apart

    def newest(
        self, proves: Proves, until_ns: int | None = None, after_row: int = 0
    ) -> Found[S] | None:
        """Give the last one up to an instant, if it goes further than a row; its state is new.

        What is damaged, foreign or not of this journal is dropped, and the one before is tried.
        None too where the journal cannot be asked at this moment: the rows will tell.
        """
        for row, t, name in reversed(self._ours()):
            if row <= after_row:
                break
            if until_ns is not None and t > until_ns:
                continue
            try:
                found = self._whole(name, proves)
            except BadJournal:
                return None
            if found is not None:
                return found
            self._shelf.drop(name)
        return None

    def has(self, place: Place) -> bool:
        """Whether there is one so near that another is not needed."""
        return any(2 * abs(row - place.row) < self._apart_rows for row, _, _ in self._ours())

    def keep(self, place: Place, state: S) -> bool:
        """Write one, and thin out; say whether it was written. The state is not changed."""
        if not self._mark or self.has(place):
            return False
        try:
            raw = written(self._key, place, state, self._secret, self._form)
        except BadGraph:
            return False
        kept = self._shelf.put(self._name(place), raw)
        self._thin_out()
        return kept

    # ------------------------------------------------------------ how it is done

    def _name(self, place: Place) -> str:
        return f"{self._mark}-{place.row:012}-{place.t:019}"

    def _ours(self) -> list[tuple[int, int, str]]:
        """Row, time and name of each that this program made, in their order."""
        found = []
        for name in self._shelf.sizes() if self._mark else ():
            mark, *numbers = name.split("-")
            if mark == self._mark and len(numbers) == 2 and all(map(str.isdecimal, numbers)):  # noqa: PLR2004 - row and time
                found.append((int(numbers[0]), int(numbers[1]), name))
        return sorted(found)

    def _whole(self, name: str, proves: Proves) -> Found[S] | None:
        try:
            found = opened(self._shelf.get(name), self._key, self._secret)
            if self._name(found.place) != name:
                return None
            batch = proves(found.place.batch)
            if batch is None or found.place != place_of(batch):
                return None
            return Found(found.place, found.state(self._form))
        except BadGraph:
            return None

    def _thin_out(self) -> None:
        """Drop those of other programs, then those that are missed least, but never the newest."""
        sizes = self._shelf.sizes()
        ours = self._ours()
        names = {name for _, _, name in ours}
        for name in sizes.keys() - names:
            self._shelf.drop(name)
        left = sum(sizes[name] for name in names if name in sizes)
        while len(ours) > 1 and (len(ours) > self._count_max or left > BYTES_MAX):
            rows = [0, *(row for row, _, _ in ours)]
            least = min(range(len(ours) - 1), key=lambda n: rows[n + 2] - rows[n])
            _, _, name = ours.pop(least)
            left -= sizes.get(name, 0)
            self._shelf.drop(name)


class Checkpoints(Series[Recalled]):
    """Those that a reader of the incident begins with."""
