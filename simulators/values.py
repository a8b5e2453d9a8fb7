"""What the keys of a scenario are made of: numbers with a unit and limits, and their model."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationInfo, field_validator

from simulators.cylinder import GAUGE_BAR_MAX, TEMPERATURE_C_MAX, TEMPERATURE_C_MIN

PACKS_MAX = 50_000
"""Of one run. A board takes fewer; a capture of as many shows what software that reads it takes."""
SCENARIO_S_MAX = 6 * 3600
DELAY_MS_MAX = 60_000
DISTANCE_M_MAX = 5_000
FLOORS_MAX = 200
IDENTITY_MAX = 0xFFFF_FFFF
NAME_MAX = 60
SHORT_MAX = 20
"""Letters of a call sign or a crew."""

AtS = Annotated[float, Field(ge=0, le=SCENARIO_S_MAX)]
"""An instant, seconds from the start."""
ForS = Annotated[float, Field(gt=0, le=SCENARIO_S_MAX)]
GaugeBar = Annotated[float, Field(ge=0, le=GAUGE_BAR_MAX)]
Share = Annotated[float, Field(ge=0, le=1)]
Celsius = Annotated[float, Field(ge=TEMPERATURE_C_MIN, le=TEMPERATURE_C_MAX)]
Metres = Annotated[float, Field(ge=1, le=DISTANCE_M_MAX)]
Coordinate = Annotated[float, Field(ge=-DISTANCE_M_MAX, le=DISTANCE_M_MAX)]
WearerNumber = Annotated[int, Field(ge=1, le=PACKS_MAX)]
Identity = Annotated[int, Field(ge=1, le=IDENTITY_MAX)]
PlaceName = Annotated[str, Field(min_length=1, max_length=NAME_MAX)]
_Ms = Annotated[float, Field(ge=0, le=DELAY_MS_MAX)]


def _rising(span: tuple[float, float]) -> tuple[float, float]:
    if span[0] > span[1]:
        raise ValueError("the first must not be above the second")
    return span


SpanMs = Annotated[tuple[_Ms, _Ms], AfterValidator(_rising)]
"""Least and most; drawn evenly between the two."""


class Model(BaseModel):
    """A table of a scenario: frozen once read, and a key it does not know is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    @field_validator("*")
    @classmethod
    def _prints(cls, value: object, info: ValidationInfo) -> object:
        """Refuse what would redraw a screen; only a description has lines."""
        text = value if isinstance(value, str) else ""
        if not (text.replace("\n", " ") if info.field_name == "about" else text).isprintable():
            raise ValueError("only printable characters, on one line")
        return value
