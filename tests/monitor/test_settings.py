from pathlib import Path

import pytest

from monitor.errors import BadFile, BadUsage
from monitor.settings import (
    FILE_BYTES_MAX,
    LINKS_MAX,
    Layer,
    Settings,
    file_paths,
    form,
    layers,
    load,
    places,
)


@pytest.fixture
def environ(tmp_path: Path) -> dict[str, str]:
    """An environment that names an empty settings file, so that no real one is read."""
    path = tmp_path / "settings.toml"
    path.write_text("")
    return {"OUTBY_SETTINGS": str(path), "HOME": str(tmp_path)}


def write(environ: dict[str, str], text: str) -> None:
    Path(environ["OUTBY_SETTINGS"]).write_text(text)


def test_nothing_said_gives_the_defaults(environ: dict[str, str]) -> None:
    assert load(environ) == Settings()
    assert Settings().links == ()
    assert Settings().real_links == ("udp:41900",)
    assert Settings().exercise_links == ("udp:41901",)


def test_no_default_says_exercise_or_real_or_which_rules() -> None:
    assert (Settings().use, Settings().procedure, Settings().officer) == ("", "", "")


def test_later_sources_win(environ: dict[str, str]) -> None:
    write(environ, 'name = "from file"\nplace = "from file"\nstage = "from file"\n')
    environ |= {"OUTBY_PLACE": "from environment", "OUTBY_STAGE": "from environment"}
    chosen = load(environ).with_options({"stage": "from option", "name": None})
    assert (chosen.name, chosen.place, chosen.stage) == (
        "from file",
        "from environment",
        "from option",
    )


def test_links_in_the_environment_are_a_list_with_commas(environ: dict[str, str]) -> None:
    environ["OUTBY_LINKS"] = "udp:5000, serial:/dev/radio@9600,"
    assert load(environ).links == ("udp:5000", "serial:/dev/radio@9600")
    environ["OUTBY_EXERCISE_LINKS"] = "udp:5001"
    assert load(environ).exercise_links == ("udp:5001",)


def test_yes_and_no_in_the_environment_are_understood(environ: dict[str, str]) -> None:
    environ["OUTBY_MOUSE"] = "true"
    assert load(environ).mouse is True


def test_an_unknown_key_in_the_file_is_refused_by_name(environ: dict[str, str]) -> None:
    write(environ, "officier = 'R. Harrow'\n")
    with pytest.raises(
        BadUsage, match=r"unknown setting: .*settings\.toml: officier: .* officer\?"
    ):
        load(environ)


def test_an_unknown_variable_is_refused_by_name(environ: dict[str, str]) -> None:
    environ["OUTBY_OFFICIER"] = "R. Harrow"
    with pytest.raises(BadUsage, match="unknown setting: OUTBY_OFFICIER: "):
        load(environ)


def test_a_wrong_value_names_its_key(environ: dict[str, str]) -> None:
    write(environ, "theme = 'pink'\n")
    with pytest.raises(
        BadUsage, match=r'^"pink" is not \'dark\' or \'daylight\': .*l: theme: correct'
    ):
        load(environ)


def test_a_wrong_option_is_named_as_it_was_typed() -> None:
    with pytest.raises(BadUsage, match="--entry-point"):
        Settings().with_options({"entry_point": "x" * 201})


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"name": "x" * 61}, "at most 60 characters: --name"),
        ({"officer": "R.\nHarrow"}, "^only printable characters, on one line: --officer"),
    ],
)
def test_a_name_that_no_journal_takes_is_refused_where_it_is_said(
    options: dict[str, object], said: str
) -> None:
    with pytest.raises(BadUsage, match=said):
        Settings().with_options(options)


def test_too_many_links_are_refused() -> None:
    with pytest.raises(BadUsage, match="--links"):
        Settings().with_options({"links": ["udp:1"] * (LINKS_MAX + 1)})


def test_options_that_are_no_setting_are_the_commands_own() -> None:
    assert Settings().with_options({"func": print, "plain": True}) == Settings()


def test_a_file_that_is_named_must_be_there(environ: dict[str, str], tmp_path: Path) -> None:
    environ["OUTBY_SETTINGS"] = str(tmp_path / "nowhere.toml")
    with pytest.raises(BadFile, match=r"not found: .*nowhere"):
        load(environ)


def test_the_file_of_the_platform_need_not_be_there(tmp_path: Path) -> None:
    for_all, own = file_paths({})
    assert (for_all.name, own.name) == ("settings.toml", "settings.toml")
    assert for_all != own
    assert file_paths({"OUTBY_SETTINGS": str(tmp_path / "x")}) == (tmp_path / "x",)


