import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.incident.listening import DEAF_SPELLS_MAX, Listening

spells = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 20)).map(lambda s: (s[0], s[0] + s[1])), max_size=8
)


def told(pairs: list[tuple[int, int]]) -> Listening:
    listening = Listening()
    for from_ns, to_ns in pairs:
        listening.deaf(from_ns, to_ns)
    return listening


@pytest.mark.parametrize(
    ("pairs", "since", "until", "listened"),
    [
        ([], 0, 10, 10),
        ([(3, 5)], 0, 10, 8),
        ([(3, 5)], 4, 10, 5),
        ([(3, 5)], 0, 4, 3),
        ([(3, 5)], 5, 10, 5),
        ([(3, 5), (5, 7)], 0, 10, 6),
        ([(5, 7), (3, 6)], 0, 10, 6),
        ([(3, 9), (4, 5)], 0, 10, 4),
        ([(3, 3), (5, 4)], 0, 10, 10),
        ([(1, 2), (4, 5), (7, 8), (0, 9)], 0, 10, 1),
    ],
)
def test_time_listened_to(
    pairs: list[tuple[int, int]], since: int, until: int, listened: int
) -> None:
    assert told(pairs).listened_ns(since, until) == listened


@settings(max_examples=200, deadline=None)
@given(spells, st.integers(0, 50), st.integers(0, 50))
def test_agrees_with_counting_instant_by_instant(
    pairs: list[tuple[int, int]], since: int, span: int
) -> None:
    listening = told(pairs)
    heard = [not any(a <= t < b for a, b in pairs) for t in range(200)]
    assert listening.listened_ns(since, since + span) == sum(heard[since : since + span])
    due = listening.due_ns(since, span)
    assert listening.listened_ns(since, due) == span
    if span:
        assert listening.listened_ns(since, due - 1) == span - 1


def test_the_oldest_spells_are_forgotten_beyond_the_limit() -> None:
    listening = told([(n * 10, n * 10 + 1) for n in range(DEAF_SPELLS_MAX + 2)])
    assert listening.listened_ns(0, 25) == 24
    end = DEAF_SPELLS_MAX * 10
    assert listening.listened_ns(end, end + 20) == 18
