"""A scenario straight into a capture: as fast as the machine goes, with no base and no waiting."""

from pathlib import Path
from typing import TYPE_CHECKING

from monitor.errors import AlreadyThere, BadFile
from shared.writing import new_file

if TYPE_CHECKING:
    from simulators.fleet import Fleet
    from simulators.truth import TruthFile

STEP_NS = 1_000_000_000
"""Played in one go: what is held in memory is the frames of so long."""


def capture(
    fleet: "Fleet", path: Path, start_wall_ns: int, *, bare: bool, truth: "TruthFile | None"
) -> int:
    """Write all that the base radios put on their lines; gives how many frames. Raises BadFile.

    ``start_wall_ns``: what the clock shows where the scenario begins. ``bare``: frames as they
    left the pack, without level and beat. A file that is there is not written over.
    """
    from monitor.export.capture import CaptureWriter
    from simulators.base_radio import BaseRadio

    numbers = range(1, fleet.bases + 1)
    radios = {number: BaseRadio(number, fleet.plugged) for number in numbers}
    frames = 0
    try:
        with new_file(path) as file:
            writer = CaptureWriter(file, "outby packs", "EXERCISE: virtual packs")
            lines = {n: writer.interface(f"base radio {n}", "virtual") for n in numbers}
            for t_ns in range(0, fleet.end_ns + STEP_NS, STEP_NS):
                now_ns = min(t_ns, fleet.end_ns)
                air = fleet.step(now_ns)
                for number, radio in radios.items():
                    heard = [(sent.t_ns, sent.frame) for sent in air if sent.base == number]
                    for at_ns, frame in heard if bare else radio.stamped(air, now_ns):
                        writer.packet(lines[number], start_wall_ns + at_ns, frame)
                        frames += 1
                if truth is not None:
                    truth.write(fleet.take_notes())
    except FileExistsError:
        raise AlreadyThere("there is a file already", str(path), "name another") from None
    except OSError as error:
        raise BadFile(f"capture: {error.strerror}", str(path)) from None
    if truth is not None:
        truth.write(fleet.last_notes())
    return frames
