from pathlib import Path

import pytest

import shared
from monitor import procedures
from monitor.errors import BadFile
from monitor.incident.procedure import Procedure

PLAIN = shared.path("procedures", "plain.toml").read_text()


def written(folder: Path, text: str) -> str:
    path = folder / "rules.toml"
    path.write_text(text)
    return str(path)


def test_the_plain_procedure_comes_with_the_program() -> None:
    plain = procedures.load("plain")
    assert plain.name == "plain"
    assert plain.low_air_fraction == 0.35
    assert "plain" in procedures.names()


UNSOURCED = {"name", "title", "sources"}
MAY_BE_LEFT_OUT = {
    field for field, info in Procedure.model_fields.items() if info.default is None
} | {"tasks", "most_wearers", "do"}
"""Where saying nothing has a meaning of its own."""


@pytest.mark.parametrize("name", procedures.names())
def test_every_value_of_every_procedure_has_its_source(name: str) -> None:
    rules = procedures.load(name)
    assert set(rules.sources) == rules.model_fields_set - UNSOURCED


@pytest.mark.parametrize("name", procedures.names())
def test_a_procedure_that_comes_with_the_program_leaves_nothing_to_defaults(name: str) -> None:
    rules = procedures.load(name)
    assert set(Procedure.model_fields) - rules.model_fields_set <= MAY_BE_LEFT_OUT


def test_a_file_elsewhere_is_read_by_its_path(tmp_path: Path) -> None:
    path = written(tmp_path, PLAIN.replace("low_air_fraction = 0.35", "low_air_fraction = 0.25"))
    assert procedures.load(path).low_air_fraction == 0.25


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("name = ", "not TOML"),
        (PLAIN.replace("silence_limit_s = 90\n", "", 1), "missing key"),
        ("colour = 1\n" + PLAIN, "unknown key"),
        # 42 CFR 84.83 asks for at least 25 %; nothing under 10 % is a warning at all.
        (PLAIN.replace("low_air_fraction = 0.35", "low_air_fraction = 0.05"), "greater than"),
        # Held between 30 and 90 s.
        (PLAIN.replace("silence_limit_s = 90", "silence_limit_s = 91"), "less than"),
        ("#" * (procedures.PROCEDURE_BYTES_MAX + 1), "too long"),
    ],
)
def test_a_file_that_is_not_right_says_what_and_where(tmp_path: Path, text: str, what: str) -> None:
    path = written(tmp_path, text)
    with pytest.raises(BadFile) as caught:
        procedures.load(path)
    assert what in caught.value.what
    assert path in caught.value.where


def test_bytes_that_are_no_text_are_not_toml(tmp_path: Path) -> None:
    path = tmp_path / "rules.toml"
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(BadFile, match="not TOML"):
        procedures.load(str(path))


def test_a_name_that_is_not_there_lists_those_that_are() -> None:
    with pytest.raises(BadFile) as caught:
        procedures.load("nowhere")
    assert caught.value.what == "no such procedure"
    assert "plain" in caught.value.to_do


def test_a_folder_is_not_a_procedure(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="procedure:"):
        procedures.load(str(tmp_path))
