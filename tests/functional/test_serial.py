"""Packs on a serial line, which here is a pseudo-terminal: heard, proven live, with their level."""

from pathlib import Path

from monitor.incident.picture import Signal
from tests.functional.conftest import OPENING, Home, folded, horizon, wait_recording
from tests.functional.patience import PATIENCE_S, wait_until


def test_the_drill_over_a_serial_line(home: Home, journal: Path) -> None:
    line = home.folder / "radio"
    packs = home.start("packs", "kiln-lane", "--link", f"serial:{line}")
    wait_until(line.exists, "the packs' end of the line")
    home.start("record", str(journal), "--link", f"serial:{line}", *OPENING)
    wait_recording(journal)
    wait_until(
        lambda: sum(w.signal is Signal.HEARD for w in folded(journal).wearers) >= 6,
        "six wearers proven live",
    )
    levels = [w.signal_dbm for w in folded(journal).wearers if w.signal is Signal.HEARD]
    assert all(level is not None and -120 <= level <= -20 for level in levels)
    assert packs.poll() is None


def test_a_line_that_ends_is_said_and_recording_goes_on(home: Home, journal: Path) -> None:
    line = home.folder / "radio"
    packs = home.start("packs", "kiln-lane", "--link", f"serial:{line}")
    wait_until(line.exists, "the packs' end of the line")
    home.start("record", str(journal), "--link", f"serial:{line}", *OPENING)
    wait_recording(journal)
    assert [link.up for link in folded(journal).links] == [True]
    packs.kill()
    wait_until(lambda: not folded(journal).links[0].up, "the link is said to be down")
    wait_recording(journal)


def receiver_states(journal: Path) -> list[str]:
    return [alarm.state for alarm in folded(journal).alarms if alarm.kind == "receiver_down"]


def test_a_receiver_that_is_pulled_is_one_alarm_and_closed_when_it_is_back(
    home: Home, journal: Path
) -> None:
    line = home.folder / "radio"
    packs = home.start("packs", "kiln-lane", "--link", f"serial:{line}")
    wait_until(line.exists, "the packs' end of the line")
    home.start("record", str(journal), "--link", f"serial:{line}", *OPENING)
    wait_recording(journal)
    before = horizon(journal)
    packs.kill()
    wait_until(lambda: receiver_states(journal) == ["unacknowledged"], "the alarm")
    (alarm,) = [a for a in folded(journal).alarms if a.kind == "receiver_down"]
    assert alarm.raised_at_ns - before <= 2_000_000_000
    packs.wait(PATIENCE_S)
    line.unlink()  # left behind by a run that was killed; its device may be another by now
    home.start("packs", "kiln-lane", "--link", f"serial:{line}")
    back = "returned, unacknowledged"
    wait_until(lambda: receiver_states(journal) == [back], "the line is back")
