"""What is well and what is not; figures read back by two readers that are not ours."""

from dataclasses import replace
from typing import Any

import pytest
from prometheus_client import parser as text_format
from prometheus_client.openmetrics import parser as openmetrics

import shared
from monitor.feed.status import Status, metrics, status, text
from monitor.follower import Follower
from monitor.incident.picture import LinkView, Picture

S = 1_000_000_000


@pytest.fixture(scope="module")
def picture() -> Picture:
    with Follower(shared.path("journals", "kiln-lane.journal")) as follower:
        while follower.poll() and follower.catching_up:
            pass
        return follower.picture()


def of(picture: Picture, age_s: float = 0.1) -> Status:
    well = replace(
        picture,
        disk="ok",
        sound="player",
        links=(LinkView(1, "udp:41901", up=True, detail=""),),
        refused=(("bad checksum", 3), ('odd "quoted" \\ one', 1)),
    )
    now = picture.wall_ns + round(age_s * S)
    return status(well, "kiln-lane.journal", 77, picture.wall_ns - 60 * S, now)


def test_one_that_is_recorded_well_has_no_fault(picture: Picture) -> None:
    found = of(picture)
    assert found.faults == []
    assert found.horizon_age_s == pytest.approx(0.1)
    assert "recorded well" in text(found)
    assert "process 77" in text(found)


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"disk": "full"}, "the disk: full"),
        ({"sound": "missing"}, "no sound"),
        ({"sound": "failing"}, "no sound"),
        (
            {"links": (LinkView(1, "serial:radio", up=False, detail="no such device"),)},
            "serial:radio is down: no such device",
        ),
    ],
)
def test_what_is_not_well_is_said(picture: Picture, change: dict[str, Any], fault: str) -> None:
    usual: dict[str, Any] = {"disk": "ok", "sound": "player", "links": ()}
    odd = replace(picture, **{**usual, **change})
    found = status(odd, "x.journal", None, picture.wall_ns, picture.wall_ns)
    assert found.faults == [fault]
    assert fault in text(found)


def test_a_recorder_that_stands_still_is_not_well(picture: Picture) -> None:
    assert of(picture, 1.9).faults == []
    assert of(picture, 5.7).faults == ["nothing was committed for 5 s"]


def test_no_name_of_a_person_is_told(picture: Picture) -> None:
    for said in (of(picture).model_dump_json(), text(of(picture)), metrics([of(picture)])):
        assert picture.officer not in said
        assert "Alpha" not in said


def test_figures_are_read_back_by_both_formats(picture: Picture) -> None:
    """OpenMetrics 1.0 and the older text format, by the reference client's parsers."""
    said = metrics([of(picture), of(replace(picture, name="Second"), 9.0)]) + "\n"
    found = {family.name: family for family in openmetrics.text_string_to_metric_families(said)}
    assert found["outby_recordings"].samples[0].value == 2
    assert [sample.value for sample in found["outby_well"].samples] == [1, 0]
    refused = {s.labels["reason"]: s.value for s in found["outby_frames_refused"].samples}
    assert refused == {"bad checksum": 3, 'odd "quoted" \\ one': 1}
    assert found["outby_link_up"].samples[0].labels["link"] == "udp:41901"
    older = {s.name for f in text_format.text_string_to_metric_families(said) for s in f.samples}
    assert {"outby_under_air", "outby_frames_refused_total"} <= older


def test_nothing_recorded_is_a_figure_too() -> None:
    (family,) = [
        family
        for family in openmetrics.text_string_to_metric_families(metrics([]) + "\n")
        if family.name == "outby_recordings"
    ]
    assert family.samples[0].value == 0
