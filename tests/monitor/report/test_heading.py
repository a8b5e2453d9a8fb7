from dataclasses import replace
from datetime import UTC

from monitor.incident.incident import FOLD_VERSION
from monitor.report.heading import CAUTION, about, heading, use_word
from monitor.report.reading import Told


def test_exercise_and_caution_stand_on_top(golden: Told) -> None:
    """2023-11-14 22:13:20 is the golden journal's opening; it tells for 610 s."""
    lines = list(heading(golden, UTC))
    assert lines[0] == "Kiln Lane, entry A  EXERCISE"
    assert lines[1] == (
        "2023-11-14 22:13:20 to 2023-11-14 22:23:30 +00:00, not closed: told up to here"
    )
    assert lines[2] == f"recorded by golden, version {FOLD_VERSION} of the rules"
    assert lines[3] == CAUTION
    assert "not a certified safety device" in CAUTION


def test_a_real_one_says_so(golden: Told) -> None:
    real = replace(golden, header=golden.header.model_copy(update={"use": "real"}))
    assert use_word(real) == "REAL"


def test_other_rules_than_the_recorders_are_said(golden: Told) -> None:
    older = replace(golden, header=golden.header.model_copy(update={"fold": 77}))
    assert (
        f"version 77 of the rules, told here by version {FOLD_VERSION}"
        in list(heading(older, UTC))[2]
    )


def test_the_same_as_fields(golden: Told) -> None:
    told = about(golden)
    assert (told["name"], told["use"], told["closed"]) == ("Kiln Lane", "exercise", False)
    assert told["digest"] == golden.last.digest.hex()
