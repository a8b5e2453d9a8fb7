"""Sheets of questions that are filled in with the keyboard: a state machine without a screen. Pure.

A sheet asks one thing after the other. Each answer is checked as soon as it is left, in words that
say what to do; nothing typed is lost by a wrong one. What comes of a sheet is made once, when the
last answer is in, and is up to whoever wrote the sheet.

While a sheet is open, letters are letters. So it lies below the alarm lines, never over them, says
that keys write, and Esc leaves it with all that was typed.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from rich.cells import cell_len

from monitor.incident.event_parts import TEXT_MAX

T = TypeVar("T")
Answers = Mapping[str, str]
"""What was filled in, by the names of the questions."""

PICKS_MAX = 9
"""Numbered answers of one question: one digit each."""
NEXT = frozenset({"enter", "down", "tab"})
BEFORE = frozenset({"up", "shift+tab"})
MOVES = frozenset({"left", "right", "home", "end"})
"""Keys that move the cursor within an answer; what stands there is then edited, not replaced."""
WIPE = "ctrl+u"
RUBS_OUT = frozenset({"backspace", "delete", WIPE})
NEEDED = "an answer is needed"
PICK = "one of the numbers"
UNPRINTABLE = "only what can be printed, on one line"


def no_check(_answer: str, _answers: Answers) -> str:
    """Everything is well."""
    return ""


def always(_answers: Answers) -> bool:
    """It is asked whatever the others are."""
    return True


def number(lowest: float, highest: float, unit: str, *, whole: bool = False) -> "Check":
    """Make a check for a figure between two others, both allowed."""
    least, most = f"{lowest:g}", f"{highest:g}"

    def check(answer: str, _answers: Answers) -> str:
        words = f"a{' whole' * whole} number from {least} to {most} {unit}".rstrip()
        try:
            value = int(answer) if whole else float(answer)
        except ValueError:
            return words
        # Neither "nan" nor "1_0" is what anybody means.
        plain = answer.isascii() and not set(answer.casefold()) & set("_einfa")
        return "" if plain and lowest <= value <= highest else words

    return check


Check = Callable[[str, Answers], str]
"""Says why an answer cannot be, and what can; empty: it can. It is given the answers before it."""


@dataclass(frozen=True, slots=True)
class Field:
    """One question of a sheet."""

    name: str
    label: str
    picks: tuple[str, ...] = ()
    """Numbered answers, at most ``PICKS_MAX``."""
    free: bool = True
    """Own words are an answer too."""
    start: str = ""
    """Stands there before anything is typed; typing replaces it."""
    needed: bool = True
    most: int = TEXT_MAX
    """Characters."""
    check: Check = no_check
    hint: str = ""
    """What is wanted, in a few words."""
    when: Callable[[Answers], bool] = always
    """Whether it is asked at all, going by the answers before it."""


@dataclass(frozen=True, slots=True)
class Refused:
    """The answers do not go together: why, and at which question."""

    why: str
    field: str = ""


@dataclass(frozen=True, slots=True)
class Form(Generic[T]):
    """A sheet."""

    name: str
    """One word, the same for every sheet of this kind."""
    title: str
    fields: tuple[Field, ...]
    make: Callable[[Answers], T | Refused]
    """What comes of it."""
    about: tuple[int, ...] = ()
    """The wearers that it is about; an unfinished sheet is found again by name and these."""
    notes: tuple[str, ...] = ()
    """Lines to read above the questions."""
    again: bool = False
    """It opens again once it is sent: for what is done several times in a row."""
    gaps: bool = False
    """Most answers stand there at once: the cursor goes to those that do not, and Up to any."""


@dataclass(frozen=True, slots=True)
class Made(Generic[T]):
    """The sheet is done, and this is what comes of it."""

    what: T


@dataclass(slots=True)
class Filling(Generic[T]):
    """A sheet while it is being filled in."""

    form: Form[T]
    answers: dict[str, str] = field(default_factory=dict)
    place: int = 0
    """Of the question that keys answer now."""
    complaint: str = ""
    """Why the last answer, or the sheet, was not taken."""
    _typing: bool = False
    """Something was typed into this answer: until then typing replaces what stands there."""
    _digit: str = ""
    """The digit that has just picked an answer."""
    _after: int = 0
    """Characters of the answer after the cursor."""

    def __post_init__(self) -> None:
        """Put in what stands there at first."""
        for one in self.form.fields:
            self.answers.setdefault(one.name, one.start)
        self.place = self.place or self._first()

    def _first(self) -> int:
        """Where it begins."""
        return next(iter(self._later(-1)), 0) if self.form.gaps else 0

    def _later(self, place: int) -> list[int]:
        """Questions that come after one; of a sheet of gaps those without an answer."""
        after = [later for later in self.places if later > place]
        return [p for p in after if not (self.form.gaps and self.answers[self.form.fields[p].name])]

    @property
    def untouched(self) -> bool:
        """Nothing was answered or typed yet."""
        starts = {one.name: one.start for one in self.form.fields}
        return self.place == self._first() and not self._typing and self.answers == starts

    @property
    def places(self) -> list[int]:
        """Those of the questions that are asked, as the answers are now."""
        return [n for n, one in enumerate(self.form.fields) if one.when(self.answers)]

    @property
    def asked(self) -> Field:
        """The question that keys answer now."""
        return self.form.fields[self.place]

    def press(self, name: str, character: str | None) -> Made[T] | None:
        """Take a key; None: there is more to fill in."""
        self.complaint = ""
        if name in NEXT:
            return self._next()
        if name in BEFORE:
            before = [place for place in self.places if place < self.place]
            self._go(before[-1] if before else self.place)
        elif name in MOVES:
            self._move(name)
        elif name in RUBS_OUT:
            self._rub_out(name)
        elif character is not None and len(character) == 1:
            self._character(character)
        return None

    @property
    def cursor(self) -> tuple[str, str]:
        """The answer before the cursor, and after it."""
        standing = self.answers[self.asked.name]
        at = len(standing) - min(self._after, len(standing))
        return standing[:at], standing[at:]

    def paste(self, text: str) -> None:
        """Put in what was copied elsewhere, as one line; all of it, or nothing and why."""
        self.complaint = ""
        said = " ".join(text.split())
        if not said.isprintable():
            self.complaint = UNPRINTABLE
        elif not self.asked.free:
            self.complaint = PICK
        else:
            self._insert(said)

    def _move(self, name: str) -> None:
        before, after = self.cursor
        whole = len(before) + len(after)
        step = {"left": 1, "right": -1, "home": whole, "end": -whole}[name]
        self._after = max(0, min(whole, self._after + step))
        self._typing, self._digit = True, ""

    def _rub_out(self, name: str) -> None:
        before, after = self.cursor
        self._digit = ""
        if name == WIPE:
            self._after = 0
            self._put("")
        elif name == "backspace":
            self._put(before[:-1] + after)
        else:
            self._after = max(0, len(after) - 1)
            self._put(before + after[1:])

    def _insert(self, said: str) -> None:
        """Type these characters at the cursor; in the place of what only stood there."""
        before, after = self.cursor if self._typing else ("", "")
        if len(before) + len(said) + len(after) > self.asked.most:
            self.complaint = f"at most {self.asked.most} characters"
        else:
            self._after = len(after)
            self._put(before + said + after)

    def fill(self, text: str) -> Made[T] | None:
        """Take a whole answer, as typed on a line; an empty one leaves what stands there."""
        self.complaint = ""
        said = text.strip()
        if not said.isprintable():
            self.complaint = UNPRINTABLE
            return None
        if said:
            picked = self._picked(said)
            self._put(said if picked is None else picked)
        return self._next()

    def _go(self, place: int) -> None:
        self.place = place
        self._typing, self._digit, self._after = False, "", 0

    def _put(self, text: str) -> None:
        self.answers[self.asked.name] = text
        self._typing = True

    def _character(self, character: str) -> None:
        if not character.isprintable():
            return
        asked, standing = self.asked, self.answers[self.asked.name]
        digit, self._digit = self._digit, ""
        again = digit and asked.free
        picked = None if (self._typing and standing) or again else self._picked(character)
        if picked is not None:
            self._put(picked)
            self._typing, self._digit = False, character
        elif not asked.free:
            self.complaint = PICK
        else:
            # What goes on after a digit was no pick, but "2nd floor", or a number.
            self._insert(character if self._typing else digit + character)

    def _picked(self, digit: str) -> str | None:
        """The numbered answer of this digit; None if it is none."""
        picks = self.asked.picks
        known = digit.isascii() and digit.isdigit() and len(digit) == 1
        place = int(digit) - 1 if known else -1
        return picks[place] if 0 <= place < len(picks) else None

    def _next(self) -> Made[T] | None:
        """Check this answer; go on, or make what comes of the sheet after the last."""
        why = self.why_not(self.asked)
        if why:
            self.complaint = why
            return None
        places = self.places
        after = self._later(self.place)
        if after:
            self._go(after[0])
            return None
        for place in places:
            why = self.why_not(self.form.fields[place])
            if why:
                self._go(place)
                self.complaint = why
                return None
        asked = {self.form.fields[place].name for place in places}
        said = {n: text.strip() if n in asked else "" for n, text in self.answers.items()}
        made = self.form.make(said)
        if isinstance(made, Refused):
            self.complaint = made.why
            names = [one.name for one in self.form.fields]
            self._go(names.index(made.field) if made.field in names else self.place)
            return None
        return Made(made)

    def why_not(self, one: Field) -> str:
        """Why the answer to this question cannot be; empty: it can."""
        said = self.answers[one.name].strip()
        if not said:
            return NEEDED if one.needed else ""
        if one.picks and not one.free and said not in one.picks:
            return PICK
        if len(said) > one.most:
            return f"at most {one.most} characters"
        return one.check(said, self.answers)


LABEL_CELLS_MAX = 24


def label_cells(form: Form[T]) -> int:
    """Cells of the widest label, so that answers stand below one another."""
    return min(LABEL_CELLS_MAX, max(cell_len(one.label) for one in form.fields))
