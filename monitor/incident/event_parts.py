"""What all events are made of: the fields that people fill in, checked, and the base models."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

from shared.printable import escaped

WEARERS_MAX = 10_000
"""More than any incident has; the training ground runs this many."""
TEXT_MAX = 400
"""Characters in a free text field: a board line shows 80, a report a paragraph."""


def one_line(text: str) -> str:
    """Only what a terminal prints as it is: a control character in a name could redraw a screen."""
    if not text.isprintable():
        raise ValueError("only printable characters, on one line")
    return text


def _printable(text: str) -> str:
    """The same for what the system says, which is shown whatever it holds."""
    return escaped(text)


IDENTITY_MAX = 0xFFFF_FFFF
WATER_VOLUME_MIN_L = 0.1
WATER_VOLUME_MAX_L = 30
RATED_MIN_BAR = 20
RATED_MAX_BAR = 450
"""More than any set of today has."""

WearerNumber = Annotated[int, Field(ge=1, le=WEARERS_MAX)]
Identity = Annotated[int, Field(ge=1, le=IDENTITY_MAX)]
Text = Annotated[str, Field(max_length=TEXT_MAX), AfterValidator(one_line)]
Name = Annotated[str, Field(min_length=1, max_length=60), AfterValidator(one_line)]
ShortName = Annotated[str, Field(max_length=20), AfterValidator(one_line)]
Hex = Annotated[str, Field(max_length=4_000, pattern="^[0-9a-f ]*$")]
"""Bytes as digits; the longest is a run of bytes that is no frame."""
Said = Annotated[str, Field(max_length=TEXT_MAX), AfterValidator(_printable)]
Ns = Annotated[int, Field(ge=-(2**63), lt=2**63)]
"""Nanoseconds, as wide as the journal has them: of the wall clock that is the year 2262."""
Number = Annotated[int, Field(ge=0, le=0xFFFF_FFFF)]
"""Of an alarm, a link, a version; how many of something."""
PressureBar = Annotated[float, Field(ge=0, le=450)]


ActId = Annotated[str, Field(min_length=8, max_length=40), AfterValidator(one_line)]


class EventModel(BaseModel):
    """What every act and fact is: frozen, and nothing in it that has no name here."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class OfficersAct(EventModel):
    """What every act carries."""

    id: ActId
    """Chosen by the sender; the same id asked again does nothing."""
    by: Name
    """Who did it, as they gave their name to the board."""
    seen_ns: Ns | None = None
    """The horizon on the screen when it was done."""
