"""What became of the officer's acts, in one line: ASKED, then TAKEN, HELD or NOT TAKEN. Pure.

No word is ever untrue: NOT TAKEN is said only of what never will be, HELD of what the recorder does
though no disk has it yet, and where nobody has answered it may be done or not.
"""

from dataclasses import dataclass, field

from monitor.board.words.marks import Role, clean
from monitor.desk_client import TOO_MANY

SHOWN_NS = 6_000_000_000
"""A word stands this long."""
NOT_TAKEN_NS = 15_000_000_000
"""An act that failed stands longer, and nothing less pushes it away for ``HOLD_NS``."""
HOLD_NS = 3_000_000_000
PENDING_MAX = 128
HELD_WORDS = {"held": "HELD, NOT ON DISK YET", "sent": "SENT, NOT ON DISK YET"}
NOT_DONE = "NOT DONE"
"""The recorder has answered, by rule: it is no matter of the desk or the radio."""
NO_ANSWER = "NO ANSWER, USE VOICE"
MAY_BE_DONE = "it may be done or not"


def taken_words(before: str) -> str:
    """How to say that an act is in the journal, after what was said of it ``before``."""
    return "TAKEN AFTER ALL" if before == "unanswered" else "TAKEN"


def not_taken_words(before: str) -> str:
    """How to say that it will not be; what was held has been lost, and what was sent was sent."""
    if before == "sent":
        return "SENT, BUT NOT KEPT IN THE RECORD"
    return "NOT KEPT, USE VOICE" if before == "held" else "NOT TAKEN, USE VOICE"


@dataclass(slots=True)
class Messages:
    """The line above the key hints. Times are the boot clock, ns."""

    _pending: dict[str, str] = field(default_factory=dict)
    _doubtful: dict[str, str] = field(default_factory=dict)
    """Of those: what was said of them before the last word came."""
    _text: str = ""
    _role: Role = Role.STRONG
    _said: bool = False
    """It is about a key, not about an act."""
    _until_ns: int = 0
    _hold_until_ns: int = 0
    _later: set[str] = field(default_factory=set)
    """Acts asked for while a word holds its place: their answers replace it."""

    def say(self, words: str, now_ns: int) -> None:
        """Show a word about the last key."""
        self._put(words, now_ns, said=True)

    def unsay(self) -> None:
        """A word about an earlier key is no word about what has just been opened."""
        if self._said:
            self._until_ns = 0

    def asked(self, act_id: str, words: str, now_ns: int) -> None:
        """Take note that an act is on its way."""
        while len(self._pending) >= PENDING_MAX:
            oldest = next(iter(self._pending))
            del self._pending[oldest]
            self._doubtful.pop(oldest, None)
        self._pending[act_id] = words
        if now_ns < self._hold_until_ns:
            self._later.add(act_id)
        else:
            self._later.clear()
        self._put(f"ASKED: {words}", now_ns)

    def taken(self, act_id: str, now_ns: int) -> None:
        """Take note that the act is in the journal."""
        if act_id in self._later:
            self._hold_until_ns = 0
        self._put(f"{taken_words(self._doubtful.pop(act_id, ''))}: {self._of(act_id)}", now_ns)

    def held(self, act_id: str, now_ns: int, *, sent: bool) -> None:
        """Take note that the recorder has the act, though no disk has it yet."""
        said = self._doubtful[act_id] = "sent" if sent else "held"
        self._put(f"{HELD_WORDS[said]}: {self._pending.get(act_id, 'act')}", now_ns)

    def no_answer(self, act_id: str, now_ns: int) -> None:
        """Take note that nobody has answered; this word holds its place."""
        self._doubtful[act_id] = "unanswered"
        self._warn(f"{NO_ANSWER}: {self._pending.get(act_id, 'act')}: {MAY_BE_DONE}", now_ns)

    def not_taken(self, act_id: str, why: str, now_ns: int) -> None:
        """Take note that the act will not be done, and why; this word holds its place.

        What a rule says comes first, so that it is told whole.
        """
        before, subject, said = self._doubtful.pop(act_id, ""), self._of(act_id), why.rstrip(".")
        if before or why == TOO_MANY:
            self._warn(f"{not_taken_words(before)}: {subject}: {said}", now_ns)
        else:
            self._warn(f"{NOT_DONE}: {said} ({subject})", now_ns)

    def _of(self, act_id: str) -> str:
        return self._pending.pop(act_id, "act")

    def _warn(self, words: str, now_ns: int) -> None:
        self._hold_until_ns = 0
        self._put(f" {words} ", now_ns, Role.CAUTION)
        self._until_ns = now_ns + NOT_TAKEN_NS
        self._hold_until_ns = now_ns + HOLD_NS

    def line(self, now_ns: int) -> tuple[str, Role]:
        """Give what to show now."""
        return (self._text, self._role) if now_ns < self._until_ns else ("", Role.STRONG)

    def _put(self, text: str, now_ns: int, role: Role = Role.STRONG, *, said: bool = False) -> None:
        if now_ns < self._hold_until_ns:
            return
        self._said = said
        self._text, self._role = clean(text), role
        self._until_ns = now_ns + SHOWN_NS
