import pytest

from simulators.scenario_checks import contradictions
from simulators.scenario_file import ScenarioFault, parse

HEAD = """\
title = "x"
length_s = 60
incident = { name = "x", officer = "y" }
[radio]
bases = ["south door"]
[[places]]
name = "south door"
x_m = 0
y_m = 0
[[packs]]
pack = 1
wearer = 1
at = "south door"
low_air_bar = 55
deeds = [
  { at_s = 1, does = "go", to = "south door" },
]
[[injects]]
name = "falls"
at_s = 5
wearers = [1]
deed = { does = "collapse" }
[[injects]]
name = "goes there"
when = { wearer = 1, at = "south door" }
wearers = [1]
deed = { does = "go", to = "south door" }
[[injects]]
name = "twin"
at_s = 5
deed = { does = "same_number", pack = 1 }
[[injects]]
name = "pulled"
at_s = 5
deed = { does = "receiver_pulled", for_s = 9 }
[[expected]]
inject = "falls"
what = "acknowledge"
alarm = "motion_alarm"
wearers = [1]
within_s = 30
"""


def found(old: str, new: str) -> list[str]:
    text = HEAD.replace(old, new, 1)
    assert text != HEAD or not old
    try:
        scenario = parse(text, "x.toml")
    except ScenarioFault as fault:
        return [str(fault)]
    return [what for _, what in contradictions(scenario)]


def test_a_whole_scenario_contradicts_nothing() -> None:
    assert found("", "") == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('bases = ["south door"]', 'bases = ["north door"]', 'there is no place "north door"'),
        ('at = "south door"\nlow', 'at = "east door"\nlow', 'packs.0.at: there is no place "east'),
        ('"go", to = "south', '"go", to = "no', 'packs.0.deeds.0.to: there is no place "no door"'),
        ("wearers = [1]\ndeed", "wearers = [2]\ndeed", "injects.0.wearers: there is no wearer 2"),
        ("at_s = 5", "at_s = 61", "injects.0.at_s: is after the end of the scenario"),
        ("{ wearer = 1,", "{ wearer = 3,", "there is no wearer 3"),
        ('1, at = "south', '1, at = "no', 'there is no place "no door"'),
        ('deed = { does = "go", to = "south', 'deed = { does = "go", to = "n', 'no place "n door"'),
        ('_number", pack = 1', '_number", pack = 7', "there is no pack 7"),
        ("for_s = 9", "for_s = 9, base = 2", "there is no base radio 2"),
        ('"goes there"', '"falls"', 'inject "falls" is there twice'),
        ('inject = "falls"', 'inject = "stumbles"', 'there is no inject "stumbles"'),
        ("[1]\nwithin", "[4]\nwithin", "expected.0.wearers: there is no wearer 4"),
        ('inject = "falls"', "at_s = 100", "expected.0.at_s: is after the end"),
    ],
)
def test_names_of_nobody_and_things_twice_are_told_with_their_place(
    old: str, new: str, said: str
) -> None:
    assert any(said in what for what in found(old, new))


def test_two_places_of_one_name() -> None:
    more = '[[places]]\nname = "south door"\nx_m = 1\ny_m = 0\n[[packs]]'
    assert found("[[packs]]", more) == ["x.toml:11: places.1.name: place south door is there twice"]


def test_a_scenario_has_between_one_and_fifty_thousand_wearers() -> None:
    alone = 'title = "x"\nlength_s = 60\nincident = { name = "x", officer = "y" }\n'
    with pytest.raises(ScenarioFault, match=r"there is no pack: \[\[packs\]\] or \[\[groups\]\]"):
        parse(alone, "x.toml")
    group = "[[groups]]\ncount = {}\npack = 100\nwearer = 1\nlow_air_bar = 55\n"
    assert parse(alone + group.format(50_000), "x.toml").count == 50_000
    one = "[[packs]]\npack = 1\nwearer = 50000\nlow_air_bar = 55\n"
    with pytest.raises(ScenarioFault, match="50001 packs are more than 50000"):
        parse(alone + group.format(50_000) + one, "x.toml")
