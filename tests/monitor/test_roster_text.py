"""A roster that was written loads as what it was, in either form."""

import tomllib
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from monitor import roster, roster_text
from monitor.roster import Person, Roster
from tests.depth import examples

PRINTABLE = st.characters(exclude_categories=("C", "Zl", "Zp", "Zs"), include_characters=" ")


def words(least: int, most: int) -> st.SearchStrategy[str]:
    """Texts as a roster holds them: printable, blanks only inside."""
    texts = st.text(PRINTABLE, min_size=least, max_size=most).map(str.strip)
    return texts.filter(lambda text: len(text) >= least)


@st.composite
def persons(draw: st.DrawFn, place: int) -> Person:
    """One person; pack and call sign hold the place, so that nobody has them twice."""
    by_name: dict[str, Any] = {"cylinder": draw(st.sampled_from(["6.8/300", "2x4/200", "60/4500"]))}
    told = {
        "water_volume_l": draw(st.none() | st.floats(0.001, 30)),
        "rated_bar": draw(st.none() | st.floats(1, 450)),
    }
    return Person(
        name=draw(words(1, 60)),
        call_sign=draw(st.just("") | words(1, 15).map(lambda text: f"{place} {text}")),
        crew=draw(words(0, 20)),
        set_id=draw(st.sampled_from(["", f"S{place}"])),
        cylinder_id=draw(st.sampled_from(["", f"C{place}"])),
        leader=draw(st.booleans()),
        pack=draw(st.none() | st.just(place + 1)),
        apparatus=draw(st.sampled_from(["", "open circuit", "closed circuit", "airline"])),
        gauge=draw(st.sampled_from(["", "bar", "psi"])),
        **(draw(st.sampled_from([by_name, told]))),
    )


@st.composite
def rosters(draw: st.DrawFn) -> Roster:
    count = draw(st.integers(1, 4))
    people = tuple(draw(persons(place)) for place in range(count))
    return Roster(title=draw(words(0, 120)), people=people)


def looked_up(people: Roster, path: Path) -> Roster:
    """As loading gives it: cylinders by name are looked up then."""
    path.write_text(roster_text.toml(people), encoding="utf-8")
    return roster.load(str(path))


@given(written=rosters())
@settings(max_examples=examples(40), deadline=None)
def test_toml_loads_equal(written: Roster, tmp_path_factory: Any) -> None:
    folder = tmp_path_factory.mktemp("toml")
    assert Roster.model_validate(tomllib.loads(roster_text.toml(written))) == written
    loaded = looked_up(written, folder / "a.toml")
    assert looked_up(loaded, folder / "b.toml") == loaded


@given(written=rosters())
@settings(max_examples=examples(40), deadline=None)
def test_a_table_loads_equal_but_for_the_title(written: Roster, tmp_path_factory: Any) -> None:
    folder = tmp_path_factory.mktemp("csv")
    loaded = looked_up(written, folder / "a.toml")
    (folder / "a.csv").write_text(roster_text.table(loaded), encoding="utf-8", newline="")
    assert roster.load(str(folder / "a.csv")).people == loaded.people


def test_how_it_looks() -> None:
    people = Roster(
        title='The "old" works',
        people=(
            Person(name="A. Quoin", leader=True, pack=101, water_volume_l=6.8, rated_bar=300),
            Person(name="B\\C", cylinder="9/300", gauge="psi"),
        ),
    )
    assert roster_text.toml(people) == (
        'title = "The \\"old\\" works"\n'
        "\n"
        "[[people]]\n"
        'name = "A. Quoin"\n'
        "leader = true\n"
        "pack = 101\n"
        "water_volume_l = 6.8\n"
        "rated_bar = 300\n"
        "\n"
        "[[people]]\n"
        'name = "B\\\\C"\n'
        'cylinder = "9/300"\n'
        'gauge = "psi"\n'
    )
    assert roster_text.table(people).splitlines()[1:] == [
        "A. Quoin,,,yes,101,,,,6.8,300,,",
        "B\\C,,,,,,,9/300,,,,psi",
    ]


def test_no_cell_of_a_table_is_a_formula(tmp_path: Path) -> None:
    """OWASP, "CSV Injection": a single quote before =, +, -, @. Numbers are no text."""
    names = ("=HYPERLINK(1)", "+49 30", "-1", "@SUM(1)", "'=2", "'Abbas")
    people = tuple(Person(name=name, crew=name, pack=n) for n, name in enumerate(names, start=1))
    written = roster_text.table(Roster(people=people))
    assert [line.split(",")[0] for line in written.splitlines()[1:]] == [
        "'=HYPERLINK(1)", "'+49 30", "'-1", "'@SUM(1)", "''=2", "'Abbas",
    ]  # fmt: skip
    path = tmp_path / "people.csv"
    path.write_text(written, encoding="utf-8")
    assert roster.load(str(path)).people == people
