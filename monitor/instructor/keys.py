"""The keys of the instructor's screen. Those of board and replay that it shares mean the same.

Pure: a state machine that is handed the time and answers with at most one thing to do.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from monitor.instructor.trouble import BOOKMARK, GROUPS, Hand
from simulators.instructions import Instruction

Does = Literal["stand", "bookmark", "theme", "quit"]
CHOSEN_DIGITS_MAX = 5
QUIT = frozenset({"q", "ctrl+c", "ctrl+q", "ctrl+z"})


@dataclass(slots=True)
class InstructorKeys:
    """Who is chosen, what is typed, whether the table stands open."""

    chosen: int | None = None
    typed: str = ""
    open: bool = False

    def press(
        self, name: str, numbers: Sequence[int], hands: Sequence[Hand]
    ) -> Instruction | Does | str | None:
        """Take one key. A string that is none of ``Does`` is a word for the screen."""
        if name in QUIT:
            return "quit"
        if name == "escape":
            self.open, self.typed = False, ""
            return None
        if name == "enter":
            self.open, self.typed = True, ""
            return None
        if name == "full_stop":
            return "stand"
        if name == "b":
            return "theme"
        if name in {"up", "down"}:
            self._step(1 if name == "down" else -1, numbers)
            return None
        if len(name) == 1 and name.isascii() and name.isdigit():
            return self._do(name, hands) if self.open else self._choose(name, numbers)
        return None

    def _step(self, by: int, numbers: Sequence[int]) -> None:
        if not numbers:
            return
        place = -1 if by > 0 else len(numbers)
        if self.chosen in numbers:
            place = numbers.index(self.chosen)
        self.chosen, self.typed = numbers[(place + by) % len(numbers)], ""

    def _choose(self, digit: str, numbers: Sequence[int]) -> str | None:
        typed = (self.typed + digit)[-CHOSEN_DIGITS_MAX:]
        if not any(str(n).startswith(typed) for n in numbers):
            typed = digit
        self.typed = typed if any(str(n).startswith(typed) for n in numbers) else ""
        if int(typed) in numbers:
            self.chosen = int(typed)
            return None
        return None if self.typed else f"no wearer has number {typed}"

    def _do(self, digit: str, hands: Sequence[Hand]) -> Instruction | Does | str | None:
        if not self.typed and digit in GROUPS:
            self.typed = digit
            return None
        code = self.typed + digit
        self.open, self.typed = False, ""
        hand = next((one for one in hands if one.code == code), None)
        if hand is None:
            return f"nothing has number {code}"
        if code == BOOKMARK:
            return "bookmark"
        return hand.do if hand.do is not None else f"{hand.words}: first the number of a wearer"
