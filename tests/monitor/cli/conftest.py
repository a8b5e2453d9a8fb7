"""For all tests of commands."""

import pytest


@pytest.fixture(autouse=True)
def no_settings(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Whoever runs the tests may have settings of their own."""
    path = tmp_path_factory.mktemp("settings") / "settings.toml"
    path.write_text("")
    monkeypatch.setenv("OUTBY_SETTINGS", str(path))
