"""The keys of sheets, and of the table that opens them. Pure.

While a sheet is open every key writes, but Esc, which leaves it, and the ways out of the board,
which ask. What was typed is kept until the act has been taken: an act that was not can be asked
again without typing it again.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import tzinfo

from monitor.board.acts.effects import Asking, Effect, Say
from monitor.board.acts.questions import Mode
from monitor.board.keys.order_hands import OrderHands
from monitor.board.keys.table import GROUPS, TABLE, Key, Table, View
from monitor.board.sheets.common import Context, LogEntry, Opener, Sheet
from monitor.board.sheets.forms import Filling
from monitor.incident.picture import Picture

KEPT_MAX = 8
"""Sheets that were left or are on their way; the one that was left first gives way."""
MORE_NS = 30_000_000_000
"""So long the table stands open: it is to be read."""
FIND_NS = 15_000_000_000
"""So long letters write with no key between: they are acts again soon if somebody turns away."""
LEAVES = "escape"
LEFT = "left; what was typed is there when it is opened again"
READ_ENTER_NS = 1_500_000_000
"""Enter within this time of a reading's last digit ends that reading, which is complete by itself:
it must not open what the next digits would fall into."""
ENTER_HELD_NS = 60_000_000
"""Enter again faster than this, with no key between, is a held key: it would send a sheet."""
NO_PASTE = "NOT DONE: what was pasted goes into a sheet alone"
QUITS = frozenset({"ctrl+c", "ctrl+q", "ctrl+z"})
VIEW_ONLY = "VIEW ONLY: nothing done; t = take the board"

Kept = tuple[str, tuple[int, ...]]
"""A sheet is found again by its name and those it is about."""


@dataclass(frozen=True, slots=True)
class Aids:
    """What sheets are made from beside the picture and the choice."""

    zone: tzinfo | None = None
    cylinders: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    """Litres of water and rated bar, by the name as it is typed."""
    log: Callable[[], Sequence[LogEntry]] = tuple
    emergency_form: Callable[[int], Sequence[tuple[str, str]]] = field(default=lambda _number: ())
    table: Table = TABLE
    """Everything that can be done."""


@dataclass(slots=True)
class SheetHands(OrderHands):
    """Which sheet or page is open."""

    holds: bool = True
    """Whether this board may act."""
    aids: Aids = field(default_factory=Aids)
    filling: Filling[Asking] | None = None
    """The sheet that is open in ``Mode.SHEET``."""
    viewed: View | None = None
    """The page that is looked at."""
    page: int = 0
    """Of what is looked at, where it takes more than one."""
    place: int = 0
    """Of what is marked among what letters have found."""
    _opener: Opener | None = None
    """What made the sheet that is open, ..."""
    _for: tuple[int, ...] = ()
    """... and for whom."""
    _present: Picture | None = None
    """The last picture seen."""
    _read_ns: int = -READ_ENTER_NS
    """When a reading was complete without Enter."""
    _last_enter_ns: int = -ENTER_HELD_NS
    _kept: dict[Kept, Filling[Asking]] = field(default_factory=dict)
    """The sheets that were left, or whose act has not been taken yet."""
    _sent: Kept | None = None
    """The sheet that was sent last; its act has no id yet."""
    _acts: dict[str, Kept] = field(default_factory=dict)
    """Ids of acts that are asked for, and the sheets that they came of."""

    @property
    def elsewhere(self) -> bool:
        """Something else than the list of wearers is looked at."""
        return self.viewed is not None or self.mode in {Mode.MORE, Mode.FIND, Mode.SHEET}

    def asked(self, act_id: str) -> None:
        """Take note that what the last sheet made is asked for under this id."""
        if self._sent is not None:
            self._acts[act_id], self._sent = self._sent, None

    def taken(self, act_id: str) -> None:
        """Take note that an act was taken: what was typed for it has done its work."""
        sheet = self._acts.pop(act_id, None)
        if sheet is not None:
            self._kept.pop(sheet, None)

    def after_reading(self, name: str) -> None:
        """Another key than Enter came after a reading: an Enter from now on is a new one."""
        if name != "enter":
            self._read_ns = -READ_ENTER_NS

    def _open_more(self, now_ns: int) -> None:
        if now_ns - self._read_ns < READ_ENTER_NS:
            return
        self.mode = Mode.MORE
        self.typed = ""
        self.until_ns = now_ns + MORE_NS
        self._last_enter_ns = now_ns

    @property
    def found(self) -> list[Key]:
        """What the letters so far find."""
        return self.aids.table.found(self.typed)

    def _find(self, now_ns: int) -> None:
        """Have letters write from now on, in the table that stands open."""
        self.mode = Mode.FIND
        self.typed = ""
        self.place = 0
        self.until_ns = now_ns + FIND_NS

    def _find_key(self, name: str, now_ns: int, picture: Picture) -> Effect | None:
        """A letter narrows the table, Up and Down move the mark, Enter opens what is marked."""
        self.until_ns = now_ns + FIND_NS
        if self._is_held(name, now_ns):
            return None
        if name == "backspace":
            self.typed, self.place = self.typed[:-1], 0
        elif name in {"up", "down"}:
            step = 1 if name == "down" else -1
            self.place = (self.place + step) % max(1, len(self.found))
        elif name == "escape":
            self._open_more(now_ns)
        elif name == "enter":
            thing = self.found[self.place]
            if thing.opens is not None:
                return self.open(thing, picture)
            self._back()
            return Say(f"{thing.words}: its key is {thing.shown}")
        elif self.aids.table.found(self.typed + name):
            self.typed, self.place = self.typed + name, 0
        else:
            return Say(f"nothing begins with {self.typed + name}; letters are keys again after Esc")
        return None

    def _more_digit(self, digit: str, now_ns: int, picture: Picture) -> Effect | None:
        if self.mode is Mode.FIND:
            self._open_more(now_ns)
        self.until_ns = now_ns + MORE_NS
        if not self.typed and digit in GROUPS:
            self.typed = digit
            return None
        code, self.typed = self.typed + digit, ""
        entry = self.aids.table.by_code.get(code)
        return Say(f"nothing has number {code}") if entry is None else self.open(entry, picture)

    def open(self, entry: Key, picture: Picture) -> Effect | None:
        """Open a page or a sheet; a sheet that was left before is there with what was typed."""
        opener = entry.opens
        assert opener is not None, "only what has digits is opened"
        if isinstance(opener, View):
            self._back()
            self.viewed, self.page = opener, 0
            return None
        if not self.holds:
            self._back()
            return Say(VIEW_ONLY)
        self._opener, self._for = opener, self.chosen
        self._back()
        sheet = opener(self._context(picture))
        if isinstance(sheet, Say):
            return sheet
        self._fill(sheet, self._kept.get((sheet.name, sheet.about)))
        return None

    def _context(self, picture: Picture) -> Context:
        aids = self.aids
        self._present = picture
        return Context(
            picture,
            self._for,
            aids.zone,
            aids.log(),
            aids.emergency_form,
            aids.cylinders,
            now=lambda: self._present or picture,
        )

    def refresh(self, picture: Picture) -> None:
        """Let a sheet into which nothing was typed yet show how things stand now."""
        if self.filling is None or self._opener is None or not self.filling.untouched:
            return
        sheet = self._opener(self._context(picture))
        if not isinstance(sheet, Say):
            self.filling = Filling(sheet)

    def _fill(self, sheet: Sheet, kept: Filling[Asking] | None = None) -> None:
        self.mode = Mode.SHEET
        typed: dict[str, str] = {}
        if kept is not None:
            # What nobody had changed is as it stands now, and not as it stood then.
            names = {one.name for one in sheet.fields}
            stood = {one.name: one.start for one in kept.form.fields}
            typed = {n: t for n, t in kept.answers.items() if n in names and t != stood.get(n)}
        self.filling = Filling(sheet, typed)

    def _sheet_key(
        self, name: str, character: str | None, now_ns: int, picture: Picture
    ) -> Effect | None:
        filling = self.filling
        assert filling is not None, "a sheet is open in this mode"
        self._present = picture
        if name == LEAVES:
            return self._left(filling)
        if self._is_held(name, now_ns):
            return None
        made = filling.press(name, character)
        if made is None:
            return None
        self._sent = self._keep(filling)
        self._leave_sheet()
        if filling.form.again:
            self._fill(filling.form)
        return made.what

    def paste(self, text: str) -> Effect | None:
        """Take what was pasted: into the answer that is being typed, and nowhere else."""
        if self.mode is not Mode.SHEET or self.filling is None:
            return Say(NO_PASTE)
        self.filling.paste(text)
        return None

    def _is_held(self, name: str, now_ns: int) -> bool:
        held = name == "enter" and now_ns - self._last_enter_ns < ENTER_HELD_NS
        self._last_enter_ns = now_ns if name == "enter" else -ENTER_HELD_NS
        return held

    def _left(self, filling: Filling[Asking]) -> Effect | None:
        self._leave_sheet()
        if filling.untouched:
            return None
        self._keep(filling)
        return Say(LEFT)

    def _keep(self, filling: Filling[Asking]) -> Kept:
        """Keep what was typed; an act that is on its way no longer takes it away."""
        sheet = (filling.form.name, filling.form.about)
        self._kept.pop(sheet, None)
        while len(self._kept) >= KEPT_MAX:
            del self._kept[next(iter(self._kept))]
        self._acts = {act: one for act, one in self._acts.items() if one in self._kept}
        self._kept[sheet] = filling
        return sheet

    def _leave_sheet(self) -> None:
        self.filling = None
        self._back()
