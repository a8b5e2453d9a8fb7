"""The overview in a terminal without a screen: numbers open doors, Esc comes back."""

import shutil
from pathlib import Path

import pytest

import shared
from monitor.clock import Clock
from monitor.overview.app import OverviewApp, OverviewOptions
from monitor.overview.watching import Doors

GOLDEN = shared.path("journals", "kiln-lane.journal")


def text_of(app: OverviewApp) -> str:
    lines = app._view._lines
    return "\n".join("".join(text for text, _ in line) for line in lines)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_doors_are_opened_and_left(tmp_path: Path, size: tuple[int, int]) -> None:
    paths = [tmp_path / f"{name}.journal" for name in "ab"]
    for path in paths:
        shutil.copyfile(GOLDEN, path)
    doors = Doors(Clock(), paths, None)
    while not doors.complete:
        doors.poll()
    app = OverviewApp(doors, Clock(), OverviewOptions("Kiln works", blink=False))
    async with app.run_test(size=size) as pilot:
        app._make()
        app._draw()
        assert text_of(app).startswith("KILN WORKS ")
        assert "DOOR NOT HEARD" in text_of(app)
        await pilot.press("7")
        assert "door 7_" in text_of(app)
        await pilot.press("enter")
        assert "there is no door 7" in text_of(app)
        await pilot.press("2")
        assert text_of(app).startswith(" DOOR 2 ")
        assert "VIEW ONLY" in text_of(app)
        # What acts on a board does nothing here.
        await pilot.press("space", "f", "j")
        assert text_of(app).startswith(" DOOR 2 ")
        await pilot.press("escape")
        assert text_of(app).startswith("KILN WORKS ")
        await pilot.press("pagedown", "pageup", "b", "q")
    doors.close()
