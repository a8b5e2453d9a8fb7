"""A screen as a drawing, read back cell by cell."""

from xml.etree import ElementTree as ET

from monitor.report.screen_picture import CELL_HIGH, CELL_WIDE, Ink, screen_picture

SVG = "{http://www.w3.org/2000/svg}"
PLAIN, ALARM = Ink("#000000", "#ffffff"), Ink("#ffffff", "#b3001b", bold=True)


def drawn(*lines: object) -> ET.Element:
    return ET.fromstring(screen_picture(lines, 20, "#ffffff", 'a "b" <c>'))  # type: ignore[arg-type]  # noqa: S314 - our own


def cells(root: ET.Element) -> dict[tuple[int, int], str]:
    """By row and column of its first letter: each piece of text, as wide as its letters."""
    found = {}
    for one in root.iter(f"{SVG}text"):
        text = one.text or ""
        assert float(one.get("textLength") or 0) == len(text) * CELL_WIDE
        place = int(float(one.get("y") or 0) // CELL_HIGH), float(one.get("x") or 0) / CELL_WIDE
        found[place[0], round(place[1])] = text
    return found


def test_every_word_stands_in_its_column() -> None:
    root = drawn([("ok    Alpha 1-1", PLAIN), ("   12", PLAIN)], [], [("  <&>", PLAIN)])
    assert cells(root) == {(0, 0): "ok", (0, 6): "Alpha 1-1", (0, 18): "12", (2, 2): "<&>"}
    assert root.get("viewBox") == f"0 0 {20 * CELL_WIDE:g} {3 * CELL_HIGH:g}"
    assert root.get("aria-label") == 'a "b" <c>'


def test_a_block_has_its_own_ground_as_wide_as_its_text() -> None:
    root = drawn([("a ", PLAIN), (" LOW AIR ", ALARM)])
    boxes = [one for one in root.iter(f"{SVG}rect") if one.get("fill") == ALARM.ground]
    assert [(box.get("x"), box.get("width")) for box in boxes] == [
        (f"{2 * CELL_WIDE:g}", f"{9 * CELL_WIDE:g}")
    ]
    (word,) = [one for one in root.iter(f"{SVG}text") if one.text == "LOW AIR"]
    assert (word.get("fill"), word.get("font-weight")) == (ALARM.text, "bold")
