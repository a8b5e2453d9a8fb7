from collections.abc import Callable
from typing import TYPE_CHECKING

from monitor.report.blocks import Chart, Facts, Heading, Section, Table, Text
from monitor.report.html import Page, page

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead

NASTY = "<b>&\"'</b>"


def made(*blocks: object, exercise: bool = True) -> str:
    section = Section("one", f"One {NASTY}", blocks)  # type: ignore[arg-type]
    content = Page(f"Kiln {NASTY}", "EXERCISE", exercise, NASTY, NASTY, (section,))
    return "".join(page(content))


def test_every_text_is_escaped(parse: "Callable[[str], PageRead]") -> None:
    rows = ((NASTY, NASTY),)
    text = made(
        Text(NASTY), Text(NASTY, strong=True), Heading(NASTY, "here"), Facts(NASTY, rows),
        Table(NASTY, (NASTY, NASTY), rows), Table(NASTY, ("a",), (), NASTY),
    )  # fmt: skip
    assert "<b>" not in text
    read = parse(text)
    assert read.table(NASTY) == [{NASTY: NASTY}]
    assert read.facts(NASTY) == {NASTY: NASTY}
    assert f"{NASTY}: {NASTY}" in read.words()


def test_each_printed_page_has_the_name_of_the_incident() -> None:
    """Whatever is no letter stands by its number, so that no name ends the style."""
    text = made(Text("x"))
    style = text[text.index("<style>") : text.index("</style>")]
    name = "Kiln \\00003cb\\00003e\\000026\\000022\\000027\\00003c\\00002fb\\00003e"
    assert f'content: "{name}"' in style


def test_a_table_says_what_each_cell_belongs_to(parse: "Callable[[str], PageRead]") -> None:
    read = parse(made(Table("Who", ("name", "age"), (("A", "1"), ("B", "2")))))
    assert [cell.get("scope") for cell in read.all("th")] == ["col", "col", "row", "row"]


def test_a_drawing_stands_as_it_is() -> None:
    assert "<figure>\n<svg>x</svg>\n</figure>" in made(Chart("<svg>x</svg>"))


def test_use_stands_on_top_at_every_part_and_at_the_end() -> None:
    text = made(Text("x"))
    assert text.count('<p class="use">EXERCISE</p>') == 2
    assert '<span class="tag">EXERCISE</span>' in text
    assert '@top-center { content: "EXERCISE"' in text
    assert '<body class="exercise">' in text
    assert '<body class="real">' in made(exercise=False)


def test_the_contents_lead_to_every_part(parse: "Callable[[str], PageRead]") -> None:
    read = parse(made(Text("x")))
    names = {element.get("id") for element in read.root.iter()}
    assert [link.get("href") for link in read.all("a")] == ["#one"]
    assert "one" in names


def test_a_part_is_made_when_it_is_asked_for() -> None:
    asked: list[int] = []

    def blocks() -> object:
        asked.append(1)
        yield Text("x")

    section = Section("one", "One", blocks())  # type: ignore[arg-type]
    pieces = page(
        Page("t", "EXERCISE", exercise=True, subtitle="", caution="", sections=(section,))
    )
    next(pieces)
    assert asked == []
    assert "x" in "".join(pieces)
