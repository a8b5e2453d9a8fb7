"""A pack against the format over loopback: one of ours passes, one that is wrong does not."""

import json
import socket
import subprocess
import time
from collections.abc import Callable
from functools import partial
from typing import IO

from monitor.errors import Exit
from protocol.integrity import checksum
from simulators.conformance import plan
from simulators.one_pack import OnePack
from simulators.pack import Build, equipment
from simulators.randoms import child
from tests.functional.conftest import OUTBY, Home
from tests.functional.patience import PATIENCE_S, wait_until

HANDS = {
    plan.BUTTON: "button",
    plan.BUTTON_AGAIN: "button",
    plan.COMING_OUT: "coming-out",
    plan.DISTRESS: "distress",
    plan.DISTRESS_OFF: "distress off",
    plan.SWITCH_OFF: "quit",
}
"""What is typed for each prompt."""
LENGTH_S = 40
"""Of a whole trial only the first part: all of it is tried in virtual time."""
SEEN = {
    "tag", "first", "interval", "event", "copies", "sign-off", "beacon", "evacuate", "come out",
    "roll call", "test", "confirmed", "received", "level", "button", "unasked", "coming out",
}  # fmt: skip
ALERTS_AT = 33


def verdicts(home: Home, process: subprocess.Popen[str]) -> dict[str, str]:
    """By the names of the rules, from the table as JSON; what is said beside it is left out."""
    text = home.log_of(process)
    table = text[text.index("{") : text.rindex("}") + 1]
    return {rule["name"]: rule["verdict"] for rule in json.loads(table)["rules"]}


def listening(home: Home, port: int, *more: str) -> subprocess.Popen[str]:
    link = f"udp:127.0.0.1:{port}"
    process = home.start("conformance", "--json", "--link", link, "--for", str(LENGTH_S), *more)
    wait_until(lambda: "listening" in home.log_of(process), "it listens")
    return process


def test_one_of_our_packs_passes_with_a_key(home: Home, port: int) -> None:
    key = str(home.folder / "trial.key")
    assert home.run("keys", "create", key, "--exercise").returncode == Exit.OK
    trial = listening(home, port, "--key", key)
    with subprocess.Popen(
        [str(OUTBY), "packs", "--one", "--link", f"udp:{port}", "--key", key],
        env=home.environ, cwd=home.folder, stdin=subprocess.PIPE, text=True,
    ) as pack:  # fmt: skip
        assert pack.stdin is not None
        pack.stdin.write("interval 1\n")
        pack.stdin.flush()
        said = do_what_is_said(home, trial, pack.stdin)
        assert pack.wait(PATIENCE_S) == Exit.OK
    assert trial.wait(PATIENCE_S) == Exit.OK
    assert said >= {plan.BUTTON, plan.COMING_OUT, plan.SWITCH_OFF}
    found = verdicts(home, trial)
    assert {name for name in SEEN if found[name] != "passed"} == set()
    assert "failed" not in found.values()


def do_what_is_said(home: Home, trial: subprocess.Popen[str], typed: IO[str]) -> set[str]:
    """Act as the person at the pack, until it is switched off."""
    done = 0
    said: list[str] = []
    while plan.SWITCH_OFF not in said:
        said = wait_until(partial(more_than, home, trial, len(said)), "a prompt")
        for prompt in said[done:]:
            typed.write(f"{HANDS[prompt]}\n")
            typed.flush()
        done = len(said)
    return set(said)


def more_than(home: Home, trial: subprocess.Popen[str], count: int) -> list[str]:
    now = prompts(home, trial)
    return now if len(now) > count else []


def prompts(home: Home, trial: subprocess.Popen[str]) -> list[str]:
    mark = "outby conformance: now: "
    lines = home.log_of(trial).splitlines()
    return [line.removeprefix(mark) for line in lines if line.startswith(mark)]


def test_a_pack_that_is_wrong_fails_in_exactly_that(home: Home, port: int) -> None:
    trial = listening(home, port)
    send_until(lambda: trial.poll() is not None, port)
    assert trial.wait(PATIENCE_S) == Exit.NOT_KEPT
    found = verdicts(home, trial)
    assert {name for name, verdict in found.items() if verdict == "failed"} == {"bits"}
    assert "outby: rules are not kept: pack 101: bits" in home.log_of(trial)


def send_until(over: Callable[[], bool], port: int) -> None:
    """A pack of somebody else, which sets a bit that is sent as 0; after 8 s it signs off."""
    build = Build(101, 7, 1, equipment(300, 6.8, 55), 95, None)
    start = time.monotonic()
    one = OnePack(build, child(1, "one"), 0)
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as wire:
        wire.connect(("127.0.0.1", port))
        wire.settimeout(0.02)
        while not over():
            t = round((time.monotonic() - start) * 1e9)
            for frame in one.step(t):
                wire.send(wrong(frame))
            try:
                one.hear(t, wire.recv(300))
            except TimeoutError:
                pass
            except ConnectionRefusedError:
                return
            if t > 8e9 and not one.leaving:
                one.command(t, "quit")


def wrong(frame: bytes) -> bytes:
    """A report with the highest bit of its alerts set."""
    if len(frame) < ALERTS_AT + 3:
        return frame
    spoilt = bytearray(frame[:-2])
    spoilt[ALERTS_AT] |= 0x80
    return bytes(spoilt) + checksum(bytes(spoilt))
