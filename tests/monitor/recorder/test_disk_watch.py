from dataclasses import replace

import pytest

from monitor.recorder.disk_watch import BEHIND_NO_MORE_NS, BEHIND_NS, DiskNow, DiskWatch

S = 1_000_000_000


def states(*looks: DiskNow, was_full: bool = False) -> list[str | None]:
    """What each look in turn says: the new state, or None for no change."""
    watch = DiskWatch()
    said = (watch.look(now, was_full=was_full) for now in looks)
    return [None if fact is None else fact.state for fact in said]


def test_a_disk_that_is_well_says_nothing() -> None:
    assert states(DiskNow(), DiskNow(behind_ns=BEHIND_NS)) == [None, None]


@pytest.mark.parametrize(
    ("now", "state", "detail"),
    [
        (DiskNow(gone="cut off"), "gone", "cut off: rows wait in memory"),
        (DiskNow(fault="the disk is full"), "failing", "full: rows wait in memory"),
        (DiskNow(waits_ns=3 * S, second="/x"), "waiting", "takes nothing: rows kept in /x"),
        (DiskNow(fault="no sync"), "failing", "no sync"),
        (DiskNow(behind_ns=7 * S), "behind", "7 s are not safe"),
        (DiskNow(reserve=False), "low", "no room for the reserve"),
    ],
)
def test_what_is_wrong_is_said_once(now: DiskNow, state: str, detail: str) -> None:
    watch = DiskWatch()
    fact = watch.look(now, was_full=False)
    assert fact is not None
    assert fact.state == state
    assert detail in fact.detail
    assert watch.look(now, was_full=False) is None
    well = watch.look(DiskNow(), was_full=False)
    assert well is not None
    assert well.state == "ok"


@pytest.mark.parametrize(
    "trouble", [DiskNow(gone="cut off"), DiskNow(fault="no room"), DiskNow(waits_ns=3 * S)]
)
def test_where_rows_are_is_told_again_once_it_is_another_place(trouble: DiskNow) -> None:
    """A disk that is full is found at once, the second place takes rows 0.3 s later."""
    watch = DiskWatch()
    for second, kept in (("", "rows wait in memory"), ("/x", "rows kept in /x")):
        now = replace(trouble, second=second)
        fact = watch.look(now, was_full=False)
        assert fact is not None
        assert kept in fact.detail
        assert watch.look(now, was_full=False) is None


def test_full_is_told_from_short_of_room() -> None:
    assert states(DiskNow(reserve=False), was_full=True) == ["full"]


def test_the_worse_comes_first() -> None:
    all_of_it = DiskNow(fault="no sync", gone="cut off", behind_ns=9 * S, reserve=False)
    assert states(all_of_it, was_full=True) == ["gone"]


def test_behind_does_not_flicker() -> None:
    over, between, under = BEHIND_NS + 1, BEHIND_NO_MORE_NS + 1, BEHIND_NO_MORE_NS
    looks = [DiskNow(behind_ns=ns) for ns in (between, over, between, under, between)]
    assert states(*looks) == [None, "behind", None, "ok", None]


def test_thinning_is_told_as_it_begins_and_how_much_it_was_once_it_is_over() -> None:
    watch, hung = DiskWatch(), DiskNow(waits_ns=3 * S, t=5 * S)
    first = watch.look(hung, was_full=False)
    assert first is not None
    assert (first.state, first.since_ns) == ("waiting", 2 * S)
    begun = watch.look(replace(hung, thinned=2), was_full=False)
    assert begun is not None
    assert begun.state == "waiting"
    assert "2 frames that said nothing new in short" in begun.detail
    assert watch.look(replace(hung, thinned=900), was_full=False) is None
    over = watch.look(DiskNow(thinned=1_234), was_full=False)
    assert over is not None
    assert (over.state, over.detail) == ("ok", "1234 frames that said nothing new in short")
    assert watch.look(DiskNow(thinned=1_234), was_full=False) is None
