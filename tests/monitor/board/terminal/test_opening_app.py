"""The opening sheet in a terminal that the tests hold."""

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

from monitor import procedures
from monitor.board.pages.opening_page import LinkTry
from monitor.board.sheets.opening import Offer, opening_form
from monitor.board.terminal.lines_view import LinesView
from monitor.board.terminal.opening_app import OpeningApp, OpeningOptions
from monitor.board.terminal.themes import Colours
from monitor.incident.procedure import Procedure
from monitor.settings import Settings

MakeOffer = Callable[..., Offer]
KNOWN = {name: procedures.load(name) for name in procedures.names()}
SAID = Settings(name="Kiln Lane", officer="R. Harrow")


@dataclass
class World:
    """What the sheet looks at, counted."""

    tried: list[tuple[str, str]] = field(default_factory=list)
    may_go: threading.Event = field(default_factory=threading.Event)
    clock: int = 0

    def rules(self, name: str) -> Procedure | None:
        return KNOWN.get(name)

    def try_links(self, text: str, use: str) -> Sequence[LinkTry]:
        assert self.may_go.wait(5)
        self.tried.append((text, use))
        return (LinkTry(f"{use} {text or 'links'}"),)

    def now(self) -> str:
        self.clock += 1
        return f"tick {self.clock}"


@pytest.fixture
def world() -> World:
    made = World()
    made.may_go.set()
    return made


def app_of(world: World, offer: Offer, **options: Any) -> OpeningApp:
    form = opening_form(SAID, offer, clock_checked=False)
    return OpeningApp(form, OpeningOptions(world.rules, world.try_links, world.now, **options))


def text_of(app: OpeningApp) -> str:
    view = app.query_one(LinesView)
    return "\n".join(view.render_line(y).text.rstrip() for y in range(app.size.height))


async def settled(app: OpeningApp) -> str:
    await app.workers.wait_for_complete()
    return text_of(app)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_typed_through(world: World, make_offer: MakeOffer, size: tuple[int, int]) -> None:
    app = app_of(world, make_offer())
    async with app.run_test(size=size) as pilot:
        assert "incident          Kiln Lane_" in text_of(app)
        await pilot.press("enter", "enter", "A", "enter", "enter", "enter", "1")
        assert "exercise links: opens" in await settled(app)
        await pilot.press("enter", "3")
        assert "plain: Plain procedure, 35 % low air" in text_of(app)
        await pilot.press("enter", "enter", "enter", "u", "d", "p", "enter")
        assert "exercise udp: opens" in await settled(app)
        await pilot.press("enter", "2", "enter")
    opening = app.return_value
    assert opening is not None
    assert opening.said["entry_point"] == "A"
    assert opening.said["use"] == "exercise"
    assert not opening.clock_checked
    assert world.tried == [("", "exercise"), ("udp", "exercise")]


async def test_enter_waits_for_the_links_that_are_being_tried(
    world: World, make_offer: MakeOffer
) -> None:
    world.may_go.clear()
    app = app_of(world, make_offer())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("enter", "enter", "enter", "enter", "enter", "1")
        assert "links: say exercise or real first" in text_of(app)
        world.may_go.set()
        await pilot.press("enter")
        assert world.tried == [("", "exercise")]
        assert "procedure         _" in text_of(app)


async def test_the_clock_goes_on(world: World, make_offer: MakeOffer) -> None:
    app = app_of(world, make_offer())
    async with app.run_test(size=(80, 24)):
        before = world.clock
        app._draw()
        assert f"This machine's clock: tick {before + 1}" in text_of(app)


@pytest.mark.parametrize("way", ["escape", "ctrl+c", "ctrl+q", "ctrl+z"])
async def test_every_way_out_asks(world: World, make_offer: MakeOffer, way: str) -> None:
    app = app_of(world, make_offer())
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("X", way)
        assert "LEAVE? Nothing is opened." in text_of(app)
        await pilot.press("z")
        assert "incident          X_" in text_of(app)
        await pilot.press(way, way)
    assert app.return_value is None


@pytest.mark.parametrize("colours", list(Colours))
async def test_in_every_palette(world: World, make_offer: MakeOffer, colours: Colours) -> None:
    app = app_of(world, make_offer(), colours=colours, daylight=True)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.resize_terminal(120, 40)
        assert "OPENING AN INCIDENT" in text_of(app)
