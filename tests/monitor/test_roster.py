from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from monitor import roster
from monitor.errors import BadFile
from monitor.incident.check_in import CheckIn
from monitor.incident.events import JoinPack, ListWearer
from monitor.roster import Person

INCIDENT = "0123456789abcdef0123456789abcdef"


def written(folder: Path, text: str) -> str:
    path = folder / "people.toml"
    path.write_text(text)
    return str(path)


def test_the_roster_that_comes_with_the_program_is_four_crews_of_two() -> None:
    people = roster.load("kiln-lane").people
    assert [p.crew for p in people] == [f"Alpha {n}" for n in (1, 1, 2, 2, 3, 3, 4, 4)]
    assert [p.leader for p in people] == [True, False] * 4
    assert len({p.pack for p in people}) == 8


def test_acts_list_everybody_in_order_and_join_their_packs() -> None:
    acts = roster.load("kiln-lane").acts("R. Harrow", INCIDENT)
    listed = [a for a in acts if isinstance(a, ListWearer)]
    joined = [a for a in acts if isinstance(a, JoinPack)]
    assert [a.wearer for a in listed] == list(range(1, 9))
    assert [(a.wearer, a.pack) for a in joined][:2] == [(1, 101), (2, 102)]
    assert all(a.by == "R. Harrow" for a in acts)
    assert len({a.id for a in acts}) == 16


def test_the_same_incident_gets_the_same_act_ids_and_another_gets_others() -> None:
    people = roster.load("kiln-lane")
    ids = {a.id for a in people.acts("R. Harrow", INCIDENT)}
    assert ids == {a.id for a in people.acts("R. Harrow", INCIDENT)}
    assert not ids & {a.id for a in people.acts("R. Harrow", INCIDENT[::-1])}


def test_a_person_without_telemetry_is_joined_only_to_their_cylinder(tmp_path: Path) -> None:
    path = written(
        tmp_path, '[[people]]\nname = "J. Kerf"\nwater_volume_l = 9\n[[people]]\nname = "K. Batt"\n'
    )
    acts = roster.load(path).acts("R. Harrow", INCIDENT)
    assert [type(a) for a in acts] == [ListWearer, JoinPack, ListWearer]
    assert isinstance(acts[1], JoinPack)
    assert acts[1].pack is None


def test_a_cylinder_by_its_name_is_its_volume_and_rating(tmp_path: Path) -> None:
    text = '[[people]]\nname = "J. Kerf"\ncylinder = "6.8 / 300"\n[[people]]\nname = "K. Batt"\n'
    people = roster.load(written(tmp_path, text))
    join = people.acts("R. Harrow", INCIDENT)[1]
    assert isinstance(join, JoinPack)
    assert (join.water_volume_l, join.rated_bar) == (6.8, 300)


def test_a_cylinder_of_ones_own(tmp_path: Path) -> None:
    own = tmp_path / "own.toml"
    own.write_text(
        '[[cylinders]]\nname = "kiln"\nshort = "k"\nwater_volume_l = 5\nrated_bar = 232\n'
    )
    path = written(tmp_path, '[[people]]\nname = "J. Kerf"\ncylinder = "Kiln"\n')
    with pytest.raises(BadFile, match=r"people.toml:3: people.1.cylinder: one of: .*6\.8/300"):
        roster.load(path)
    person = roster.load(path, str(own)).people[0]
    assert (person.water_volume_l, person.rated_bar) == (5, 232)


