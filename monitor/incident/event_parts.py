"""What all events are made of: the fields that people fill in, checked, and the base models."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

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
    return "".join(c if c.isprintable() else "?" for c in text)


IDENTITY_MAX = 0xFFFF_FFFF
WATER_VOLUME_MAX_L = 30
RATED_MAX_BAR = 450
"""More than any set of today has."""

WearerNumber = Annotated[int, Field(ge=1, le=WEARERS_MAX)]
Identity = Annotated[int, Field(ge=1, le=IDENTITY_MAX)]
Text = Annotated[str, Field(max_length=TEXT_MAX), AfterValidator(one_line)]
Name = Annotated[str, Field(min_length=1, max_length=60), AfterValidator(one_line)]
ShortName = Annotated[str, Field(max_length=20), AfterValidator(one_line)]
Said = Annotated[str, Field(max_length=TEXT_MAX), AfterValidator(_printable)]
PressureBar = Annotated[float, Field(ge=0, le=450)]


class EventModel(BaseModel):
    """What every act and fact is: frozen, and nothing in it that has no name here."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class OfficersAct(EventModel):
    """What every act carries."""

    id: str = Field(min_length=8, max_length=40)
    """Chosen by the sender; the same id asked again does nothing."""
    by: Name
    """Who did it, as they gave their name to the board."""
    seen_ns: int | None = None
    """The horizon on the screen when it was done."""
