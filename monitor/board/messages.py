"""What became of the officer's acts, in one line: ASKED, then TAKEN or NOT TAKEN. Pure."""

from dataclasses import dataclass, field

from monitor.board.marks import Role, clean

SHOWN_NS = 6_000_000_000
"""A word stands this long."""
NOT_TAKEN_NS = 15_000_000_000
"""An act that failed stands longer, and nothing less pushes it away for ``HOLD_NS``."""
HOLD_NS = 3_000_000_000
PENDING_MAX = 128


@dataclass(slots=True)
class Messages:
    """The line above the key hints. Times are the boot clock, ns."""

    _pending: dict[str, str] = field(default_factory=dict)
    _text: str = ""
    _role: Role = Role.STRONG
    _said: bool = False
    """It is about a key, not about an act."""
    _until_ns: int = 0
    _hold_until_ns: int = 0

    def say(self, words: str, now_ns: int) -> None:
        """Show a word about the last key."""
        self._put(words, Role.STRONG, now_ns, said=True)

    def unsay(self) -> None:
        """A word about an earlier key is no word about what has just been opened."""
        if self._said:
            self._until_ns = 0

    def asked(self, act_id: str, words: str, now_ns: int) -> None:
        """Take note that an act is on its way."""
        while len(self._pending) >= PENDING_MAX:
            del self._pending[next(iter(self._pending))]
        self._pending[act_id] = words
        self._put(f"ASKED: {words}", Role.STRONG, now_ns)

    def taken(self, act_id: str, now_ns: int) -> None:
        """Take note that the act is in the journal."""
        self._put(f"TAKEN: {self._pending.pop(act_id, 'act')}", Role.STRONG, now_ns)

    def not_taken(self, act_id: str, why: str, now_ns: int) -> None:
        """Take note that the act will not be done; this word holds its place."""
        words = self._pending.pop(act_id, "act")
        self._hold_until_ns = 0
        self._put(f" NOT TAKEN, USE VOICE: {words}: {why.rstrip('.')} ", Role.CAUTION, now_ns)
        self._until_ns = now_ns + NOT_TAKEN_NS
        self._hold_until_ns = now_ns + HOLD_NS

    def line(self, now_ns: int) -> tuple[str, Role]:
        """Give what to show now."""
        return (self._text, self._role) if now_ns < self._until_ns else ("", Role.STRONG)

    def _put(self, text: str, role: Role, now_ns: int, *, said: bool = False) -> None:
        if now_ns < self._hold_until_ns:
            return
        self._said = said
        self._text, self._role = clean(text), role
        self._until_ns = now_ns + SHOWN_NS
