"""How a wearer takes an order: how long until the button is pressed, and whether they go.

The delay is log-normal, the usual shape of times in which people react; its figures are invented:
a median of 6 s to find the button in gloves, and one in twenty over 14 s. Who lies still answers
once they move again.
"""

import math
from random import Random
from typing import Annotated, Literal

from pydantic import Field

from protocol.packets import Order, OrderKind
from simulators.movement import FOREVER_NS
from simulators.randoms import normal
from simulators.values import Model

SECOND_NS = 1_000_000_000
OUT = (OrderKind.EVACUATE, OrderKind.COME_OUT)
"""Orders upon which one takes the way out."""

Manner = Literal["as ordered", "never", "stays"]
"""Obeys; never presses and never goes; presses and does not go."""


class Answers(Model):
    """How long wearers take to answer an order."""

    median_s: Annotated[float, Field(ge=0, le=600)] = 6.0
    spread: Annotated[float, Field(ge=0, le=2)] = 0.5
    """Standard deviation of the delay's natural logarithm."""


class Answering:
    """One wearer's answer to the last order."""

    __slots__ = ("_answers", "_manner", "_random", "due_ns", "goes")

    def __init__(self, random: Random, answers: Answers, manner: Manner) -> None:
        """Nothing is asked yet."""
        self._random = random
        self._answers = answers
        self._manner = manner
        self.due_ns = FOREVER_NS
        """When the button will be pressed; later if the wearer then lies still."""
        self.goes = False
        """They will then take the way out."""

    def ordered(self, now_ns: int, order: Order) -> None:
        """Take in an order that asks for an answer; the delay runs from the latest one."""
        delay_ns = self._delay_ns()
        if self._manner == "never":
            return
        self.due_ns = now_ns + delay_ns
        self.goes = order.what in OUT and self._manner == "as ordered"

    def wait_until(self, moves_ns: int) -> None:
        """Answer only after they move again, which FOREVER_NS says they never will."""
        delay_ns = self._delay_ns()
        if self._manner != "never":
            self.due_ns = min(moves_ns + delay_ns, FOREVER_NS)

    def answered(self) -> None:
        """The button is pressed."""
        self.due_ns = FOREVER_NS

    def _delay_ns(self) -> int:
        answers = self._answers
        return round(
            answers.median_s * math.exp(normal(self._random, 0, answers.spread)) * SECOND_NS
        )
