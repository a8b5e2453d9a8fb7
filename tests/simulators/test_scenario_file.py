import re
from pathlib import Path

import pytest

import shared
from simulators.scenario_file import FILE_BYTES_MAX, ScenarioFault, load, names, parse

TEXT = shared.path("scenarios", "kiln-lane.toml").read_text(encoding="utf-8")


def fault(text: str) -> str:
    with pytest.raises(ScenarioFault) as found:
        parse(text, "x.toml")
    return str(found.value)


def line(text: str, part: str) -> int:
    """Line of the last place where ``part`` stands."""
    return text[: text.rindex(part)].count("\n") + 1


@pytest.mark.parametrize("name", names())
def test_every_scenario_that_comes_with_the_program_can_be_read(name: str) -> None:
    scenario = load(name)
    assert scenario.count == len(list(scenario.plans())) > 0


def test_kiln_lane_is_known_and_can_be_read_by_path() -> None:
    assert "kiln-lane" in names()
    assert load(str(shared.path("scenarios", "kiln-lane.toml"))) == load("kiln-lane")


@pytest.mark.parametrize(
    ("old", "new", "key", "what"),
    [
        ("fill_bar = 286", "fill_bar = 700", "packs.3.fill_bar", "less than or equal to 398"),
        ("celsius = 34", "kelvin = 307", "packs.4.deeds.3.kelvin", "unknown key"),
        ("celsius = 34", "celsius = 90", "packs.4.deeds.3.celsius", "less than or equal to 60"),
        ('officer = "R. Harrow"\n', "", "incident.officer", "is missing"),
        ("pack = 202\n", "pack = 201\n", "packs.3.pack", "pack 201 is there twice"),
        ("wearer = 4", "wearer = 3", "packs.3.wearer", "wearer 3 is there twice"),
        ("at_s = 352", "at_s = 900", "packs.5.deeds.5.at_s", "after the end of the scenario"),
        ("at_s = 388", "at_s = 900", "acts.24.at_s", "after the end of the scenario"),
        ("[7, 8]\nloc", "[9]\nloc", "acts.12.wearers", "there is no wearer 9"),
        ("l_min = 850", "l_min = -1", "injects.2.deed.l_min", "greater than or equal to 0"),
        ("l_min = 850", "liters = 850", "injects.2.deed.liters", "unknown key"),
        ('"leak", l_min = 850', '"leek"', "injects.2.deed.does", "no such deed: leek"),
        ("wearers = [2]\ndeed", "wearers = [12]\ndeed", "injects.3.wearers", "no wearer 12"),
        ('to = "kiln 3", over_s = 70', 'to = "kiln 4"', "packs.6.deeds.2.to", 'no place "kiln 4"'),
    ],
)
def test_a_fault_names_file_line_and_key(old: str, new: str, key: str, what: str) -> None:
    text = TEXT.replace(old, new, 1)
    said = fault(text)
    assert what in said
    # A missing key is told at the table it is missing from.
    where = line(text, new) if new else line(text, "[incident]")
    assert said.startswith(f"x.toml:{where}: {key}: ")


SMALL = """\
title = "x"
length_s = 60
incident = { name = "x", officer = "y" }

[radio]
level_dbm = -70
[radio.up]
loss = 0.1
delay_ms = [10, 20]
[radio.up.bursts]
begin = 0.1
end = 0.2
[radio.range]
mhz = 900

[[groups]]
count = 4
pack = 10
wearer = 1
crew = "B {crew}"
apart_s = 2
low_air_bar = 55
deeds = [
  { at_s = 1, does = "switch_on" },
  { at_s = 50, does = "go", distance_m = 40 },
]
"""


@pytest.mark.parametrize(
    ("old", "new", "line", "key", "what"),
    [
        ("loss = 0.1", "loss = 1.1", 8, "radio.up.loss", "must be less than or equal to 1"),
        ("loss = 0.1", "lost = 0.1", 8, "radio.up.lost", "unknown key"),
        ("[10, 20]", "[20, 10]", 9, "radio.up.delay_ms", "the first must not be above the second"),
        ("[10, 20]", "20", 9, "radio.up.delay_ms", "must be a list"),
        ("[10, 20]", "[10]", 9, "radio.up.delay_ms.1", "is missing"),
        ("begin = 0.1", "begin = 0", 11, "radio.up.bursts.begin", "must be greater than 0"),
        ("end = 0.2\n", "", 10, "radio.up.bursts.end", "is missing"),
        ("mhz = 900", "mhz = 433", 14, "radio.range.mhz", "must be 900 or 1900"),
        (
            "mhz = 900",
            'building = "commercial"',
            13,
            "radio.range",
            "no figures for commercial at 900",
        ),
        ("count = 4", "count = 0", 17, "groups.0.count", "must be greater than or equal to 1"),
        ("count = 4", "count = 9", 25, "groups.0.deeds.1.at_s", "is after the end"),
        ("count = 4", 'count = "four"', 17, "groups.0.count", "must be a valid integer"),
        ("pack = 10", "pack = 4294967293", 16, "groups.0", "pack 4294967296 does not fit"),
        ("wearer = 1", "wearer = 49999", 16, "groups.0", "wearer 50001 is above 50000"),
        ("wearer = 1", "wearer = 2", 3, "incident", "wearers count from 1, and 1 is missing"),
        ("{crew}", "{crow}", 20, "groups.0.crew", "no placeholder {crow}; there are {n}, {crew}"),
        ("B {", "A much too long name {", 16, "groups.0", "has more than 20 characters"),
        ("switch_on", "swich_on", 24, "groups.0.deeds.0.does", "no such deed: swich_on; there are"),
        (', does = "go"', "", 25, "groups.0.deeds.1.does", "is missing"),
        ("distance_m = 40", "metres = 40", 25, "groups.0.deeds.1.metres", "unknown key"),
        (", distance_m = 40", "", 25, "groups.0.deeds.1", "go needs either to or distance_m"),
        ("distance_m = 40", "distance_m = 0", 25, "groups.0.deeds.1.distance_m", "must be greater"),
    ],
)
def test_faults_of_radio_and_groups(old: str, new: str, line: int, key: str, what: str) -> None:
    assert parse(SMALL, "x.toml").count == 4
    said = fault(SMALL.replace(old, new, 1))
    assert said.startswith(f"x.toml:{line}: {key}: ")
    assert what in said
    assert "\n" not in said


