import re
from pathlib import Path

from simulators.conformance.rules import RULES, Findings, Row, too_poor

PAGE = Path(__file__).parents[3] / "protocol" / "PACKET-FORMAT.md"


def test_every_rule_names_a_section_of_the_page() -> None:
    headings = set(re.findall(r"^#+ (.+)$", PAGE.read_text("utf-8"), re.MULTILINE))
    # "Base radio" and the rest are headings; nothing is cited that is not there.
    assert {rule.section for rule in RULES.values()} <= headings


def test_only_the_first_fault_is_kept_whole() -> None:
    findings = Findings(100)
    findings.kept("bits", "flags")
    findings.judge("bits", 150, "first", b"\x01")
    findings.judge("bits", 160, "second")
    findings.judge("flags", 170, "")
    rows = {row.name: row for row in findings.rows()}
    assert list(rows) == list(RULES)
    assert (rows["bits"].verdict, rows["bits"].seen, rows["bits"].faults) == ("failed", 1, 2)
    assert rows["bits"].first == (50, "first", b"\x01")
    assert (rows["flags"].verdict, rows["flags"].seen) == ("passed", 2)
    assert rows["late"].verdict == "not seen"


def failed(name: str, faults: int = 1, missed: int = 0) -> Row:
    return Row(name, RULES[name], "failed", 0, faults, None, missed)


def test_a_poor_link_excuses_what_lost_frames_bring_about_and_nothing_else() -> None:
    assert too_poor(0.011, [failed("copies"), failed("received"), failed("interval")])
    assert not too_poor(0.01, [failed("copies")]), "a link that is good enough"
    # A frame that came was wrong by itself, or answered what must not be answered.
    for name in ("tag", "number", "forged", "too far back"):
        assert not too_poor(0.3, [failed("copies"), failed(name)])
    # What did not come says nothing of that; where something did too, that counts.
    assert too_poor(0.3, [failed("beacon wrong", faults=2, missed=2)])
    assert not too_poor(0.3, [failed("beacon wrong", faults=2, missed=1)])


def test_what_did_not_come_is_a_fault_and_counted_apart() -> None:
    findings = Findings(0)
    findings.missed("beacon wrong", 7, "no receipt")
    findings.broken("beacon wrong", 8, "was taken", b"\x01")
    (row,) = [row for row in findings.rows() if row.name == "beacon wrong"]
    assert (row.verdict, row.faults, row.missed) == ("failed", 2, 1)
