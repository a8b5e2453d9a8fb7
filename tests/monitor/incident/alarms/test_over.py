"""What an alarm says once its cause is over."""

import pytest

from monitor.incident.alarms import over
from monitor.incident.alarms.catalogue import CATALOGUE, Kind
from monitor.incident.picture import Phase
from monitor.incident.service_words import ROW_WORD_MAX


@pytest.mark.parametrize("kind", Kind)
@pytest.mark.parametrize("phase", [None, *Phase])
def test_it_says_first_that_it_is_over(kind: Kind, phase: Phase | None) -> None:
    said = over.words(kind, phase)
    assert said.startswith("Over")
    assert CATALOGUE[kind].to_do not in said
    assert len(said) <= 56, "beside the key that takes it, on 80 columns"


@pytest.mark.parametrize("kind", [kind for kind in Kind if CATALOGUE[kind].latches])
def test_of_what_latches_something_is_left_to_do(kind: Kind) -> None:
    told = over.words(kind, Phase.ENTERED).count(".")
    assert told == 2 or not over.is_over(kind, condition=False)


def test_what_told_of_a_moment_is_never_over() -> None:
    assert not over.is_over(Kind.TIME_UNKNOWN, condition=False)
    assert not over.is_over(Kind.STILL_THEN_SILENT, condition=False)
    assert over.is_over(Kind.DISTRESS, condition=False)
    assert not over.is_over(Kind.DISTRESS, condition=True)


def test_whoever_is_out_is_not_called_out() -> None:
    assert over.words(Kind.LOW_AIR, Phase.OFF_AIR) == "Over: off air."
    assert over.words(Kind.NO_SIGNAL, Phase.OUT) == "Over: noted out."
    assert over.words(Kind.DISTRESS, Phase.OFF_AIR) == "Over: off air. See that they are well."
    set_left = over.words(Kind.LOSS_OF_PRESSURE, Phase.OFF_AIR)
    assert set_left == "Over: off air. Have the set seen to before it is used."


@pytest.mark.parametrize("kind", Kind)
def test_the_word_of_a_line_that_is_over_fits_it_and_says_so(kind: Kind) -> None:
    word = over.row(kind)
    assert word.startswith("over")
    assert len(word) <= ROW_WORD_MAX
    if CATALOGUE[kind].latches and over.is_over(kind, condition=False):
        assert word != "over"
