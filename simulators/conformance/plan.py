"""The course of a trial, step after step. Pure.

Each step says what goes out now and when it is over. What a person has to do at the pack is a step
of its own, with a time after which the trial goes on without it.
"""

from collections.abc import Callable, Sequence
from typing import Protocol

from protocol.packets import OrderKind
from simulators.conformance.asking import Asking
from simulators.conformance.questions import (
    AFTER_RESTART,
    BEACONS,
    CONFIRM,
    EARLIER,
    FORMS,
    KINDS,
    LATE,
    OLD,
    REFUSED,
    WIDE,
    Question,
)

MS = 1_000_000
SECOND_NS = 1_000_000_000
FIRST_NS = 2 * SECOND_NS
"""After the first frame nothing is asked for so long: a sign-on has its copies."""
HASTY_NS = 200 * MS
"""Between two questions that need not wait for one another."""
CALM_NS = 100 * MS
"""Between an answer and the next question."""
WATCHED_NS = 2 * SECOND_NS
"""After an order nobody presses for so long: what is acknowledged then, nobody acknowledged."""
PRESS_NS = 12 * SECOND_NS
"""So long a person has to do what is said."""
RESTART_NS = 30 * SECOND_NS
PRESS_AGAIN_NS = 5 * SECOND_NS
LOOK_NS = SECOND_NS // 2
OLD_NS = 60 * SECOND_NS
LATE_NS = 14 * SECOND_NS
RECEIPTS_WANTED = 75
"""Enough to tell whether moments are at random, and more frames than the window has numbers."""
UNCLEAR_MAX = 12
"""So many questions of one step are put again, where the link left open what the answer was."""
QUIET_SHARE = 0.4
"""A question that must meet the pack between two frames is put so early in its interval."""

BUTTON = "press the button that acknowledges an order"
BUTTON_AGAIN = "press the same button once more: nothing may come of it"
COMING_OUT = "say by button that you are coming out"
DISTRESS = "press distress"
DISTRESS_OFF = "set distress back"
RESTART = "switch the pack off, in order, and after some 5 s on again"
SWITCH_OFF = "switch the pack off, in order"


class Step(Protocol):
    """One step of a trial."""

    def due(self, asking: Asking, t: int) -> list[bytes]:
        """Give the frames to send now."""
        ...

    def over(self, asking: Asking, t: int) -> bool:
        """Whether the next step may begin."""
        ...


class Ask:
    """Questions one after another."""

    def __init__(self, questions: Sequence[Question], *, hasty: bool = False) -> None:
        """``hasty``: without waiting for answers."""
        self._left = list(questions)
        self._hasty = hasty
        self._next_ns = 0
        self._unclear = 0

    def due(self, asking: Asking, t: int) -> list[bytes]:
        """Put the next one."""
        if asking.unclear:
            question = asking.unclear.pop()
            if self._unclear < UNCLEAR_MAX:
                self._left.insert(0, question)
                self._unclear += 1
        if not self._left or t < self._next_ns:
            return []
        question = self._left[0]
        if not asking.settled and (not self._hasty or asking.alone or question.exact):
            self._next_ns = max(self._next_ns, t)
            return []
        if question.beacon and asking.beacons.lately(t):
            return []
        if question.exact and not asking.conduct.quiet(t, QUIET_SHARE):
            return []
        self._left.pop(0)
        self._next_ns = t + (HASTY_NS if self._hasty else CALM_NS)
        return asking.put(question, t) or []

    def over(self, asking: Asking, t: int) -> bool:
        """All were put and are settled."""
        return not self._left and not asking.unclear and asking.settled


class Fill:
    """Orders that cost the wearer nothing, until enough receipts have come."""

    def __init__(self) -> None:
        """None was put."""
        self._next_ns = 0
        self._put = 0

    def due(self, asking: Asking, t: int) -> list[bytes]:
        """Put one each now and then."""
        if t < self._next_ns or self._put >= RECEIPTS_WANTED:
            return []
        self._next_ns = t + HASTY_NS
        self._put += 1
        return asking.put(CONFIRM, t) or []

    def over(self, asking: Asking, t: int) -> bool:
        """Enough came, or would have."""
        enough = asking.receipts >= RECEIPTS_WANTED or self._put >= RECEIPTS_WANTED
        return enough and asking.settled


