"""The least that a thing can cost here: measured in the same run as ours, with nothing of ours."""

import os
import pty
import socket
import statistics
import subprocess
import sys
import time
import tty
from functools import cache

from tests.benchmarks.live import cpu_s, memory_mb

ROUNDS = 200
DATAGRAMS = 20_000
BARE_APP = "from textual.app import App\nApp().run()\n"
IMPORTS = "import sqlite3, pydantic, textual.app"
LOOK_S = 4.0
HOST = "127.0.0.1"


@cache
def receive_a_second() -> float:
    """Datagrams that a bare loop takes from a socket, and throws away."""
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as into,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as out,
    ):
        into.bind((HOST, 0))
        out.connect(into.getsockname())
        spent_s = 0.0
        for _ in range(DATAGRAMS // 100):
            for _ in range(100):
                out.send(bytes(46))
            start = time.perf_counter()
            for _ in range(100):
                into.recv(128)
            spent_s += time.perf_counter() - start
    return DATAGRAMS / spent_s


@cache
def udp_ms() -> float:
    """Half a round trip of one datagram to another process, median."""
    near, far = socket.socketpair(socket.AF_UNIX, socket.SOCK_DGRAM)
    child = os.fork()
    if not child:
        for _ in range(ROUNDS):
            far.send(far.recv(128))
        os._exit(0)
    trips = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        near.send(b"x")
        near.recv(128)
        trips.append((time.perf_counter() - start) * 500)
    os.waitpid(child, 0)
    near.close()
    far.close()
    return statistics.median(trips)


@cache
def terminal_ms() -> float:
    """From a key to its echo, by a program that does nothing else, median."""
    child, fd = pty.fork()
    if not child:
        tty.setraw(0)
        os.write(1, b"!")
        for _ in range(ROUNDS):
            os.write(1, os.read(0, 1))
        os._exit(0)
    while b"!" not in os.read(fd, 64):
        pass
    trips = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        os.write(fd, b"x")
        os.read(fd, 64)
        trips.append((time.perf_counter() - start) * 1e3)
    os.waitpid(child, 0)
    os.close(fd)
    return statistics.median(trips)


@cache
def start_s() -> float:
    """Python that imports what a board stands on, and ends; median of three."""
    taken = []
    for _ in range(3):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", IMPORTS], check=True)  # noqa: S603 - our own
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


@cache
def bare_app() -> tuple[float, float]:
    """Share of a core in percent, and memory in MB, of a terminal program that shows nothing."""
    child, fd = pty.fork()
    if not child:
        os.execv(sys.executable, [sys.executable, "-c", BARE_APP])  # noqa: S606 - our own Python
    os.set_blocking(fd, False)
    time.sleep(2.0)
    before, start = cpu_s(child), time.monotonic()
    time.sleep(LOOK_S)
    share = (cpu_s(child) - before) / (time.monotonic() - start) * 100
    memory = memory_mb(child)
    os.kill(child, 9)
    os.waitpid(child, 0)
    os.close(fd)
    return share, memory


@cache
def line_a_second(frame_bytes: int) -> float:
    """Frames a second that the bare bytes through a pty make, read and thrown away."""
    far, near = os.openpty()
    tty.setraw(far)
    tty.setraw(near)
    total, chunk = 4_000_000, bytes([1]) * 4_096
    child = os.fork()
    if not child:
        for _ in range(total // len(chunk)):
            sent = 0
            while sent < len(chunk):
                sent += os.write(far, chunk[sent:])
        os._exit(0)
    start, got = time.perf_counter(), 0
    while got < total // len(chunk) * len(chunk):
        got += len(os.read(near, 65_536))
    spent_s = time.perf_counter() - start
    os.waitpid(child, 0)
    os.close(far)
    os.close(near)
    return got / spent_s / frame_bytes
