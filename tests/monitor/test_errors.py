import inspect

import pytest

from monitor import errors
from monitor.errors import Exit, OutbyError

KINDS: list[type[OutbyError]] = [
    value
    for _, value in inspect.getmembers(errors, inspect.isclass)
    if issubclass(value, OutbyError) and value is not OutbyError
]


def test_an_error_is_one_line_of_three_parts() -> None:
    error = errors.BadFile("unknown key 'crew'", "roster.toml, line 3", "use 'crews'")
    assert str(error) == "unknown key 'crew': roster.toml, line 3: use 'crews'"


def test_empty_parts_leave_no_trace() -> None:
    assert str(OutbyError("it broke")) == "it broke"
    assert str(OutbyError("it broke", to_do="try again")) == "it broke: try again"


def test_a_text_of_several_lines_still_makes_one_line() -> None:
    assert "\n" not in str(OutbyError("one\ntwo", "three\n four"))


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_each_kind_has_an_exit_code_of_its_own(kind: type[OutbyError]) -> None:
    same = [other for other in KINDS if other.exit_code == kind.exit_code]
    assert same == [kind]
    assert kind.exit_code not in (Exit.OK, Exit.INTERNAL)


def test_each_exit_code_is_explained_and_belongs_to_an_error() -> None:
    assert all(code.words for code in Exit)
    # What the system refuses comes as its own OSError, from anywhere.
    none = {Exit.OK, Exit.INTERNAL, Exit.SYSTEM}
    assert {kind.exit_code for kind in KINDS} == set(Exit) - none


def test_the_tree_in_the_docstring_is_the_tree_of_the_classes() -> None:
    documented = errors.__doc__ or ""
    kinds: list[type[OutbyError]] = [OutbyError, *KINDS]
    for kind in kinds:
        line = next(line for line in documented.splitlines() if f"{kind.__name__} " in line)
        assert f" {int(kind.exit_code)}  " in line
