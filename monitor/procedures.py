"""Procedures: the rules in force at an incident. A TOML file, read once, when one is opened.

Afterwards the journal holds the procedure in full: a file that changes later changes nothing about
an incident that was opened before. ``PROCEDURES.md`` beside this says how to write one.
"""

import shared
from monitor import data_files
from monitor.errors import BadFile
from monitor.incident.alarms.catalogue import Kind
from monitor.incident.procedure import Procedure

PROCEDURE_BYTES_MAX = 100_000
"""The longest procedure file; one is a page of values with their sources."""


def names() -> tuple[str, ...]:
    """Name the procedures that come with the program."""
    return shared.names("procedures")


def load(name_or_path: str) -> Procedure:
    """Read the procedure of that name, else the file at that path. Raises BadFile."""
    rules = data_files.load(Procedure, "procedure", name_or_path, PROCEDURE_BYTES_MAX)
    for table, keys, known in (
        ("do", rules.do, [kind.value for kind in Kind]),
        ("sources", rules.sources, list(Procedure.model_fields)),
    ):
        for key in keys:
            if key not in known:
                raise _unknown(name_or_path, table, key, known)
    return rules


def _unknown(name_or_path: str, table: str, key: str, known: list[str]) -> BadFile:
    """Tell of a word that means nothing here: one that is silently not read is worse than none."""
    path, text = data_files.read("procedure", name_or_path, PROCEDURE_BYTES_MAX)
    kind = "alarm" if table == "do" else "value"
    where = data_files.at(path, text, (table, key))
    return BadFile(f"procedure: no such {kind}", where, "one of: " + ", ".join(known))
