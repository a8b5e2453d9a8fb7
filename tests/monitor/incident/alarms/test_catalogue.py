from dataclasses import replace

import pytest

from monitor.incident.alarms.catalogue import (
    CATALOGUE,
    Kind,
    Scope,
    digest,
    in_scope,
    line_word,
    row_word,
)
from monitor.incident.picture import Phase, Priority
from monitor.incident.procedure import TO_DO_MAX
from tests.monitor.incident.alarms.alarms_page import PAGE, page

ROW_WORD_MAX = 13
"""Columns of the state word on the board at 80 columns."""
WORD_MAX = 17
"""Sign, word and blanks take 20 columns of an alarm line; the rest is for who and where."""


def test_every_alarm_has_its_row() -> None:
    assert set(CATALOGUE) == set(Kind)


@pytest.mark.parametrize("kind", Kind)
def test_every_row_is_rationalised(kind: Kind) -> None:
    entry = CATALOGUE[kind]
    for text in (entry.raised, entry.clears, entry.to_do, entry.consequence, entry.source):
        assert text
    assert max(len(entry.to_do), len(entry.to_do_out)) <= TO_DO_MAX
    assert len(entry.row_word) <= ROW_WORD_MAX
    assert len(entry.word) <= WORD_MAX


def test_no_word_names_two_alarms() -> None:
    assert len({entry.word for entry in CATALOGUE.values()}) == len(CATALOGUE)


def test_the_page_is_the_one_of_the_catalogue() -> None:
    """Stale? ``python -m tests.monitor.incident.alarms.alarms_page`` writes it anew."""
    assert PAGE.read_text(encoding="utf-8") == page()


def test_the_page_draws_every_way_between_two_states() -> None:
    """Spot checks by the standard's diagram: B -ack-> C, B -return-> D or E, F -reset-> A."""
    text = page()
    for arrow in ("B --> C: acknowledged", "B --> D: condition ends", "shown --> G: shelved"):
        assert f"    {arrow}\n" in text
    assert "B --> E: condition ends, latches" in text
    assert "F --> A: reset, latches" in text


# IEC 62682 leaves it to the rationalisation what may be shelved. Ours: distress, motion, low air,
# overdue, and whatever may stand for one of them, never.
NEVER_ASIDE = {
    Kind.DISTRESS, Kind.MOTION_ALARM, Kind.STILL_THEN_SILENT, Kind.PRE_ALARM, Kind.LOW_AIR,
    Kind.OVERDUE, Kind.UNPROVEN_DISTRESS,
}  # fmt: skip


def test_what_may_never_be_put_aside() -> None:
    assert not any(CATALOGUE[kind].may_be_shelved for kind in NEVER_ASIDE)
    for kind, entry in CATALOGUE.items():
        if entry.priority is Priority.DANGER:
            assert not entry.may_be_shelved, kind


def test_what_latches_is_a_danger() -> None:
    latching = {kind for kind, entry in CATALOGUE.items() if entry.latches}
    assert latching == {
        Kind.DISTRESS,
        Kind.MOTION_ALARM,
        Kind.STILL_THEN_SILENT,
        Kind.LOSS_OF_PRESSURE,
        Kind.TIME_UNKNOWN,
        Kind.UNPROVEN_DISTRESS,
    }
    assert all(CATALOGUE[kind].priority is Priority.DANGER for kind in latching)


UNDER_AIR = {Phase.ON_AIR, Phase.ENTERED, Phase.OUT}


@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize("phase", [*Phase, None])
def test_the_scope_of_every_alarm_in_every_phase(kind: Kind, phase: Phase | None) -> None:
    expected = {
        Scope.ANY: True,
        Scope.BASE: True,
        Scope.UNDER_AIR: phase in UNDER_AIR,
        Scope.ENTERED: phase is Phase.ENTERED,
        Scope.NOT_OUT: phase in {Phase.ON_AIR, Phase.ENTERED},
        Scope.OFF_AIR: phase is Phase.OFF_AIR,
        Scope.NOTED_OUT: phase in {Phase.OUT, Phase.OFF_AIR},
        Scope.NOT_JOINED: phase is None,
        Scope.CHECKED_IN: phase is Phase.CHECKED_IN,
        Scope.AT_DOOR: phase in {Phase.CHECKED_IN, Phase.ON_AIR},
    }
    assert in_scope(kind, phase) is expected[CATALOGUE[kind].scope]


def test_words_are_capitals_for_danger_and_caution_only() -> None:
    assert line_word(Kind.PRE_ALARM, Priority.NOTICE) == "motion pre-alarm"
    assert line_word(Kind.PRE_ALARM, Priority.CAUTION) == "MOTION PRE-ALARM"
    assert row_word(Kind.DISTRESS, Priority.DANGER) == "DISTRESS"
    assert row_word(Kind.BATTERY_LOW, Priority.NOTICE) == "battery low"


def test_the_digest_tells_one_catalogue_from_another() -> None:
    rows = tuple(CATALOGUE.values())
    assert digest(rows) == digest()
    assert len(bytes.fromhex(digest())) == 32  # SHA-256 (FIPS 180-4)
    other = (replace(rows[0], to_do="Wait."), *rows[1:])
    assert digest(other) != digest()
