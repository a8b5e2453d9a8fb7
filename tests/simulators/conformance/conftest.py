"""The keys of a fleet that changes over from one epoch to the next."""

import pytest

from protocol.integrity import Keyring


@pytest.fixture
def keyring() -> Keyring:
    return Keyring({1: bytes(range(32)), 2: bytes(range(32, 64))}, "exercise", 1)
