"""What ``outby doctor`` looks at: each a small trial that gives one finding and raises nothing."""

import contextlib
import os
import shutil
import socket
import statistics
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path
from typing import NamedTuple, TextIO

from monitor.clock import Clock
from monitor.errors import OutbyError
from monitor.journal.answering import answering

COMMITS = 40
COMMIT_BYTES = 100_000
"""Some seconds of fifty packs; 4 MB in all."""
SLOW_MS = 100.0
"""A sync that takes longer leaves more than a beat unsaved when the power goes."""
ROOM_BYTES = 500_000_000
"""Eight hours of 50 packs take 86 MB; the reserve beside a journal 64 MiB."""
BUFFER_BYTES = 4 * 1024 * 1024
"""What a link asks for; Linux counts the double of it."""
COLUMNS, ROWS = 80, 24
SIGNS = "■▲●~"
SOON_S = 5.0
YEAR_NS = 365 * 86_400 * 1_000_000_000
TOO_EARLY_NS = 54 * YEAR_NS
"""The end of 2023: before this program was."""
MS_PER_NS = 1e-6


class Verdict(StrEnum):
    """How it stands."""

    GOOD = "good"
    LOOK = "look"
    """It goes, but a person should look at it."""
    BAD = "bad"


class Finding(NamedTuple):
    """One line."""

    verdict: Verdict
    what: str
    found: str
    to_do: str = ""


def disk(folder: Path) -> Finding:
    """How long a commit takes until it is on the disk, and what room there is."""
    if answering([folder])[1]:
        to_do = "see to it, or set incidents_folder"
        return Finding(Verdict.BAD, "disk", f"{folder} does not answer", to_do)
    there = folder
    while not there.exists() and there != there.parent:
        there = there.parent
    trial = there / f".outby-doctor-{os.getpid()}"
    took: list[float] = []
    clock = Clock()
    try:
        with trial.open("xb") as file:
            for _ in range(COMMITS):
                began_ns = clock.boot_ns()
                file.write(bytes(COMMIT_BYTES))
                file.flush()
                os.fsync(file.fileno())
                took.append((clock.boot_ns() - began_ns) * MS_PER_NS)
        free = shutil.disk_usage(there).free
    except OSError as error:
        to_do = "see to the folder, or set incidents_folder"
        return Finding(Verdict.BAD, "disk", f"{there}: {error.strerror}", to_do)
    finally:
        with contextlib.suppress(OSError):
            trial.unlink(missing_ok=True)
    found = f"{statistics.median(took):.1f} ms a commit, worst {max(took):.0f} ms, "
    found += f"{free / 1e9:.1f} GB free in {there}"
    if free < ROOM_BYTES:
        return Finding(Verdict.BAD, "disk", found, "make room")
    if statistics.median(took) > SLOW_MS:
        return Finding(Verdict.LOOK, "disk", found, "slow: set spill_folder to another disk")
    return Finding(Verdict.GOOD, "disk", found)


def buffers() -> Finding:
    """What the system gives a port that asks for 4 MiB."""
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as port:
            port.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, BUFFER_BYTES)
            given = port.getsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF)
    except OSError as error:
        return Finding(Verdict.BAD, "buffers", f"no UDP port: {error.strerror}", "see the network")
    found = f"{given // 1024} KiB for a UDP port"
    if given >= BUFFER_BYTES:
        return Finding(Verdict.GOOD, "buffers", found)
    to_do = f"sysctl -w net.core.rmem_max={BUFFER_BYTES}, or a flood loses frames sooner"
    return Finding(Verdict.LOOK, "buffers", found, to_do)


def clock() -> Finding:
    """Whether the wall clock can be right."""
    wall_ns = Clock().wall_ns()
    from monitor.iso import iso_s

    if wall_ns < TOO_EARLY_NS:
        return Finding(Verdict.BAD, "clock", iso_s(wall_ns), "set it, and see to its battery")
    return Finding(Verdict.LOOK, "clock", iso_s(wall_ns), "compare it with control's")


