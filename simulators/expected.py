"""What the officer is expected to do, by procedure: data, from which a run can be scored.

An expectation hangs on an inject, or on an instant. Its time runs from when the board first
showed ``alarm`` of those wearers after that, where it names one; else from the inject or the
instant itself. The first act of that kind, on one of those wearers, within its time meets it.
Where the inject never comes, or the board never shows the alarm, nothing is expected.
"""

from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from simulators.injects import WEARERS_MAX, AlarmName, InjectName, OrderName
from simulators.values import AtS, ForS, Model, WearerNumber

Act = Literal[
    "acknowledge", "reset", "spoken_reading", "locate", "start_back", "come_out", "off_air",
    "give_order", "answer_by_voice", "close_order", "emergency_crew", "enrol_again", "note",
]  # fmt: skip
"""Acts of the journal, by its names."""
_OF_ALARMS = ("acknowledge", "reset")


class Expected(Model):
    """One act that is expected."""

    what: Act
    inject: InjectName | None = None
    at_s: AtS | None = None
    alarm: AlarmName | None = None
    """The alarm that is to be taken or reset, or that the act answers."""
    order: OrderName | None = None
    """With ``give_order``."""
    wearers: Annotated[tuple[WearerNumber, ...], Field(max_length=WEARERS_MAX)] = ()
    """On whom; one of them is enough. Not given: whoever."""
    within_s: ForS
    needed: bool = True
    """Not done, it is missed; else it is only good to do."""
    why: Annotated[str, Field(max_length=200)] = ""
    """The rule, for the debrief."""

    @model_validator(mode="after")
    def _complete(self) -> Self:
        """Refuse an act without what it is about."""
        if (self.inject is None) == (self.at_s is None):
            raise ValueError("an expected act needs either inject or at_s")
        if self.what in _OF_ALARMS and self.alarm is None:
            raise ValueError(f"{self.what} needs alarm")
        if (self.what == "give_order") != (self.order is not None):
            raise ValueError("order goes with give_order, and only there")
        return self
