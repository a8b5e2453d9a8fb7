"""Rosters: who may be on the board, in which crew, with which pack. A TOML or a CSV file.

Opening an incident with a roster puts each person on the board, in the file's order, and joins
their packs, so that nobody types names while a crew waits at the door.
"""

from collections.abc import Callable, Sequence
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError, model_validator

import shared
from monitor import cylinders, data_files, roster_csv
from monitor.cylinders import Rack
from monitor.errors import BadFile
from monitor.incident.check_in import CheckIn
from monitor.incident.event_parts import Identity, Name, ShortName, one_line
from monitor.incident.events import Act, JoinPack, ListWearer
from monitor.roster_csv import Row, Sheet

ROSTER_BYTES_MAX = 2_000_000
"""The longest roster, 10,000 people at 200 bytes each."""
PEOPLE_MAX = 10_000
"""As many as one board numbers."""
TABLE = ".csv"
"""How the name of a table ends."""


class Person(BaseModel):
    """One person of the roster."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    name: Name
    call_sign: ShortName = ""
    crew: ShortName = ""
    leader: bool = False
    pack: Identity | None = None
    """Identity of the pack they wear; None: no telemetry."""
    set_id: ShortName = ""
    """Of the set, as printed on it."""
    cylinder_id: ShortName = ""
    """Of the cylinder, as printed on it."""
    cylinder: Annotated[str, Field(max_length=40), AfterValidator(one_line)] = ""
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
        words = (self.set_id, self.cylinder_id, self.apparatus, self.gauge)
        return any(value is not None for value in told) or any(words)


class Roster(BaseModel):
    """A whole file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    title: Annotated[str, Field(max_length=120), AfterValidator(one_line)] = ""
    people: Annotated[tuple[Person, ...], Field(min_length=1, max_length=PEOPLE_MAX)]

    @model_validator(mode="after")
    def _nobody_twice(self) -> Self:
        if found := twice(self.people):
            raise ValueError(found[2])
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
        set_id=person.set_id,
        cylinder_id=person.cylinder_id,
        expected=True,
    )


ONE_EACH = {"pack": "pack", "call_sign": "call sign", "set_id": "set", "cylinder_id": "cylinder"}
"""What no two people have, and what it is called."""


def twice(people: Sequence[Person]) -> tuple[int, str, str] | None:
    """Find the first who has what somebody before has: their place, its key, and it in words."""
    seen: dict[tuple[str, object], str] = {}
    for place, person in enumerate(people):
        for key, word in ONE_EACH.items():
            value = getattr(person, key)
            if value in ("", None):
                continue
            if before := seen.get((key, value)):
                return place, key, f"{word} {value} is given to both {before} and {person.name}"
            seen[key, value] = person.name
    return None


def of_board(people: Sequence[CheckIn], title: str) -> tuple[Roster, tuple[str, ...]]:
    """Make the roster of who is on the board now, and say what could not be kept of it.

    A roster gives each call sign, set and cylinder once; the second who has it is without.
    """
    listed: list[Person] = []
    told: list[str] = []
    for one in people:
        person = Person(
            name=one.name.strip() or f"wearer {one.wearer}",
            call_sign=one.call_sign,
            crew=one.crew,
            leader=one.leader,
            pack=one.pack,
            water_volume_l=one.water_volume_l,
            rated_bar=one.rated_bar,
            apparatus=one.apparatus,
            gauge=one.gauge_unit,
            set_id=one.set_id,
            cylinder_id=one.cylinder_id,
        )
        while found := twice([*listed, person]):
            told.append(f"{found[2]}: left out for {person.name}")
            person = person.model_copy(update={found[1]: Person.model_fields[found[1]].default})
        listed.append(person)
    return Roster(title=title, people=tuple(listed)), tuple(told)


def names() -> tuple[str, ...]:
    """Name the rosters that come with the program."""
    return shared.names("rosters")


def load(name_or_path: str, own_cylinders: str = "") -> Roster:
    """Read the roster of that name, else the file at that path. Raises BadFile.

    A file that ends in ``.csv`` is a table, any other is TOML. Cylinders named in it are looked
    up; ``own_cylinders`` is the path of a file of more.
    """
    if name_or_path.casefold().endswith(TABLE):
        return _load_table(name_or_path, own_cylinders)
    people = data_files.load(Roster, "roster", name_or_path, ROSTER_BYTES_MAX)
    if not any(person.cylinder for person in people.people):
        return people

    def where(place: int) -> str:
        path, text = data_files.read("roster", name_or_path, ROSTER_BYTES_MAX)
        return data_files.at(path, text, ("people", place, "cylinder"))

    return _with_cylinders(people, own_cylinders, where)


def _with_cylinders(people: Roster, own: str, where: Callable[[int], str]) -> Roster:
    """Look the cylinders up; ``where`` says at which place of the file a person's one stands."""
    rack = cylinders.load(own)
    found = tuple(_with_cylinder(p, rack, place, where) for place, p in enumerate(people.people))
    return people.model_copy(update={"people": found})


def _with_cylinder(person: Person, rack: Rack, place: int, where: Callable[[int], str]) -> Person:
    if not person.cylinder:
        return person
    kind = rack.find(person.cylinder)
    if kind is None:
        raise cylinders.unknown(person.cylinder, where(place), rack)
    return person.model_copy(
        update={"water_volume_l": kind.water_volume_l, "rated_bar": kind.rated}
    )


# ---------------------------------------------------------------- a table

_WANTED = {
    "name": "give a name of 1 to 60 characters",
    "call_sign": "at most 20 characters that can be printed",
    "crew": "at most 20 characters that can be printed",
    "leader": "write yes or no",
    "pack": "write the identity of the pack, a whole number from 1",
    "set_id": "at most 20 characters that can be printed",
    "cylinder_id": "at most 20 characters that can be printed",
    "cylinder": "write a name such as 6.8/300, and no volume or rating beside it",
    "water_volume_l": "write litres, up to 30",
    "rated_bar": "write bar, up to 450",
    "apparatus": "write open circuit, closed circuit or airline",
    "gauge": "write bar or psi",
}
"""By column, what to do about a cell that cannot be."""


def _load_table(name: str, own_cylinders: str) -> Roster:
    path, text = data_files.read("roster", name, ROSTER_BYTES_MAX)
    decimals = ("water_volume_l", "rated_bar")
    sheet = roster_csv.read(str(path), text, tuple(Person.model_fields), decimals)
    if not sheet.rows:
        raise BadFile("roster: nobody is in it", str(path), "give each person a line")
    people = [_person(sheet, row) for row in sheet.rows]
    if found := twice(people):
        place, key, what = found
        where = sheet.at(sheet.rows[place].line, key)
        raise BadFile(f"roster: {what}", where, "correct one of them")

    def cylinder_at(place: int) -> str:
        return sheet.at(sheet.rows[place].line, "cylinder")

    return _with_cylinders(Roster(people=tuple(people)), own_cylinders, cylinder_at)


def _person(sheet: Sheet, row: Row) -> Person:
    try:
        return Person.model_validate(row.cells)
    except ValidationError as error:
        fault = error.errors(include_url=False)[0]
        column = str(fault["loc"][0]) if fault["loc"] else ""
        said = fault["msg"].removeprefix("Value error, ")
        what = "a name is missing" if fault["type"] == "missing" else said[:1].lower() + said[1:]
        to_do = _WANTED.get(column, "correct that line")
        raise BadFile(f"roster: {what}", sheet.at(row.line, column), to_do) from None
