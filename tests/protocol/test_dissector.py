"""The script that comes with the format is what the tables say. tshark runs it elsewhere."""

import re
from pathlib import Path

from protocol.dissector import UDP_PORT, UDP_PORT_EXERCISE, filter_name, lua
from protocol.fields import FIELDS_BY_KIND
from protocol.rejects import Reject

FOLDER = Path(__file__).parents[2] / "protocol"


def test_the_script_in_the_folder_is_up_to_date() -> None:
    """Else make it anew.

    python -c "from protocol.dissector import lua; print(lua(), end='')" > protocol/outby.lua
    """
    assert (FOLDER / "outby.lua").read_text("utf-8") == lua()


def test_every_field_has_one_filter() -> None:
    made = re.findall(r'ProtoField\.\w+\(\s*"([\w.]+)"', lua())
    assert len(made) == len(set(made))
    names = {field.name for layout in FIELDS_BY_KIND.values() for field in layout}
    assert {filter_name(name) for name in names} <= set(made)


def test_every_reason_it_gives_has_words() -> None:
    script = lua()
    given = set(re.findall(r'(?:why = |refuse\(\w+, |and |or )"([A-Z_]+)"', script))
    assert given
    for name in given:
        assert f"  {name} = " in script
        assert Reject[name]


def test_the_ports_are_the_pages() -> None:
    page = (FOLDER / "PACKET-FORMAT.md").read_text("utf-8")
    words = f"port {UDP_PORT}, in an exercise on {UDP_PORT_EXERCISE}, unless"
    assert words in " ".join(page.split())


def test_names_in_filters_have_no_spaces() -> None:
    assert filter_name("gas temperature") == "outby.gas_temperature"
    assert filter_name("low-air value") == "outby.low_air_value"
