"""The screen itself: keys become lines for the packs and acts for the recorder."""

import json
from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from typing import Any

import pytest

from monitor.instructor.app import InstructorApp, InstructorOptions
from monitor.instructor.tail import TruthTail
from simulators.scenario_file import load
from tests.monitor.board.conftest import FakeDesk, FakeSource, quiet_scene


@pytest.fixture
def make(tmp_path: Path, clock: Any) -> Callable[[], Any]:
    def made() -> Any:
        ids = iter(f"test-act-{n}" for n in range(100))
        options = InstructorOptions(
            tmp_path / "run.instructor.jsonl", load("kiln-lane"), lambda: next(ids), zone=UTC
        )
        source, desk = FakeSource(quiet_scene()), FakeDesk()
        truth = TruthTail(tmp_path / "run.truth.jsonl")
        return InstructorApp(source, truth, desk, clock, options), source, desk

    return made


def wants(tmp_path: Path) -> list[dict[str, Any]]:
    path = tmp_path / "run.instructor.jsonl"
    return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []


async def test_trouble_by_hand_is_a_line_for_the_packs(make: Any, tmp_path: Path) -> None:
    app, _, desk = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4", "enter", "3", "1")
    (want,) = wants(tmp_path)
    assert want["inject"]["name"] == "by hand 1: collapse of 4"
    assert desk.asked == []


async def test_the_packs_stand_still_once_the_incident_does(make: Any, tmp_path: Path) -> None:
    app, source, desk = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("full_stop")
        assert wants(tmp_path) == []
        assert (desk.asked[-1].what, desk.asked[-1].on) == ("pause_exercise", True)
        desk.answer_last()
        app.tick()
        assert wants(tmp_path) == [{"do": "stand", "still": True}]
        desk.answer_last(why="The exercise is paused already.")
        app.tick()
    assert len(wants(tmp_path)) == 1
    assert source.polls > 0


async def test_a_bookmark_is_a_note_for_the_replay(make: Any, tmp_path: Path) -> None:
    app, _, desk = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4", "enter", "1", "4")
    (note,) = desk.asked
    assert (note.what, note.by, note.text, note.wearer) == ("note", "instructor", "bookmark", 4)
    assert wants(tmp_path) == [{"do": "bookmark", "text": "14:32:07 of wearer 4"}]


async def test_ticks_are_kept_with_their_time(make: Any, tmp_path: Path) -> None:
    app, _, _ = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("4", "enter", "1", "2")
    assert wants(tmp_path) == [{"do": "tick", "told": "told command", "wearers": [4]}]


async def test_leaving_asks_nothing(make: Any) -> None:
    app, _, _ = make()
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("b", "down", "q")
    assert app.return_code == 0
