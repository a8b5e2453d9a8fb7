"""Procedures: the rules in force at an incident. A TOML file, read once, when one is opened.

Afterwards the journal holds the procedure in full: a file that changes later changes nothing about
an incident that was opened before.
"""

import shared
from monitor import data_files
from monitor.incident.procedure import Procedure

PROCEDURE_BYTES_MAX = 100_000
"""The longest procedure file; one is a page of values with their sources."""


def names() -> tuple[str, ...]:
    """Name the procedures that come with the program."""
    return shared.names("procedures")


def load(name_or_path: str) -> Procedure:
    """Read the procedure of that name, else the file at that path. Raises BadFile."""
    return data_files.load(Procedure, "procedure", name_or_path, PROCEDURE_BYTES_MAX)