def test_apparatus_and_gauge_go_to_the_board(tmp_path: Path) -> None:
    text = '[[people]]\nname = "J. Kerf"\napparatus = "closed circuit"\ngauge = "psi"\n'
    text += 'set_id = "S7"\ncylinder_id = "C12"\n'
    join = roster.load(written(tmp_path, text)).acts("R. Harrow", INCIDENT)[1]
    assert isinstance(join, JoinPack)
    assert (join.apparatus, join.gauge_unit) == ("closed circuit", "psi")
    assert (join.set_id, join.cylinder_id) == ("S7", "C12")
    assert (join.pack, join.water_volume_l) == (None, None)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('[[people]]\nname = "A"\ncylinder = "6/300"\nrated_bar = 300\n', "not both"),
        ('[[people]]\nname = "A"\napparatus = "snorkel"\n', ":3: people.1.apparatus"),
        ('[[people]]\nname = "A"\ngauge = "kPa"\n', "people.1.gauge"),
        ('[[people]]\nname = "A"\nhat = 1\n', "unknown key"),
        ('[[people]]\nname = "A"\npack = 0\n', "people.1.pack"),
        ('[[people]]\nname = "A"\npack = 7\n[[people]]\nname = "B"\npack = 7\n', "both A and B"),
        (
            '[[people]]\nname = "A"\nset_id = "S1"\n[[people]]\nname = "B"\nset_id = "S1"\n',
            "set S1 is given to both A and B",
        ),
        ("people = []\n", "at least 1"),
        ("people = \n", "not TOML"),
    ],
)
def test_a_wrong_roster_says_what_is_wrong_and_where(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(BadFile, match=said) as caught:
        roster.load(written(tmp_path, text))
    assert "people.toml" in str(caught.value)


def test_a_missing_roster_names_the_known_ones() -> None:
    with pytest.raises(BadFile, match="kiln-lane"):
        roster.load("no-such-roster")


def test_a_folder_is_no_roster(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="roster"):
        roster.load(str(tmp_path))


def test_a_file_too_long_is_not_read_as_one(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="too long"):
        roster.load(written(tmp_path, "#" * (roster.ROSTER_BYTES_MAX + 1)))


# ---------------------------------------------------------------- a table


def test_a_table_is_the_same_roster(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_bytes(
        "\ufeffName;Call sign;Crew;Leader;Pack;Cylinder;Water volume l;Rated bar\r\n"
        "A. Quoin;Alpha 1-1;Alpha 1;yes;101;6.8/300;;\r\n"
        "窯焼 次郎;Alpha 1-2;Alpha 1;;102;;6,8;300\r\n".encode()
    )
    first, second = roster.load(str(path)).people
    assert (first.name, first.crew, first.leader, first.pack) == ("A. Quoin", "Alpha 1", True, 101)
    assert (second.name, second.leader, second.pack) == ("窯焼 次郎", False, 102)
    assert [(p.water_volume_l, p.rated_bar) for p in (first, second)] == [(6.8, 300)] * 2


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name,pack\nA,0\n", r"csv:2: pack \(column B\): write the identity"),
        ("name,pack\nA,x\n", r"csv:2: pack \(column B\): write the identity"),
        ("name,leader\nA,perhaps\n", r"csv:2: leader \(column B\): write yes or no"),
        ("name,crew\n,Alpha\n", r"a name is missing: .*csv:2: name .column A.: give a name"),
        ("name,crew\nA,123456789012345678901\n", r"csv:2: crew \(column B\): at most 20"),
        ("name,rated_bar\nA,\nB,4500\n", r"csv:3: rated_bar \(column B\): write bar, up to 450"),
        ("name,gauge\nA,kPa\n", r"csv:2: gauge \(column B\): write bar or psi"),
        ("name,cylinder,rated_bar\nA,6/300,300\n", r"not both: .*csv:2: correct that line"),
        ("name,cylinder\nA,tin\n", r"no such cylinder: tin: .*csv:2: cylinder \(column B\): one"),
        (
            "name,pack\nA,7\nB,8\nC,7\n",
            r"pack 7 is given to both A and C: .*csv:4: pack .column B.: correct one",
        ),
        ("name\n", r"nobody is in it: .*csv: give each person a line"),
    ],
)
def test_a_wrong_table_says_what_is_wrong_and_where(tmp_path: Path, text: str, said: str) -> None:
    path = tmp_path / "people.csv"
    path.write_text(text)
    with pytest.raises(BadFile, match=said):
        roster.load(str(path))


def test_a_table_in_another_encoding_says_what_to_do(tmp_path: Path) -> None:
    path = tmp_path / "people.csv"
    path.write_text("name\nA\n", encoding="utf-16")
    with pytest.raises(BadFile, match=r"not in UTF-8 at byte 0, line 1: .*save it again as UTF-8"):
        roster.load(str(path))


# ---------------------------------------------------------------- of a board


def checked_in(number: int, **changes: Any) -> CheckIn:
    plain = CheckIn(number, f"Wearer {number}", f"Alpha {number}", "Alpha", False, 100 + number,
                    6.8, 300.0, "", "", f"S{number}", "")  # fmt: skip
    return replace(plain, **changes)


def test_who_is_on_the_board_is_a_roster() -> None:
    people, told = roster.of_board(
        (checked_in(1, leader=True), checked_in(2, pack=None, rated_bar=None, gauge_unit="psi")),
        "Kiln Lane",
    )
    assert people.title == "Kiln Lane"
    assert people.people[0] == Person(
        name="Wearer 1", call_sign="Alpha 1", crew="Alpha", leader=True, pack=101,
        water_volume_l=6.8, rated_bar=300, set_id="S1",
    )  # fmt: skip
    assert (people.people[1].pack, people.people[1].rated_bar) == (None, None)
    assert people.people[1].gauge == "psi"
    assert told == ()


def test_a_call_sign_that_two_have_stays_with_the_first() -> None:
    people, told = roster.of_board(
        (
            checked_in(1, call_sign="Alpha", set_id="S2"),
            checked_in(2, call_sign="Alpha", name=" "),
        ),
        "",
    )
    assert [p.call_sign for p in people.people] == ["Alpha", ""]
    assert people.people[1].name == "wearer 2"
    assert [p.set_id for p in people.people] == ["S2", ""]
    assert told == (
        "call sign Alpha is given to both Wearer 1 and wearer 2: left out for wearer 2",
        "set S2 is given to both Wearer 1 and wearer 2: left out for wearer 2",
    )
