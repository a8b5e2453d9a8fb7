"""Which journal is meant, and what is said of it at its end."""

import shutil
from pathlib import Path

import pytest

import shared
from monitor.cli import journals
from monitor.errors import BadJournal
from monitor.settings import Settings

GOLDEN = shared.path("journals", "kiln-lane.journal")


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    (tmp_path / "incidents").mkdir()
    return Settings(incidents_folder=str(tmp_path / "incidents"))


@pytest.mark.parametrize("said", ["one", "one.journal"])
def test_a_name_is_looked_for_in_the_incidents_folder(settings: Settings, said: str) -> None:
    path = settings.incidents_path / "one.journal"
    path.touch()
    assert journals.journal_at(Path(said), settings) == path


def test_a_path_comes_first(settings: Settings, tmp_path: Path) -> None:
    path = tmp_path / "elsewhere.journal"
    path.touch()
    assert journals.journal_at(path, settings) == path


def test_none_is_an_error(settings: Settings) -> None:
    with pytest.raises(BadJournal, match="no such journal: two: see outby incidents"):
        journals.journal_at(Path("two"), settings)


@pytest.mark.parametrize("said", ["one", "one.journal"])
def test_what_is_gone_on_with_is_looked_for_there_too(settings: Settings, said: str) -> None:
    """As ``outby incidents`` lists them, from whatever folder."""
    path = settings.incidents_path / "one.journal"
    path.touch()
    assert journals.journal_to_go_on(Path(said), settings) == path


def test_of_a_link_the_file_itself_is_meant(settings: Settings, tmp_path: Path) -> None:
    """Log and lock lie beside it: by the name of the link a recorder could not go on."""
    path = tmp_path / "one.journal"
    path.touch()
    (settings.incidents_path / "by-link.journal").symlink_to(path)
    assert journals.journal_at(Path("by-link"), settings) == path
    assert journals.journal_to_go_on(Path("by-link"), settings) == path


def test_one_that_is_not_there_is_made_where_it_was_said(settings: Settings) -> None:
    assert journals.journal_to_go_on(Path("two.journal"), settings) == Path("two.journal")


def test_the_digest_is_said_at_the_end(capsys: pytest.CaptureFixture[str]) -> None:
    journals.say_closed(GOLDEN)
    first, second = capsys.readouterr().out.splitlines()
    assert first == f"the incident is closed: {GOLDEN}"
    assert second.startswith("note down its digest, without a key, ")
    assert len(second.split()[-8:]) == 8


def test_a_journal_that_is_busy_says_how_to_see_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "busy.journal"
    journals.say_closed(path)
    assert f"see its digest by: outby verify {path}" in capsys.readouterr().out


def _two(settings: Settings) -> tuple[Path, Path]:
    """The recorded scenario twice; by their files the second was made on another day."""
    made = [settings.incidents_path / f"2026-03-1{day}.journal" for day in (4, 5)]
    for path in made:
        shutil.copy(GOLDEN, path)
    return made[0], made[1]


@pytest.mark.parametrize("said", ["Kiln Lane", "kiln-lane", "lane", "last", "03-14"])
def test_an_incident_is_found_by_what_the_list_calls_it(settings: Settings, said: str) -> None:
    path, other = _two(settings)
    other.unlink()
    assert journals.journal_at(Path(said), settings) == path


def test_where_several_fit_they_are_named(settings: Settings) -> None:
    _two(settings)
    with pytest.raises(
        BadJournal, match=r"several .*: kiln lane: say which: 2026-03-1\d, 2026-03-1\d$"
    ):
        journals.journal_at(Path("kiln lane"), settings)


def test_a_path_is_no_name(settings: Settings) -> None:
    _two(settings)
    with pytest.raises(BadJournal, match="no such journal"):
        journals.journal_at(Path("here/last"), settings)


@pytest.mark.parametrize("said", ["kiln", "kiln lane.journal", "kiln works"])
def test_what_may_be_meant_to_begin_is_no_part_of_another_name(
    settings: Settings, said: str
) -> None:
    """A new incident at Kiln Works is none of Kiln Lane, and a file that is named is that file."""
    _two(settings)
    assert journals.journal_to_go_on(Path(said), settings) == Path(said)


def test_one_that_has_not_ended_is_gone_on_with_by_its_name(settings: Settings) -> None:
    path, other = _two(settings)
    with pytest.raises(BadJournal, match="several incidents are called so"):
        journals.journal_to_go_on(Path("kiln lane"), settings)
    other.unlink()
    assert journals.journal_to_go_on(Path("kiln lane"), settings) == path
    assert journals.journal_to_go_on(Path("last"), settings) == path
