"""Kinds of damage, and what must be true of a command that meets it: one line and no traceback.

Each kind is a function of a seeded random source, so that one seed is one file for ever.
"""

import io
import json
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from random import Random

from monitor.cli import main

DEEP = "\u2603deep"
"""Stands for brackets ten thousand deep, which no library writes."""
DIGITS = "\u2603digits"
"""The same for a number of five thousand digits."""
NASTY: tuple[object, ...] = (
    None, True, False, -1, 0, 1, 2**31, 2**63, -(2**63) - 1, 10**400, 10**18, 1.5, 1e308,
    float("nan"), float("inf"), "", "x", "\x1b[2J", "\x9b2J", "a\u202eb", "a\u200bb", "a\nb\rc\0",
    "=1+1", "x" * 1_000, "\u0301" * 60, "9" * 5_000, [], {}, [[]], {"a": 1}, [1] * 200,
    DEEP, DIGITS,
)  # fmt: skip
"""Values in the place of another."""
CHUNKS = (
    b"\x00", b"\xff\xfe", b"\xc3", b"\xed\xa0\x80", b"\x1b[2J", "\u202e".encode(),
    "\u200b".encode(), b"\r", b"\n\n", b'"', b"'", b'"""', b"[" * 10_000, b"{a=" * 10_000,
    b"9" * 5_000, b"-", b"=",
    b"#", b"," * 3_000, b";", b"\t", b"x" * 100_000, b"[[", b"]]", b"nan", b"inf", b"1e999",
    b"0x" + b"f" * 500, b"2026-13-45", b"\\u0000", b"\\ud800", b"\xef\xbb\xbf",
)  # fmt: skip
"""Bytes put into a text."""


@dataclass(frozen=True, slots=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str


def run(argv: Sequence[str]) -> Ended:
    """Run a command here. Any exception is a failure of the test."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = main(argv)
    return Ended(code, out.getvalue(), err.getvalue())


def check(ended: Ended, codes: Sequence[int]) -> None:
    """What must be true of the end of any command that was given any file."""
    assert ended.code in codes, ended.err
    # Not by splitlines, which would pass over what it takes for the end of a line.
    lines = [line.removesuffix("\r") for line in (ended.out + ended.err).split("\n")]
    assert all(line.replace("\t", " ").isprintable() for line in lines)
    if ended.code:
        assert ended.err.startswith("outby: ")
        assert ended.err.count("\n") == 1
        assert len(ended.err) < 3_000


# ---------------------------------------------------------------- text


def flipped(rng: Random, data: bytes) -> bytes:
    """Some bytes are others."""
    raw = bytearray(data)
    for _ in range(rng.choice([1, 1, 3, 20])):
        raw[rng.randrange(len(raw))] = rng.randrange(256)
    return bytes(raw)


def cut(rng: Random, data: bytes) -> bytes:
    """The end is missing, or a piece in the middle."""
    at, until = sorted((rng.randrange(len(data) + 1), rng.randrange(len(data) + 1)))
    return data[:at] if rng.random() < 0.5 else data[:at] + data[until:]


def put_in(rng: Random, data: bytes) -> bytes:
    """Something was put in."""
    at = rng.randrange(len(data) + 1)
    return data[:at] + rng.choice(CHUNKS) + data[at:]


def lines_moved(rng: Random, data: bytes) -> bytes:
    """Lines are twice there, gone, or in another order."""
    lines = data.splitlines(keepends=True)
    for _ in range(rng.choice([1, 2, 10])):
        one, other = rng.randrange(len(lines)), rng.randrange(len(lines))
        lines[one] = rng.choice([b"", lines[other], lines[one] * 2])
    return b"".join(lines)


def value_changed(rng: Random, data: bytes) -> bytes:
    """A value is another one."""
    lines = data.splitlines(keepends=True)
    with_value = [n for n, line in enumerate(lines) if b"=" in line] or [0]
    number = rng.choice(with_value)
    key, _, _ = lines[number].partition(b"=")
    lines[number] = key + b"= " + as_json(rng.choice(NASTY)) + b"\n"
    return b"".join(lines)


def value_of_line_changed(rng: Random, data: bytes) -> bytes:
    """A value within one line of JSON is another one."""
    lines = data.splitlines(keepends=True)
    number = rng.randrange(len(lines))
    lines[number] = json_changed(rng, lines[number]) + b"\n"
    return b"".join(lines)


def rubbish(rng: Random, _data: bytes) -> bytes:
    """Nothing of it is left."""
    return rng.randbytes(rng.choice([0, 1, 100, 5_000]))


TEXT_KINDS: dict[str, Callable[[Random, bytes], bytes]] = {
    "flipped": flipped, "cut": cut, "put in": put_in, "lines moved": lines_moved,
    "value changed": value_changed, "value in a line changed": value_of_line_changed,
    "rubbish": rubbish,
}  # fmt: skip


# ---------------------------------------------------------------- JSON


def as_json(value: object) -> bytes:
    """A value, with what no library writes."""
    text = json.dumps(value)
    text = text.replace(json.dumps(DEEP), "[" * 10_000 + "]" * 10_000)
    return text.replace(json.dumps(DIGITS), "9" * 5_000).encode()


def json_changed(rng: Random, data: bytes) -> bytes:
    """Another value, a key more or a key less, somewhere within one JSON object."""
    try:
        whole = json.loads(data)
    except (ValueError, RecursionError):
        return rng.choice(CHUNKS)
    at, key = whole, None
    while isinstance(at, dict | list) and at:
        key = rng.choice(list(at)) if isinstance(at, dict) else rng.randrange(len(at))
        below = at[key]
        if not isinstance(below, dict | list) or not below or rng.random() < 0.3:
            break
        at = below
    if key is None or not isinstance(at, dict | list):
        return as_json(rng.choice(NASTY))
    kind = rng.random()
    if kind < 0.15 and isinstance(at, dict):
        del at[key]
    elif kind < 0.25 and isinstance(at, dict):
        at["more"] = rng.choice(NASTY)
    elif kind < 0.5 and isinstance(at[key], int):
        at[key] = rng.choice([at[key] + 1, at[key] - 1, rng.randrange(200), -at[key]])
    else:
        at[key] = rng.choice(NASTY)
    return as_json(whole)