@pytest.mark.parametrize(
    ("act", "missing"),
    [
        ('what = "note"', "note needs text"),
        ('what = "connect"', "connect needs wearers"),
        ('what = "locate"\nwearers = [1]', "locate needs location"),
        ('what = "spoken_reading"', "spoken_reading needs wearers"),
        ('what = "emergency_crew"', "emergency_crew needs crew"),
    ],
)
def test_an_act_without_what_it_is_about_is_refused(act: str, missing: str) -> None:
    text = f"{TEXT}\n[[acts]]\nat_s = 1\n{act}\n"
    number = len(load("kiln-lane").acts)
    said = fault(text)
    assert said == f"x.toml:{line(text, act) - 2}: acts.{number}: {missing}"


def test_text_that_is_not_toml_says_where() -> None:
    assert fault('title = "x"\nlength_s = = 3\n') == (
        "x.toml:2: not TOML: Invalid value (column 12)"
    )


def test_a_scenario_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(ScenarioFault, match="there are: any-night, dye-works"):
        load("kiln-lain")
    with pytest.raises(ScenarioFault, match="it is not there"):
        load(str(tmp_path / "x.toml"))


def test_files_that_are_no_scenario(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"title = '\xff'")
    with pytest.raises(ScenarioFault, match=r"x\.toml: it is not in UTF-8 at byte 9, line 1"):
        load(str(path))
    path.write_bytes(b"#" * (FILE_BYTES_MAX + 1))
    with pytest.raises(ScenarioFault, match="it is too long"):
        load(str(path))


@pytest.mark.parametrize("text", ["\\u001b[2J", "\\u202ead", "a\\nb", "\\u200b"])
def test_words_that_would_redraw_a_screen_are_refused_by_their_key(text: str) -> None:
    with pytest.raises(ScenarioFault, match="title: only printable characters, on one line"):
        parse(f'title = "{text}"\n', "x.toml")


def test_a_scenario_nested_too_deep_or_with_too_many_digits() -> None:
    for text in ("a = " + "[" * 10_000, "a = " + "9" * 5_000):
        with pytest.raises(ScenarioFault, match=r"x\.toml: not TOML"):
            parse(text, "x.toml")


LEAK = """\
[[injects]]
name = "leak"
at_s = 5
wearers = [1]
shows = "pressure_loss"
deed = { does = "leak", l_min = 9 }
"""


@pytest.mark.parametrize(
    ("added", "said"),
    [
        (LEAK, "there is no alarm pressure_loss; the nearest is loss_of_pressure"),
        ('[[expected]]\nwhat = "acknowledge"\nat_s = 5\nalarm = "distres"\nwithin_s = 9\n',
         "there is no alarm distres; the nearest is distress"),
    ],
)  # fmt: skip
def test_an_alarm_that_there_is_not_is_named_with_the_nearest(added: str, said: str) -> None:
    """Its score would be false for ever: nothing could ever show it."""
    with pytest.raises(ScenarioFault, match=said) as found:
        parse(SMALL + added, "x.toml", ["distress", "loss_of_pressure", "low_air"])
    assert re.match(r"x\.toml:\d+: ", str(found.value))


@pytest.mark.parametrize(
    ("old", "new"), [("length_s = 60", 'length_s = "60"'), ("distance_m = 40", 'distance_m = "40"')]
)
def test_a_number_in_quotes_is_no_number(old: str, new: str) -> None:
    assert "must be a valid number" in fault(SMALL.replace(old, new, 1))


def test_the_library_rises_and_each_lesson_teaches_one_thing_of_its_own() -> None:
    lessons = [one for one in map(load, names()) if one.level is not None]
    assert len(lessons) >= 8
    assert {one.level for one in lessons} == {1, 2, 3, 4, 5}
    assert len({one.teaches for one in lessons}) == len(lessons)
    for one in lessons:
        assert one.teaches, one.title
        assert len(one.look_for) >= 3, one.title
        assert one.injects, one.title
        assert one.expected, one.title
