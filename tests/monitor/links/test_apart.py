"""No link of the one use is opened for the other."""

import pytest

from monitor.errors import BadUsage
from monitor.links.apart import links_of, meet
from monitor.links.spec import parse
from monitor.settings import Settings

BOTH = Settings(
    real_links=("udp:41900", "serial:/dev/ttyUSB0"),
    exercise_links=("udp:127.0.0.1:41901", "serial:/dev/ttyS*@9600"),
)


def names(settings: Settings, use: str) -> list[str]:
    return [spec.name for spec in links_of(settings, use)]


def test_each_use_has_its_own_where_none_is_said() -> None:
    assert names(Settings(), "real") == ["udp 41900"]
    assert names(Settings(), "exercise") == ["udp 41901"]
    assert names(BOTH, "exercise") == ["udp 127.0.0.1:41901", "serial /dev/ttyS* at 9600 baud"]


def test_what_is_said_goes_before() -> None:
    said = Settings(links=("udp:5000", "serial:/dev/ttyACM0"))
    assert names(said, "real") == names(said, "exercise") == [
        "udp 5000", "serial /dev/ttyACM0 at 115200 baud",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("use", "link", "said"),
    [
        ("exercise", "udp:41900", r"for real incidents only: udp:41900: .* setting real_links"),
        ("exercise", "udp:192.0.2.1:41900", "for real incidents only"),
        ("exercise", "serial:/dev/ttyUSB0@9600", "for real incidents only: serial:/dev/ttyUSB0"),
        ("exercise", "serial:/dev/ttyUSB*", "for real incidents only"),
        ("real", "udp:41901", r"for exercises only: udp:41901: .* setting exercise_links"),
        ("real", "serial:/dev/ttyS3", "for exercises only"),
        ("real", "udp:x", "not a number"),
    ],
)
def test_a_link_of_the_other_use_is_refused(use: str, link: str, said: str) -> None:
    chosen = BOTH.with_options({"links": ["udp:127.0.0.1:5000", link]})
    with pytest.raises(BadUsage, match=said):
        links_of(chosen, use)


def test_a_link_that_is_set_up_for_both_opens_neither() -> None:
    both = Settings(real_links=("udp:5000",), exercise_links=("udp:5000",))
    for use in ("real", "exercise"):
        with pytest.raises(BadUsage):
            links_of(both, use)


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("udp:5000", "udp:5000", True),
        ("udp:5000", "udp:[::1]:5000", True),
        ("udp:BASE:5000", "udp:base:5000", True),
        ("udp:127.0.0.1:5000", "udp:192.0.2.1:5000", False),
        ("udp:5000", "udp:5001", False),
        ("udp:5000", "serial:5000", False),
        ("serial:/dev/a@9600", "serial:/dev/a@115200", True),
        ("serial:/dev/a*", "serial:/dev/ab", True),
        ("serial:/dev/b", "serial:/dev/a*", False),
    ],
)
def test_whether_two_could_be_one_port(one: str, other: str, same: bool) -> None:
    assert meet(parse(one), parse(other)) is same
    assert meet(parse(other), parse(one)) is same
