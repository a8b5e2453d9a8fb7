"""Cylinders by name: water volume and rated pressure of the usual sizes, and of one's own.

Those that come with the program stand in ``shared/cylinders.toml``. A file of the same form, named
in the settings, adds to them; a name that is in both is the own one.
"""

from collections.abc import Mapping
from typing import Annotated, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

import shared
from monitor import data_files
from monitor.errors import BadFile
from monitor.incident import units
from monitor.incident.event_parts import one_line
from shared import reading

FILE_BYTES_MAX = 100_000
CYLINDERS_MAX = 500
"""More sizes than any service keeps; each has five lines."""
_KIND = "cylinder list"

Name = Annotated[str, Field(min_length=1, max_length=40), AfterValidator(one_line)]


class CylinderType(BaseModel):
    """One size of cylinder."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Name
    short: Name
    """As it is typed: ``6.8/300``."""
    water_volume_l: float = Field(gt=0, le=30)
    """Of the whole set: twin cylinders together."""
    rated_bar: float | None = Field(default=None, ge=50, le=450)
    rated_psi: float | None = Field(default=None, ge=700, le=6500)
    source: Annotated[str, Field(max_length=200), AfterValidator(one_line)] = ""

    @model_validator(mode="after")
    def _one_rating(self) -> Self:
        if (self.rated_bar is None) == (self.rated_psi is None):
            raise ValueError("one of rated_bar and rated_psi")
        return self

    @property
    def rated(self) -> float:
        """Rated gauge pressure in bar."""
        if self.rated_bar is not None:
            return self.rated_bar
        return units.bar_from(self.rated_psi or 0.0, "psi")


class CylinderFile(BaseModel):
    """A whole file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    cylinders: Annotated[tuple[CylinderType, ...], Field(max_length=CYLINDERS_MAX)]

    @model_validator(mode="after")
    def _no_name_twice(self) -> Self:
        seen: set[str] = set()
        for kind in self.cylinders:
            words = {_key(kind.name), _key(kind.short)}
            if twice := seen & words:
                raise ValueError(f"{twice.pop()} is given to two cylinders")
            seen |= words
        return self


class Rack:
    """The cylinders known, found by either name; capitals and blanks do not matter."""

    def __init__(self, kinds: Mapping[str, CylinderType]) -> None:
        self._kinds = kinds

    def find(self, name: str) -> CylinderType | None:
        """Find the cylinder of that name; None if there is none."""
        return self._kinds.get(_key(name))

    def names(self) -> tuple[str, ...]:
        """Give the short names, in the order of the files."""
        return tuple(dict.fromkeys(kind.short for kind in self._kinds.values()))


def load(own: str = "") -> Rack:
    """Read the cylinders that come with the program, and those of the file ``own``. BadFile."""
    paths = [shared.path("", "cylinders.toml")]
    if own:
        paths.append(reading.home(own))
    kinds: dict[str, CylinderType] = {}
    for path in paths:
        file = data_files.load(CylinderFile, _KIND, str(path), FILE_BYTES_MAX)
        for kind in file.cylinders:
            kinds |= {_key(kind.name): kind, _key(kind.short): kind}
    return Rack(kinds)


def unknown(name: str, where: str, rack: Rack) -> BadFile:
    """Tell of a cylinder that is not known, and which are."""
    return BadFile(f"no such cylinder: {name}", where, "one of: " + ", ".join(rack.names()))


def _key(name: str) -> str:
    return "".join(name.casefold().split())
