import re
from collections.abc import Callable
from datetime import UTC
from itertools import pairwise
from typing import TYPE_CHECKING

from monitor.incident import events
from monitor.report.reading import Told
from monitor.report.report_page import MAKERS, report

if TYPE_CHECKING:
    from tests.monitor.report.conftest import PageRead, Tale

STANDARDS = {"ISA", "EEMUA", "ISO", "WAC", "NFPA", "CFR", "BS", "EN", "RFC", "FW", "DV", "NIST"}
"""Names of standards and of those who make them; what they stand for is in their own text."""


def test_caution_and_use_come_before_everything(golden_page: "PageRead") -> None:
    words = golden_page.words()
    assert words.index("EXERCISE") < words.index("Kiln Lane")
    assert words.index("not a certified safety device") < words.index("Summary")


def test_every_part_is_there_once(golden_page: "PageRead") -> None:
    parts = [section.get("id") for section in golden_page.all("section")]
    assert len(parts) == len(set(parts)) == len(MAKERS)


def test_no_name_is_given_twice(evening_page: "PageRead") -> None:
    names = [name for element in evening_page.root.iter() if (name := element.get("id"))]
    assert len(names) == len(set(names))


def test_every_link_leads_somewhere_in_the_page(evening_page: "PageRead") -> None:
    names = {element.get("id") for element in evening_page.root.iter()}
    for element in evening_page.root.iter():
        for attribute, value in element.attrib.items():
            if attribute.endswith(("href", "src")):
                assert value[0] == "#"
                assert value[1:] in names
    assert set(re.findall(r"url\((.)", evening_page.text)) <= {"#"}
    assert "@import" not in evening_page.text


def test_nothing_runs_in_it(evening_page: "PageRead") -> None:
    assert evening_page.all("script") == []
    for element in evening_page.root.iter():
        assert not [name for name in element.attrib if name.lower().startswith("on")]


def test_every_drawing_says_what_it_shows(evening_page: "PageRead") -> None:
    drawings = [e for e in evening_page.root.iter() if e.tag.endswith("}svg")]
    assert len(drawings) == 1 + 2  # crews, and two wears
    assert all(len(d.get("aria-label") or "") > 40 for d in drawings)
    assert all(d.get("role") == "img" for d in drawings)


def test_every_table_has_a_caption_and_its_heads(evening_page: "PageRead") -> None:
    for table in evening_page.all("table"):
        assert [e for e in table.iter() if e.tag.endswith("}caption")]
        heads = [e for e in table.iter() if e.tag.endswith("}th")]
        assert heads
        assert all(e.get("scope") in ("col", "row") for e in heads)


def test_headings_go_down_step_by_step(evening_page: "PageRead") -> None:
    steps = [int(e.tag[-1]) for e in evening_page.root.iter() if re.search(r"\}h[1-6]$", e.tag)]
    assert steps[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(steps))


def test_abbreviations_are_written_out(golden_page: "PageRead") -> None:
    """Records other than the board are written in full (national guidance on records)."""
    spoken = re.sub(r"[A-Z][A-Z, ]+[A-Z]{4,}[A-Z ]*", " ", golden_page.words())  # alarms, EXERCISE
    found = set(re.findall(r"\b[A-Z]{2,6}\b", spoken)) - STANDARDS
    assert found <= {"LOW", "AIR", "NO", "MOTION", "DUE", "BACK", "TURN", "FEW", "BY", "TOO"}
    assert not re.search(r"\b(approx|incl|resp|temp|qty)\b", spoken.lower())


def test_names_cannot_change_the_page(evening_page: "PageRead") -> None:
    assert "Q. <Stamp> & $on$" in evening_page.words()
    assert evening_page.all("stamp") == []


def test_a_real_incident_says_so(
    tale: "Tale", tell: "Callable[..., Told]", read_page: "Callable[[Told], PageRead]"
) -> None:
    page = read_page(tell(tale, 5, use="real"))
    assert page.words().count("REAL INCIDENT") >= len(MAKERS)
    assert page.all("body")[0].get("class") == "real"
    assert "EXERCISE" not in page.words()


def test_an_incident_in_which_nothing_happened(
    tale: "Tale", tell: "Callable[..., Told]", read_page: "Callable[[Told], PageRead]"
) -> None:
    page = read_page(tell(tale, 5))
    assert "Nobody connected to air." in page.words()
    assert "Each stay on air: nobody connected to air" in page.words()


def test_the_same_journal_gives_the_same_page(tale: "Tale", tell: "Callable[..., Told]") -> None:
    tale.person(1)
    tale.act(1, events.Connect, wearers=(1,), pressure_bar=290)
    told = tell(tale, 60)
    assert "".join(report(told, UTC)) == "".join(report(told, UTC))
