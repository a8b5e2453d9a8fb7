"""Doors for these tests, made of the board's own scenes."""

from dataclasses import replace

from monitor.incident.picture import Picture
from monitor.overview.doors import Door, Trust
from tests.monitor.board import conftest as boards

S = 1_000_000_000


def door(
    number: int,
    name: str,
    picture: Picture,
    age_s: float = 0,
    trust: Trust = Trust.PROVED,
    **changes: object,
) -> Door:
    shown = replace(picture, entry_point=name, operation="Kiln works")
    made = Door(number, shown, round(age_s * S), trust)
    return replace(made, **changes)  # type: ignore[arg-type]


def peace() -> list[Door]:
    """Three doors, nothing wrong; each with packs of its own."""
    return [door(n, name, others(boards.quiet_scene(), n)) for n, name in enumerate("ABC", 1)]


def trouble() -> list[Door]:
    """A danger at B, C not heard for 40 s, A with something that does not fit."""
    a, b, c = peace()
    return [
        replace(a, trust=Trust.REFUSED, fault="commit 812: its running digest does not fit"),
        replace(b, picture=others(replace(boards.trouble_scene(), entry_point="B"), 2)),
        replace(c, age_ns=40 * S),
    ]


def others(picture: Picture, number: int) -> Picture:
    """The same with other people and packs."""
    return replace(
        picture,
        wearers=tuple(
            replace(w, pack=None if w.pack is None else w.pack + 1_000 * number,
                    name=f"{w.name} {number}", call_sign=f"{w.call_sign}/{number}")
            for w in picture.wearers
        ),
    )  # fmt: skip