def test_settings_for_all_users_stand_below_a_users_own(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """XDG Base Directory Specification: XDG_CONFIG_DIRS and XDG_CONFIG_HOME, on Linux."""
    monkeypatch.setenv("XDG_CONFIG_DIRS", str(tmp_path / "all"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "own"))
    for folder, text in {"all": 'officer = "all"\nplace = "all"', "own": 'place = "own"'}.items():
        (tmp_path / folder / "outby").mkdir(parents=True)
        (tmp_path / folder / "outby" / "settings.toml").write_text(text)
    found = load({"OUTBY_STAGE": "2"})
    assert (found.officer, found.place, found.stage) == ("all", "own", "2")
    at = places(layers({"OUTBY_STAGE": "2"}))
    assert at["officer"] == str(tmp_path / "all" / "outby" / "settings.toml")
    assert at["place"] == str(tmp_path / "own" / "outby" / "settings.toml")
    assert (at["stage"], at["theme"]) == ("environment", "default")


WRONG = {
    "theme": ("pink", "'dark' or 'daylight'"),
    "mouse": ("perhaps", "true or false"),
    "evacuation_tone": (9, "a whole number from 0 to 3"),
}
"""A value that cannot be, and what is wanted."""


@pytest.mark.parametrize("key", WRONG)
def test_the_same_fault_is_the_same_wherever_it_is_said(key: str, environ: dict[str, str]) -> None:
    value, wanted = WRONG[key]
    said: list[str] = []
    write(environ, f"{key} = {value!r}")
    with pytest.raises(BadUsage) as from_file:
        load(environ)
    write(environ, "")
    with pytest.raises(BadUsage) as from_environment:
        load({**environ, f"OUTBY_{key.upper()}": str(value)})
    with pytest.raises(BadUsage) as from_options:
        Settings().with_options({key: value})
    said = [str(one.value) for one in (from_file, from_environment, from_options)]
    assert all(f" is not {wanted}: " in line for line in said), said
    assert all(str(value) in line for line in said), said
    assert f": {key}: " in said[0]
    assert f"OUTBY_{key.upper()}: " in said[1]
    assert f"--{key.replace('_', '-')}: " in said[2]


def test_a_list_is_shown_as_it_is_written(environ: dict[str, str]) -> None:
    write(environ, 'links = "udp:41900"')
    with pytest.raises(
        BadUsage, match=r'^"udp:41900" is not a list, as \["udp:41900"\]: .*: links: '
    ):
        load(environ)


def test_every_setting_has_a_form_in_words() -> None:
    assert {key: form(key) for key in Settings.model_fields}["glyphs"] == (
        "'unicode' or 'blocks' or 'ascii'"
    )
    assert form("name") == "a text in quotes"
    assert form("links", in_a_list=False) == "links with commas between"


def test_a_layer_names_a_key_as_it_is_written_there() -> None:
    assert Layer("x.toml", {}).shown("entry_point") == "x.toml: entry_point"


@pytest.mark.parametrize("data", [b"name = ", b"name = '\xff'"])
def test_a_file_that_is_not_toml_is_said_to_be_so(environ: dict[str, str], data: bytes) -> None:
    Path(environ["OUTBY_SETTINGS"]).write_bytes(data)
    with pytest.raises(BadFile, match=r"settings file is not (TOML|in UTF-8)"):
        load(environ)


def test_a_file_that_is_far_too_long_is_the_wrong_file(environ: dict[str, str]) -> None:
    write(environ, "#" * (FILE_BYTES_MAX + 1))
    with pytest.raises(BadFile, match="too long"):
        load(environ)


def test_a_folder_in_place_of_a_file_is_one_line(environ: dict[str, str], tmp_path: Path) -> None:
    environ["OUTBY_SETTINGS"] = str(tmp_path)
    with pytest.raises(BadFile, match="settings file is a folder"):
        load(environ)


def test_the_folder_of_journals() -> None:
    assert Settings().incidents_path.name == "incidents"
    assert Settings(incidents_folder="/here").incidents_path == Path("/here")


def test_a_path_with_a_zero_byte_is_refused(environ: dict[str, str]) -> None:
    write(environ, 'incidents_folder = "a\\u0000b"\n')
    with pytest.raises(BadUsage, match="no zero byte"):
        load(environ)


def test_too_many_links_are_told_with_how_many_there_may_be() -> None:
    with pytest.raises(BadUsage, match=r"^at most 8 links, 9 are said: --links"):
        Settings().with_options({"links": [f"udp:{port}" for port in range(9_000, 9_009)]})
