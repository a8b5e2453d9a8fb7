import pytest

from monitor.incident.alarms.catalogue import CATALOGUE, Kind, Scope, in_scope, line_word, row_word
from monitor.incident.picture import Phase, Priority

ROW_WORD_MAX = 13
"""Columns of the state word on the board at 80 columns."""


def test_every_alarm_has_its_row() -> None:
    assert set(CATALOGUE) == set(Kind)


@pytest.mark.parametrize("kind", Kind)
def test_every_row_is_rationalised(kind: Kind) -> None:
    entry = CATALOGUE[kind]
    for text in (entry.raised, entry.clears, entry.to_do, entry.consequence, entry.source):
        assert text
    assert entry.respond_within
    assert len(entry.row_word) <= ROW_WORD_MAX


def test_what_may_never_be_put_aside() -> None:
    # IEC 62682 leaves it to the rationalisation: these five are never shelved.
    for kind in (Kind.DISTRESS, Kind.MOTION_ALARM, Kind.STILL_THEN_SILENT, Kind.LOW_AIR):
        assert not CATALOGUE[kind].may_be_shelved


def test_what_latches_is_a_danger() -> None:
    latching = {kind for kind, entry in CATALOGUE.items() if entry.latches}
    assert latching == {
        Kind.DISTRESS,
        Kind.MOTION_ALARM,
        Kind.STILL_THEN_SILENT,
        Kind.TIME_UNKNOWN,
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
    }
    assert in_scope(kind, phase) is expected[CATALOGUE[kind].scope]


def test_words_are_capitals_for_danger_and_caution_only() -> None:
    assert line_word(Kind.PRE_ALARM, Priority.NOTICE) == "motion pre-alarm"
    assert line_word(Kind.PRE_ALARM, Priority.CAUTION) == "MOTION PRE-ALARM"
    assert row_word(Kind.DISTRESS, Priority.DANGER) == "DISTRESS"
    assert row_word(Kind.BATTERY_LOW, Priority.NOTICE) == "battery low"
