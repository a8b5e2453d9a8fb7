"""The program against the format's vectors, before it judges anybody else."""

import json
from dataclasses import dataclass
from typing import Any

import shared
from protocol import codec
from protocol.framing import wrap
from protocol.freshness import Window
from protocol.integrity import Keyring
from protocol.rejects import Reject


@dataclass(frozen=True, slots=True)
class Checked:
    """How many vectors were gone through, and the names of those that do not fit."""

    count: int
    wrong: tuple[str, ...]


def check() -> Checked:
    """Go through shared/vectors/packets.json: good and bad frames, and the window."""
    vectors: dict[str, Any] = json.loads(shared.path("vectors", "packets.json").read_text("utf-8"))
    keys = {int(epoch): bytes.fromhex(key) for epoch, key in vectors["fleet_keys"].items()}
    keyring = Keyring(keys, vectors["use"], min(keys))
    good, bad = vectors["good"], vectors["bad"]
    wrong = [one["name"] for one in good if not _good(one)]
    wrong += [one["name"] for one in bad if not _bad(one, vectors["identity"], keyring)]
    if not _window(vectors["window"]):
        wrong.append("window")
    return Checked(len(good) + len(bad) + 1, tuple(wrong))


def _good(vector: dict[str, Any]) -> bool:
    frame, key = bytes.fromhex(vector["frame"]), vector["key"]
    packet = codec.decode(frame)
    if isinstance(packet, Reject) or wrap(frame) != bytes.fromhex(vector["line"]):
        return False
    return codec.encode(packet, bytes.fromhex(key) if key else None) == frame


def _bad(vector: dict[str, Any], identity: int, keyring: Keyring) -> bool:
    frame = bytes.fromhex(vector["frame"])
    side, place = vector["receiver"].split()
    keyed = side == "keyed"
    if place == "base":
        got = codec.receive(frame, keyring if keyed else None)
    else:
        got = codec.receive_down(
            frame, identity, keyring.pack_keys(identity, keyring.current_epoch) if keyed else None
        )
    return isinstance(got, Reject) and got.name == vector["reason"]


def _window(steps: list[dict[str, Any]]) -> bool:
    window = Window()
    for step in steps:
        verdict = window.judge(step["sequence"])
        if verdict.name != step["verdict"]:
            return False
        if not isinstance(verdict, Reject):
            window.mark(step["sequence"])
    return True
