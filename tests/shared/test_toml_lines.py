import pytest

from shared.toml_lines import Place, line_of

TEXT = """\
title = "x"

[incident]
name = "y"

[[packs]]
pack = 1
deeds = [
  { at_s = 1 },
  { at_s = 2 },
]

[[packs]]
pack = 2
[[packs.deeds]]
at_s = 3
[[packs.deeds]]
at_s = 4

[[acts]]
'what' = "note"
"""


@pytest.mark.parametrize(
    ("place", "line"),
    [
        (("title",), 1),
        (("incident",), 3),
        (("incident", "name"), 4),
        (("incident", "missing"), 3),
        (("packs", 0), 6),
        (("packs", 0, "pack"), 7),
        (("packs", 0, "deeds"), 8),
        (("packs", 0, "deeds", 1, "at_s"), 10),
        (("packs", 1, "pack"), 14),
        (("packs", 1, "deeds", 1, "at_s"), 18),
        (("packs", 1, "missing"), 13),
        (("acts", 0, "what"), 21),
        (("nowhere",), None),
    ],
)
def test_the_line_of_a_place(place: Place, line: int | None) -> None:
    assert line_of(TEXT, place) == line
