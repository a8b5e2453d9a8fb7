"""How well an incident is recorded, for a probe or a person: one model, three ways. Pure."""

from collections.abc import Iterator, Sequence

from pydantic import BaseModel, ConfigDict

from monitor.feed.lines import NS_PER_S, Link, Version
from monitor.incident.picture import Picture, Priority
from monitor.iso import iso_s

HORIZON_OLD_S = 2.0
"""A recorder that is well commits every quarter of a second."""
WELL = "ok"
"""The word of a disk that is well."""


class Status(BaseModel):
    """One incident that is being recorded. No names of people."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    version: Version = 1
    journal: str
    incident: str
    use: str
    pid: int | None
    """The recorder's process."""
    since: str
    """When this recorder began, ISO 8601 in UTC."""
    horizon_age_s: float
    """So long ago everything up to then was in the journal."""
    under_air: int
    signals_heard: int
    signals_expected: int
    links: list[Link]
    disk: str
    sound: str
    dangers_waiting: int
    cautions_waiting: int
    frames_refused: dict[str, int]
    """By reason, since the opening."""
    faults: list[str]
    """What is not well, in words; empty: all is."""


def status(
    picture: Picture, journal: str, pid: int | None, since_wall_ns: int, now_wall_ns: int
) -> Status:
    """Tell how it is recorded, at ``now_wall_ns`` of the wall clock."""
    age_s = max(0, now_wall_ns - picture.wall_ns) / NS_PER_S
    waiting = [one.priority for one in picture.alarms if not one.acknowledged]
    return Status(
        journal=journal,
        incident=picture.name,
        use=picture.use,
        pid=pid,
        since=iso_s(since_wall_ns),
        horizon_age_s=age_s,
        under_air=picture.under_air,
        signals_heard=picture.signals_heard,
        signals_expected=picture.signals_expected,
        links=[Link(link=x.link, name=x.name, up=x.up, detail=x.detail) for x in picture.links],
        disk=picture.disk,
        sound=picture.sound,
        dangers_waiting=waiting.count(Priority.DANGER),
        cautions_waiting=waiting.count(Priority.CAUTION),
        frames_refused=dict(picture.refused),
        faults=list(_faults(picture, age_s)),
    )


def _faults(picture: Picture, age_s: float) -> Iterator[str]:
    if age_s > HORIZON_OLD_S:
        yield f"nothing was committed for {int(age_s)} s"
    if picture.disk != WELL:
        yield f"the disk: {picture.disk}"
    for link in picture.links:
        if not link.up:
            yield f"{link.name} is down: {link.detail}"
    if picture.sound in {"missing", "failing"}:
        yield "no sound"


def text(one: Status) -> str:
    """Tell it in lines, for a person."""
    waits = f"{one.dangers_waiting} dangers, {one.cautions_waiting} cautions wait"
    up = sum(link.up for link in one.links)
    lines = [
        f"{one.incident}, {one.use.upper()}: {'; '.join(one.faults) or 'recorded well'}",
        f"  journal   {one.journal}",
        f"  recorder  process {one.pid or 'not known'}, since {one.since}",
        f"  heard     {one.signals_heard} of {one.signals_expected} signals",
        f"  links     {up} of {len(one.links)} up",
        f"  people    {one.under_air} under air; {waits}",
        f"  disk      {one.disk}; sound {one.sound or 'not said'}",
    ]
    return "\n".join(lines)


_GAUGES = (
    ("under_air", "People who breathe from a set.", "under_air"),
    ("signals_heard", "Packs that are heard.", "signals_heard"),
    ("signals_expected", "Packs that ought to be heard.", "signals_expected"),
    ("dangers_waiting", "Dangers that nobody has taken.", "dangers_waiting"),
    ("cautions_waiting", "Cautions that nobody has taken.", "cautions_waiting"),
    ("horizon_age_seconds", "Since everything was in the journal.", "horizon_age_s"),
)
"""Name of the figure, what it is, field of the status."""


def metrics(found: Sequence[Status]) -> str:
    """Tell all of them in the text format that common collectors read.

    OpenMetrics 1.0 (https://prometheus.io/docs/specs/om/open_metrics_spec/); readers of the older
    text format take it too.
    """
    lines = [*_head("recordings", "gauge", "Incidents that are recorded here."),
             f"outby_recordings {len(found)}"]  # fmt: skip
    for name, what, field in _GAUGES:
        lines += _head(name, "gauge", what)
        lines += [f"outby_{name}{_labels(one)} {getattr(one, field)}" for one in found]
    lines += _head("well", "gauge", "1 where nothing is wrong with the recording.")
    lines += [f"outby_well{_labels(one)} {int(not one.faults)}" for one in found]
    lines += _head("link_up", "gauge", "1 where a link is up.")
    lines += [
        f"outby_link_up{_labels(one, link=link.name)} {int(link.up)}"
        for one in found
        for link in one.links
    ]
    lines += _head("frames_refused", "counter", "Frames not let through, by reason.")
    lines += [
        f"outby_frames_refused_total{_labels(one, reason=reason)} {count}"
        for one in found
        for reason, count in one.frames_refused.items()
    ]
    return "\n".join([*lines, "# EOF"])


def _head(name: str, kind: str, what: str) -> list[str]:
    return [f"# TYPE outby_{name} {kind}", f"# HELP outby_{name} {what}"]


def _labels(one: Status, **more: str) -> str:
    said = {"incident": one.incident, "use": one.use, **more}
    return "{" + ",".join(f'{key}="{_escaped(value)}"' for key, value in said.items()) + "}"


def _escaped(value: str) -> str:
    return value.replace("\\", r"\\").replace('"', r"\"").replace("\n", r"\n")
