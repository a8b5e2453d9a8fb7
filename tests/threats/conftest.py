"""Bases with live packs and packs that listen, keyed and open."""

from collections.abc import Callable

import pytest

from tests.threats.bench import Base, Receiver, ring

MODES = ("keyed", "open")
MakeBase = Callable[..., Base]


@pytest.fixture
def make_base() -> MakeBase:
    """For a test that needs several, or other packs."""
    return Base


@pytest.fixture(params=MODES)
def base(request: pytest.FixtureRequest) -> Base:
    """A base with five live packs: for what is defended in both modes."""
    made = Base(ring() if request.param == "keyed" else None)
    made.begin()
    return made


@pytest.fixture
def keyed() -> Base:
    """A keyed base with five live packs."""
    made = Base(ring())
    made.begin()
    return made


@pytest.fixture
def opened() -> Base:
    """An open base with five live packs."""
    made = Base(None)
    made.begin()
    return made


@pytest.fixture(params=MODES)
def receiver(request: pytest.FixtureRequest) -> Receiver:
    """A pack that has been on for ten minutes and listens."""
    return Receiver(ring() if request.param == "keyed" else None)


@pytest.fixture
def keyed_receiver() -> Receiver:
    """The same, keyed."""
    return Receiver(ring())
