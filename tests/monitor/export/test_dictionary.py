"""The page in the folder is made from the tables."""

from pathlib import Path

from monitor.export.dictionary import dictionary
from monitor.export.tables import TABLES, UNITS

PAGE = Path(__file__).parents[3] / "monitor" / "export" / "DATA-DICTIONARY.md"


def test_the_page_is_up_to_date() -> None:
    """Else make it anew, from the root of the project.

    python -c "from monitor.export.dictionary import dictionary; print(dictionary(), end='')" \
        > monitor/export/DATA-DICTIONARY.md
    """
    assert PAGE.read_text("utf-8") == dictionary()


def test_every_column_is_described() -> None:
    text = dictionary()
    for table in TABLES:
        section = text.split(f"\n## {table.name}\n")[1].split("\n## ")[0]
        for column in table.columns:
            unit = UNITS[column.unit] if column.unit else ""
            row = f"| `{column.name}` | {column.type} | {unit} | {column.meaning} |"
            assert row in section
