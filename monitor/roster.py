"""Rosters: who may be on the board, in which crew, with which pack. A TOML file.

Opening an incident with a roster puts each person on the board, in the file's order, and joins
their packs, so that nobody types names while a crew waits at the door.
"""

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

import shared
from monitor import cylinders, data_files
from monitor.cylinders import Rack
from monitor.incident.event_parts import Identity, Name, ShortName
from monitor.incident.events import Act, JoinPack, ListWearer

ROSTER_BYTES_MAX = 2_000_000
"""The longest roster, 10,000 people at 200 bytes each."""
PEOPLE_MAX = 10_000
"""As many as one board numbers."""


class Person(BaseModel):
    """One person of the roster."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: Name
    call_sign: ShortName = ""
    crew: ShortName = ""
    leader: bool = False
    pack: Identity | None = None
    """Identity of the pack they wear; None: no telemetry."""
    cylinder: str = Field(default="", max_length=40)
    """By name, as ``6.8/300``; stands for the next two."""
    water_volume_l: float | None = Field(default=None, gt=0, le=30)
    """Overrides what the pack says; needed for a person without telemetry."""
    rated_bar: float | None = Field(default=None, gt=0, le=450)
    apparatus: Literal["", "open circuit", "closed circuit", "airline"] = ""
    """Empty: as the pack tells, else open circuit."""
    gauge: Literal["", "bar", "psi"] = ""
    """What their gauge reads in; empty: as the procedure has it."""

    @model_validator(mode="after")
    def _cylinder_said_once(self) -> Self:
        if self.cylinder and not (self.water_volume_l is None and self.rated_bar is None):
            raise ValueError("cylinder, or water_volume_l and rated_bar, not both")
        return self

    @property
    def has_set(self) -> bool:
        """Anything is known of what they wear."""
        told = (self.pack, self.water_volume_l, self.rated_bar)
        return any(value is not None for value in told) or bool(self.apparatus or self.gauge)


class Roster(BaseModel):
    """A whole file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    title: str = Field(default="", max_length=120)
    people: Annotated[tuple[Person, ...], Field(min_length=1, max_length=PEOPLE_MAX)]

    @model_validator(mode="after")
    def _nobody_twice(self) -> Self:
        seen: dict[object, str] = {}
        for person in self.people:
            for mark in (person.pack, person.call_sign or None):
                if mark is not None and mark in seen:
                    raise ValueError(f"{mark} is given to both {seen[mark]} and {person.name}")
                seen[mark] = person.name
        return self

    def acts(self, by: str, incident: str) -> tuple[Act, ...]:
        """Give the acts that put everybody on the board of ``incident``, done by ``by``.

        The ids come from the incident and the place in the file: opening twice does nothing.
        """
        acts: list[Act] = []
        for number, person in enumerate(self.people, start=1):
            acts.append(_listing(number, person, by, incident))
            if person.has_set:
                acts.append(_joining(number, person, by, incident))
        return tuple(acts)


def _listing(number: int, person: Person, by: str, incident: str) -> ListWearer:
    return ListWearer(
        id=f"{incident[:24]}-list-{number}",
        by=by,
        wearer=number,
        name=person.name,
        call_sign=person.call_sign,
        crew=person.crew,
        leader=person.leader,
    )


def _joining(number: int, person: Person, by: str, incident: str) -> JoinPack:
    return JoinPack(
        id=f"{incident[:24]}-join-{number}",
        by=by,
        wearer=number,
        pack=person.pack,
        water_volume_l=person.water_volume_l,
        rated_bar=person.rated_bar,
        apparatus=person.apparatus,
        gauge_unit=person.gauge,
    )


def names() -> tuple[str, ...]:
    """Name the rosters that come with the program."""
    return shared.names("rosters")


def load(name_or_path: str, own_cylinders: str = "") -> Roster:
    """Read the roster of that name, else the file at that path. Raises BadFile.

    Cylinders named in it are looked up; ``own_cylinders`` is the path of a file of more.
    """
    people = data_files.load(Roster, "roster", name_or_path, ROSTER_BYTES_MAX)
    if not any(person.cylinder for person in people.people):
        return people
    rack = cylinders.load(own_cylinders)
    found = tuple(
        _with_cylinder(person, place, rack, name_or_path)
        for place, person in enumerate(people.people)
    )
    return people.model_copy(update={"people": found})


def _with_cylinder(person: Person, place: int, rack: Rack, name_or_path: str) -> Person:
    if not person.cylinder:
        return person
    kind = rack.find(person.cylinder)
    if kind is None:
        path, text = data_files.read("roster", name_or_path, ROSTER_BYTES_MAX)
        where = data_files.at(path, text, ("people", place, "cylinder"))
        raise cylinders.unknown(person.cylinder, where, rack)
    return person.model_copy(
        update={"water_volume_l": kind.water_volume_l, "rated_bar": kind.rated}
    )
