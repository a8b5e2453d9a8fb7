"""What every screen does when there is nobody to draw for."""

import os
import pty

from monitor.board.terminal.lines_app import LinesApp, hung_up
from monitor.board.terminal.themes import Colours


class Counted(LinesApp[str]):
    """A screen that counts how often it looked."""

    looks = 0

    def on_mount(self) -> None:
        self.begin(0.01)

    def tick(self) -> None:
        self.looks += 1


def test_a_terminal_has_hung_up_once_its_other_end_has_gone() -> None:
    ours, theirs = pty.openpty()
    assert not hung_up(theirs)
    os.write(theirs, b"drawn")
    assert not hung_up(theirs)
    os.close(ours)
    assert hung_up(theirs)
    os.close(theirs)


async def test_a_screen_whose_terminal_has_gone_leaves_instead_of_drawing_for_nobody() -> None:
    """One that outlives the signal of it would go on telling that a board is alive."""
    ours, theirs = pty.openpty()
    app = Counted(Colours.FULL, daylight=False)
    app._terminal = theirs
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        assert app.is_running
        os.close(ours)
        before = app.looks
        while app.is_running:
            await pilot.pause()
        assert app.looks == before
    os.close(theirs)
