"""A place in a stream, found by halving: the same as by looking at each."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.relay.search import last_where
from tests.monitor.relay.memory_stream import MemoryStream


@given(st.lists(st.tuples(st.sampled_from("ab"), st.booleans()), max_size=40), st.booleans())
async def test_as_by_looking_at_each(kinds: list[tuple[str, bool]], in_order: bool) -> None:
    stream = MemoryStream()
    if in_order:
        kinds = sorted(kinds, key=lambda one: not one[1])
    for subject, right in kinds:
        stream.put(subject, b"1" if right else b"0")
    found = await last_where(stream, "a", lambda raw: raw == b"1")
    rights = [at for at, (subject, right) in enumerate(kinds, 1) if subject == "a" and right]
    if in_order:
        assert (found.seq if found else None) == (rights[-1] if rights else None)
    elif found is not None:
        assert found.seq in rights