class Wait:
    """Nothing is asked for a while."""

    def __init__(self, for_ns: int) -> None:
        """Begin when first asked."""
        self._for_ns = for_ns
        self._from_ns = -1

    def due(self, asking: Asking, t: int) -> list[bytes]:
        """Nothing."""
        if self._from_ns < 0:
            self._from_ns = t
        return []

    def over(self, asking: Asking, t: int) -> bool:
        """The time has gone by."""
        return self._from_ns >= 0 and t - self._from_ns >= self._for_ns


class Until:
    """Nothing is asked until a question can name a frame old enough."""

    def __init__(self, question: Question, longest_ns: int) -> None:
        """Begin when first asked."""
        self._question = question
        self._longest_ns = longest_ns
        self._from_ns = -1
        self._next_ns = 0
        self._put = False

    def due(self, asking: Asking, t: int) -> list[bytes]:
        """Put it as soon as it can be put."""
        if self._from_ns < 0:
            self._from_ns = t
        if self._put or t < self._next_ns:
            return []
        self._next_ns = t + LOOK_NS
        frames = asking.put(self._question, t)
        self._put = frames is not None
        return frames or []

    def over(self, asking: Asking, t: int) -> bool:
        """It is answered, or the time is over."""
        if self._put:
            return asking.settled
        return self._from_ns >= 0 and t - self._from_ns >= self._longest_ns


class Press:
    """Something for the person at the pack."""

    def __init__(
        self,
        prompt: str,
        seen: Callable[[Asking], int],
        *,
        longest_ns: int = PRESS_NS,
        allows: bool = False,
    ) -> None:
        """``seen``: changes when it was done. ``allows``: an order may be acknowledged now."""
        self.prompt = prompt
        self._seen = seen
        self._longest_ns = longest_ns
        self._allows = allows
        self._from_ns = -1
        self._before = 0

    def due(self, asking: Asking, t: int) -> list[bytes]:
        """Nothing."""
        if self._from_ns < 0:
            self._from_ns = t
            self._before = self._seen(asking)
            asking.may_press = self._allows
        return []

    def over(self, asking: Asking, t: int) -> bool:
        """It was done, or has not been for too long."""
        if self._from_ns < 0:
            return False
        return self._seen(asking) != self._before or t - self._from_ns >= self._longest_ns


def presses(asking: Asking) -> int:
    """How often the button was pressed."""
    return asking.presses


def _never(_: Asking) -> int:
    return 0


def _button() -> Press:
    return Press(BUTTON, presses, allows=True)


def course() -> list[Step]:
    """All of a trial, in order."""
    return [
        Wait(FIRST_NS),
        Ask([KINDS[OrderKind.EVACUATE]]),
        Wait(WATCHED_NS),
        _button(),
        Ask([KINDS[OrderKind.COME_OUT], KINDS[OrderKind.DISTRESS_CONFIRMED]]),
        _button(),
        Press(BUTTON_AGAIN, _never, longest_ns=PRESS_AGAIN_NS),
        Ask([KINDS[OrderKind.ROLL_CALL]]),
        _button(),
        Ask([KINDS[OrderKind.TEST]]),
        Press(COMING_OUT, lambda asking: asking.comings_out),
        Wait(SECOND_NS),
        _button(),
        Ask([KINDS[OrderKind.COMING_OUT_CONFIRMED]]),
        Press(DISTRESS, lambda asking: asking.distress),
        Press(DISTRESS_OFF, lambda asking: asking.distress),
        Ask(REFUSED, hasty=True),
        Ask(FORMS),
        Ask(BEACONS),
        Fill(),
        Ask(EARLIER),
        Until(OLD, OLD_NS),
        Until(LATE, LATE_NS),
        Ask(WIDE),
        Press(RESTART, lambda asking: asking.boots, longest_ns=RESTART_NS),
        Wait(FIRST_NS),
        Ask(AFTER_RESTART),
    ]