def terminal(stream: TextIO | None) -> Finding:
    """Whether a board can be drawn here."""
    if stream is None or not stream.isatty():
        return Finding(Verdict.LOOK, "terminal", "none here", "the plain board goes without")
    size = os.get_terminal_size(stream.fileno())
    found = f"{os.environ.get('TERM', '')}, {size.columns} columns, {size.lines} rows"
    if size.columns < COLUMNS or size.lines < ROWS:
        return Finding(Verdict.BAD, "terminal", found, f"make it {COLUMNS} by {ROWS} or larger")
    if "NO_COLOR" in os.environ:
        return Finding(Verdict.GOOD, "terminal", f"{found}, without colours (NO_COLOR)")
    return Finding(Verdict.GOOD, "terminal", found)


def signs() -> Finding:
    """Whether its signs can be written at all; whether the font has them only a person sees."""
    from monitor.cli.terminal import ascii_only

    if ascii_only():
        to_do = "set LANG to one in UTF-8, or --glyphs ascii"
        return Finding(Verdict.LOOK, "signs", "this locale writes ASCII alone", to_do)
    to_do = "if those are not square, triangle, circle, wave: --glyphs ascii"
    return Finding(Verdict.LOOK, "signs", SIGNS, to_do)


def sound(setting: str) -> Finding:
    """Play two soft pulses by the player that a recorder would take."""
    import subprocess
    import tempfile

    from monitor.recorder.player import check, commands
    from monitor.sound.tones import NOTICE
    from monitor.sound.wav import wav

    if setting in {"off", "bell"}:
        return Finding(Verdict.LOOK, "sound", f"{setting}, as it is set", "boards alone are heard")
    try:
        check(setting)
        found = commands(setting)
    except OutbyError as error:
        return Finding(Verdict.BAD, "sound", str(error))
    if not found:
        to_do = "install pulseaudio-utils, pipewire-bin or alsa-utils"
        return Finding(Verdict.BAD, "sound", "no player is there", to_do)
    name = found[0][0]
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        file.write(wav(NOTICE))
        file.flush()
        try:
            done = subprocess.run(  # noqa: S603 - the player that a recorder would start
                [*found[0], file.name], capture_output=True, timeout=SOON_S, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            return Finding(Verdict.BAD, "sound", f"{name}: {error}", "see to the loudspeaker")
    if done.returncode:
        to_do = "see to the loudspeaker, or name another: --sound COMMAND"
        return Finding(Verdict.BAD, "sound", f"{name} ended with {done.returncode}", to_do)
    to_do = "two soft pulses were played: if nobody heard them, see to the loudspeaker"
    return Finding(Verdict.LOOK, "sound", name, to_do)


def ports(links: Sequence[str]) -> Finding:
    """Which serial ports are there, and which cannot be opened by this user."""
    from serial.tools.list_ports import comports

    found = [port.device for port in comports()]
    shut = [name for name in found if not os.access(name, os.R_OK | os.W_OK)]
    if shut:
        to_do = "join the group that owns them (often dialout), and log in again"
        return Finding(Verdict.BAD, "ports", f"not for this user: {', '.join(shut)}", to_do)
    wanted = any(link.startswith("serial:") for link in links)
    if not found:
        verdict = Verdict.BAD if wanted else Verdict.GOOD
        return Finding(verdict, "ports", "no serial port", "plug it in" if wanted else "")
    return Finding(Verdict.GOOD, "ports", ", ".join(found))


def keys(path: str) -> Finding:
    """Whether the key file that is set can be read, and for what it is."""
    from monitor import keyfile
    from shared import reading

    if not path:
        to_do = "frames prove nothing; make one: outby keys create"
        return Finding(Verdict.LOOK, "keys", "none is set: open mode", to_do)
    try:
        keyring = keyfile.load(reading.home(path))
    except OutbyError as error:
        return Finding(Verdict.BAD, "keys", str(error))
    return Finding(
        Verdict.GOOD, "keys", f"{path}: for {keyring.use}, epoch {keyring.current_epoch}"
    )
