"""Who is on the board, and what each was checked in with: what a roster is made of."""

from dataclasses import dataclass

from monitor.incident.situation import Situation


@dataclass(frozen=True, slots=True)
class CheckIn:
    """One person as the board has them now."""

    wearer: int
    name: str
    call_sign: str
    crew: str
    leader: bool
    pack: int | None
    """None: no telemetry."""
    water_volume_l: float | None
    """Of the cylinder as it was told at the board; None: as the pack tells."""
    rated_bar: float | None
    apparatus: str
    """Empty: as the pack tells."""
    gauge_unit: str
    """Empty: as the procedure has it."""
    set_id: str
    """As printed on the set; empty: not told."""
    cylinder_id: str


def check_ins(s: Situation) -> tuple[CheckIn, ...]:
    """Everybody on the board, in its order."""
    return tuple(
        CheckIn(
            wearer=number,
            name=wearer.name,
            call_sign=wearer.call_sign,
            crew=wearer.crew,
            leader=wearer.leader,
            pack=wearer.pack,
            water_volume_l=wearer.water_volume_l,
            rated_bar=wearer.rated_bar,
            apparatus=wearer.apparatus,
            gauge_unit=wearer.gauge_unit,
            set_id=wearer.set_id,
            cylinder_id=wearer.cylinder_id,
        )
        for number, wearer in sorted(s.wearers.items())
    )
