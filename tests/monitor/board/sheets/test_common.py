"""Who is meant, when it was, and pressures that cannot be: as typed on a sheet."""

from dataclasses import replace
from datetime import UTC
from typing import Any

import pytest

from monitor.board.sheets.common import (
    Context,
    find_wearer,
    find_wearers,
    picks,
    pressure_field,
    unit_of,
    when_ns,
    who_field,
    why_no_reading,
)
from monitor.board.sheets.forms import Refused

S = 1_000_000_000
MINUTE = 60 * S


@pytest.fixture
def context(scenes: Any) -> Context:
    return Context(scenes.quiet(), zone=UTC)


@pytest.mark.parametrize("said", ["3", "Alpha 2-1", "alpha2-1", " ALPHA 2-1 ", "Wearer 3"])
def test_a_number_a_sign_or_a_name_from_a_tally(context: Context, said: str) -> None:
    found = find_wearer(context.picture, said)
    assert found is not None
    assert found.wearer == 3


@pytest.mark.parametrize("said", ["", "99", "Alpha", "²", "9" * 400])
def test_an_unknown_tally_is_nobody(context: Context, said: str) -> None:
    assert find_wearer(context.picture, said) is None


def test_a_name_that_two_have_is_nobody(context: Context) -> None:
    one, other, *rest = context.picture.wearers
    both = replace(
        context.picture,
        wearers=(replace(one, name="J. Kerf"), replace(other, name="J. Kerf"), *rest),
    )
    assert find_wearer(both, "J. Kerf") is None


@pytest.mark.parametrize(
    ("said", "found"),
    [
        ("3", (3,)),
        ("3 4", (3, 4)),
        ("4, 3,3", (3, 4)),
        ("crew 3", (3, 4)),
        ("crew Alpha 2-1, 8", (3, 4, 8)),
        ("Alpha 1-1; Alpha 4-2", (1, 8)),
    ],
)
def test_several_by_commas_blanks_and_crews(context: Context, said: str, found: Any) -> None:
    assert find_wearers(context.picture, said) == found


def test_who_is_unknown_is_named(context: Context) -> None:
    assert "nobody on the board is 99" in find_wearers(context.picture, "3, 99")
    assert "nobody on the board is meant" in find_wearers(context.picture, "3,,4")


def test_nobody_is_asked_for_where_somebody_is_chosen(context: Context) -> None:
    assert who_field(replace(context, chosen=(3,))) == ()
    (field,) = who_field(context, one=True)
    assert field.check("3 4", {}) == "one wearer at a time"
    assert field.check("3", {}) == ""


# ---------------------------------------------------------------- when

# The scene stands at 14:32:07, 1,500 s after it was opened: so at 14:07:07.


@pytest.mark.parametrize(
    ("said", "ago_s"),
    [("5", 300), ("0", 0), ("25", 1_500), ("1432", 7), ("14:30", 127), ("14.08", 1_447)],
)
def test_minutes_ago_or_a_time_of_day(context: Context, said: str, ago_s: int) -> None:
    assert when_ns(said, context) == context.picture.t - ago_s * S


def test_a_time_counts_from_when_the_sheet_is_done(context: Context) -> None:
    """From when it was opened, five minutes ago was ten, and 14:35 was that of the day before."""
    later = replace(
        context.picture,
        t=context.picture.t + 5 * MINUTE,
        wall_ns=context.picture.wall_ns + 5 * MINUTE,
    )
    done = replace(context, now=lambda: later)
    assert when_ns("5", done) == context.picture.t
    # It is 14:37:07 by now: 127 s after 14:35.
    assert when_ns("1435", done) == later.t - 127 * S


def test_nothing_is_now(context: Context) -> None:
    assert when_ns("  ", context) is None


@pytest.mark.parametrize(
    "said",
    [
        "26",
        "1406",
        "1433",
        "2561",
        "9999",
        "721",
        "abc",
        "-3",
        "²",
        "630",
        "6:3",
        "1.5",
        "14:5",
        "14 05",
        "14:055",
        "25:00",
    ],
)
def test_no_such_time(context: Context, said: str) -> None:
    """Before the opening; yet to come, so of the day before; no time at all.

    Three digits could be half past six or so many minutes: "6:30" was taken for 630 minutes.
    """
    assert isinstance(when_ns(said, context), Refused)


# ---------------------------------------------------------------- pressures


@pytest.mark.parametrize(("bar", "well"), [(0, True), (300, True), (330, True), (331, False)])
def test_a_warm_cylinder_may_show_a_tenth_over_its_rating(
    context: Context, bar: float, *, well: bool
) -> None:
    assert (why_no_reading(context.picture, (3,), bar) == "") is well


def test_above_the_rating_is_said_in_the_unit_of_the_gauge(context: Context) -> None:
    assert why_no_reading(context.picture, (3,), 350) == (
        "above the 300 bar that the cylinder of 3 is rated for"
    )
    one = replace(context.picture.wearers[2], unit="psi")
    psi = replace(context.picture, wearers=(one,))
    # 300 bar x 14.5038 = 4351.1 psi, rounded down.
    assert "4351 psi" in why_no_reading(psi, (3,), 350)
    assert why_no_reading(context.picture, (3,), 451) == "more than any gauge shows"


def test_psi_typed_for_bar_is_found_out(context: Context) -> None:
    """200 bar are 2901 psi: nobody's gauge shows 2901 bar."""
    field = pressure_field(replace(context, chosen=(3,)))
    assert field.check("2901", {}) == "more than any gauge shows"
    assert field.check("201", {}) == ""
    assert field.check("2o1", {}) == "a whole number of bar"


def test_the_unit_is_the_one_of_the_gauge(context: Context) -> None:
    assert unit_of(context, ()) == "bar"
    psi = replace(context.picture.wearers[0], unit="psi")
    mixed = Context(replace(context.picture, wearers=(psi, *context.picture.wearers[1:])))
    assert unit_of(mixed, (1,)) == "psi"
    assert unit_of(mixed, (2,)) == "bar"


def test_answers_have_a_digit_each_and_none_twice() -> None:
    assert picks(["a", "", "a", "b"]) == ("a", "b")
    assert picks([str(n) for n in range(20)]) == tuple(str(n) for n in range(9))
