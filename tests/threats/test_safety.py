"""SAFETY.md says what is tested, and its figures are right."""

import re
from fractions import Fraction
from pathlib import Path

import pytest

from monitor.incident.alarms.catalogue import Kind as AlarmKind
from monitor.incident.rows import Standing
from protocol import delays, fields, freshness
from protocol.rejects import Reject
from tests.threats import codes

FOLDER = Path(__file__).parent
THREATS = (
    "Repetition", "Deletion", "Insertion", "Re-sequencing", "Corruption", "Delay", "Masquerade",
)  # fmt: skip
"""EN 50159, in its order."""
STATUS_BYTES = fields.REPORT_BYTES + fields.TAG_BYTES + fields.CHECKSUM_BYTES
FRAMES_AN_HOUR = 100 * 3_600
SECONDS_A_YEAR = 365.25 * 86_400


@pytest.fixture(scope="module")
def page() -> str:
    return (FOLDER.parents[1] / "protocol" / "SAFETY.md").read_text("utf-8")


@pytest.fixture(scope="module")
def text(page: str) -> str:
    """The page as running words."""
    return " ".join(page.split())


def section(page: str, heading: str) -> str:
    found = re.search(
        rf"^#+ {re.escape(heading)}\n(.*?)(?=^#+ |\Z)", page, re.MULTILINE | re.DOTALL
    )
    assert found, heading
    return found[1]


def table(text: str) -> list[list[str]]:
    """The cells of a section's only table, without its head."""
    rows = [line for line in text.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in row.strip("|").split("|")] for row in rows[2:]]


def test_the_threats_are_the_seven_in_their_order(page: str) -> None:
    assert tuple(re.findall(r"^## (.*)$", page, re.MULTILINE))[:7] == THREATS


@pytest.mark.parametrize("threat", THREATS)
def test_every_test_of_a_threat_is_named_and_every_test_named_exists(
    page: str, threat: str
) -> None:
    file = FOLDER / f"test_{threat.lower().replace('-', '')}.py"
    written = re.findall(r"^def (test_\w+)", file.read_text("utf-8"), re.MULTILINE)
    assert re.findall(r"`(test_\w+)`", section(page, threat)) == written


def test_every_file_of_this_folder_is_a_threat_or_this() -> None:
    names = {f"test_{threat.lower().replace('-', '')}" for threat in THREATS} | {"test_safety"}
    assert {path.stem for path in FOLDER.glob("test_*.py")} == names


def test_every_defence_names_its_field_and_what_it_is_counted_as(page: str) -> None:
    known = {field.name for kind in fields.FIELDS_BY_KIND.values() for field in kind}
    known |= {"tag", "checksum", "delimiter", "whole frame", "all", "length", "ranges"}
    for threat in THREATS:
        rows = table(section(page, threat))
        assert len(rows) >= 3
        for _, names, way, is_open, counted in rows:
            assert set(names.split(", ")) <= known
            assert way in {"up", "down", "both"}
            assert is_open in {"yes", "no"}
            assert counted


def test_every_name_that_is_counted_exists(page: str) -> None:
    known = {reason.name for reason in Reject} | {standing.name for standing in Standing}
    for threat in THREATS:
        rows = table(section(page, threat))
        named = {name for row in rows for name in re.findall(r"\b[A-Z][A-Z_]{2,}\b", row[4])}
        assert named <= known
    alarms = {name for name in re.findall(r"alarm (\w+) ", page) if "_" in name}
    assert alarms == {"no_signal", "clock_wrong"} <= {kind.value for kind in AlarmKind}


def test_the_page_is_linked_from_the_format() -> None:
    assert "](SAFETY.md)" in (FOLDER.parents[1] / "protocol" / "PACKET-FORMAT.md").read_text(
        "utf-8"
    )


def test_what_the_checksum_lets_through(page: str, text: str) -> None:
    bits = STATUS_BYTES * 8
    four = codes.undetected_of_weight_four(bits)
    assert f"status of {bits} bits, {four:,} pass" in text
    assert f"{FRAMES_AN_HOUR:,} frames an hour" in text
    rows = table(section(page, "The checksum, against noise"))
    assert [row[0] for row in rows] == ["1e-5", "1e-4", "1e-3", "1e-2", "0.5"]
    for name, *cells in rows:
        passed = codes.passes(bits, Fraction(name))
        an_hour = passed * FRAMES_AN_HOUR
        assert cells == [f"{float(x):.1e}" for x in (passed, an_hour, an_hour / 2**64)]
    # Two ways to one figure: at a low error rate nearly all that passes has weight four.
    low = Fraction("1e-5")
    leading = four * low**4 * (1 - low) ** (bits - 4)
    assert leading < codes.passes(bits, low) < leading * Fraction(1001, 1000)
    assert codes.passes(bits, Fraction(1, 2)) == Fraction(1, 2**16) - Fraction(1, 2**bits)


def test_odd_numbers_of_flips_are_found_since_x_plus_one_divides_the_polynomial() -> None:
    # A polynomial has the factor x + 1 if, and only if, it has an even number of terms.
    assert (0x10000 | codes.POLYNOMIAL).bit_count() % 2 == 0


def test_frames_lost_at_the_worst_error_rate(text: str) -> None:
    lost = 1 - 0.99 ** (STATUS_BYTES * 8)
    assert f"p = 1e-2 loses {lost:.0%}".replace("%", " %") in text


def test_what_random_frames_are_expected_to_do(text: str) -> None:
    assert f"of 400,000 frames of random bytes, {400_000 / 2**16:.1f} are expected" in text


def test_how_long_a_forger_needs(page: str, text: str) -> None:
    assert f"A tag has {fields.TAG_BYTES * 8} bits" in text
    on_the_line = STATUS_BYTES + 2
    assert f"{on_the_line} bytes a status" in text
    # 8N1: ten bits a byte.
    rates = (115_200 // 10 // on_the_line, 50_000)
    for row, rate in zip(table(section(page, "The tag, against forgery")), rates, strict=True):
        years = 2**64 / rate / SECONDS_A_YEAR
        a_day = rate * 86_400 / 2**64
        assert row[1:] == [f"{rate:,}", f"{years:.1e}", f"{a_day:.1e}"]


def test_what_a_recording_can_hit(text: str) -> None:
    (value,) = fields.BEACON
    assert f"A value has {value.size * 8} bits" in text
    recent = freshness.BEACON_RECENT_NS // freshness.BEACON_INTERVAL_NS
    assert f"{recent} are recent" in text
    frames = 3_600 // 5
    in_order, chosen = recent * frames / 2**32, frames * frames / 2**32
    assert f"{recent} x {frames} / 2^32 = {in_order:.1e}" in text
    assert f"{frames} x {frames} / 2^32 = {chosen:.1e}" in text


def test_the_limits_in_the_text(text: str) -> None:
    seconds = 1_000_000_000
    assert f"over {delays.HELD_LIMIT_NS // seconds} s late" in text
    assert f"beacon of the last {freshness.BEACON_RECENT_NS // seconds} s" in text
    assert f"at most {freshness.ORDER_WINDOW} back" in text
    assert f"and {freshness.ORDER_AGE_NS // seconds} s old" in text
    assert f"window of {freshness.WINDOW_WIDTH} numbers" in text
    assert f"{delays.DRIFT_PPM} parts in a million" in text


def test_what_is_not_defended_is_said(page: str) -> None:
    said = " ".join(re.findall(r"\*\*(.*?)\*\*", section(page, "What is not defended")))
    for word in ("Jamming", "Delay inside the window", "stolen base", "Selective dropping"):
        assert word in said
