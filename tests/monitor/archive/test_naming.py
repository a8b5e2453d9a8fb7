"""What people call an incident, and which one that is."""

from pathlib import Path

import pytest

from monitor.archive.naming import meant
from monitor.archive.survey import Entry, State


def entry(file: str, name: str, state: State = State.CLOSED) -> Entry:
    return Entry(Path(f"/incidents/{file}.journal"), state, 1, name=name)


ENTRIES = [
    entry("2026-03-16-0900-incident", "", State.HALF_MADE),
    entry("2026-03-15-1010-kiln-lane", "Kiln Lane"),
    entry("2026-03-14-1530-night-ferry", "Night Ferry"),
    entry("drill", "Mill, second floor"),
    entry("mill", "Upper Mill"),
]
"""Last changed first, as the list has them."""


@pytest.mark.parametrize(
    ("said", "files"),
    [
        ("Kiln Lane", ["2026-03-15-1010-kiln-lane"]),
        ("kiln-lane", ["2026-03-15-1010-kiln-lane"]),
        ("KILN_lane.journal", ["2026-03-15-1010-kiln-lane"]),
        ("ferry", ["2026-03-14-1530-night-ferry"]),
        ("1530", ["2026-03-14-1530-night-ferry"]),
        ("2026-03-16", ["2026-03-16-0900-incident"]),
        # A whole name comes before a part of another.
        ("mill", ["mill"]),
        ("last", ["2026-03-15-1010-kiln-lane"]),
        ("ill", ["drill", "mill"]),
        ("nowhere", []),
        ("", []),
        ("-", []),
    ],
)
def test_what_is_said_fits_these(said: str, files: list[str]) -> None:
    assert [found.path.stem for found in meant(said, ENTRIES)] == files


def test_a_part_fits_nothing_where_something_may_be_meant_to_begin() -> None:
    assert meant("ferry", ENTRIES, whole=True) == []
    assert [found.path.stem for found in meant("night ferry", ENTRIES, whole=True)] == [
        "2026-03-14-1530-night-ferry"
    ]


def test_an_incident_that_is_called_last_is_meant_by_its_name() -> None:
    called = entry("old", "Last")
    assert meant("last", [*ENTRIES, called]) == [called]


def test_of_no_incident_there_is_no_last() -> None:
    assert meant("last", []) == []
    assert meant("last", ENTRIES[:1]) == []
