"""``outby conformance``: a pack of any maker tried against the packet format."""

import argparse
import secrets
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Self

from monitor.cli.options import Subparsers, add_command, add_format
from monitor.errors import BadUsage, Exit, LinkFailed, NotAnswered, NotKept, PoorLink
from shared import printable

if TYPE_CHECKING:
    from monitor.clock import Clock
    from monitor.links.chunk import Address
    from monitor.links.spec import LinkSpec
    from protocol.rejects import Reject
    from simulators.conformance.rules import Row
    from simulators.conformance.trial import Trial
    from simulators.conformance.vectors import Checked

SECOND_NS = 1_000_000_000
LENGTH_S = 300
"""Enough for everything, also where the person at the pack takes their time."""
LENGTH_S_MAX = 3_600
WAIT_S = 0.02
IDENTITY_MAX = 0xFFFF_FFFF
HEX_BYTES_A_LINE = 26

_DESCRIPTION = """\
Listens for a pack and judges all that it sends by the packet format: frames, counters, clock,
intervals, copies. Sends it what a base sends, beacons and orders, right ones and ones that are
wrong in one thing, and judges what it answers. First the program goes through the format's own
vectors. All of it takes some two and a half minutes, five at most.

Says what to do at the pack, and waits 12 s for it: press the button for an order, distress,
coming out; switch it off and on again. Press nothing before: what is acknowledged without a press
is a fault. Switch the pack on after the command has begun, so that its first sign-on is seen.
What could not be seen, since nobody pressed or time was too short, is "not seen" and no failure.

What must be at random is judged over many frames; each such test fails a pack that is right once
in a million trials. Take a link that loses less than one frame in a hundred: what a lost frame
may have held counts for the pack, and questions are put three times. Where it loses more, and all
that failed may come of it, the end says that the link is too poor, not that the pack is wrong.

Only an exercise key is taken: no order that is sent here fits a pack in real use. Without a key
the pack is tried in open mode. The first pack that is heard is tried, or the one that is named."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "conformance",
        run=run,
        summary="tries a pack of any maker against the packet format",
        description=_DESCRIPTION,
        exits=(Exit.FILE, Exit.LINK, Exit.NOT_ANSWERED, Exit.NOT_KEPT, Exit.POOR_LINK),
        examples=[
            ("outby conformance --link udp:41901", "the first pack that sends there, in open mode"),
            ("outby conformance --link serial:/dev/ttyUSB0@115200 --key trial.key --pack 101",
             "one pack with its key, behind a gateway or a base radio"),
            ("outby conformance --json", "the table for a program"),
        ],
    )  # fmt: skip
    group = parser.add_argument_group("WHICH PACK")
    group.add_argument("--link", metavar="LINK", default="udp:127.0.0.1:41901",
                       help="udp:[HOST:]PORT or serial:DEVICE[@BAUD]; "
                            "udp:127.0.0.1:41901 if not said")  # fmt: skip
    group.add_argument("--key", metavar="FILE", help="fleet key file, for exercise; else open")
    group.add_argument("--pack", type=int, metavar="IDENTITY", help="else the first that is heard")
    group = parser.add_argument_group("THE TRIAL")
    group.add_argument("--for", dest="length_s", type=int, default=LENGTH_S, metavar="SECONDS",
                       help=f"the longest it takes; {LENGTH_S} if not said; it ends before that "
                            "once the pack has signed off")  # fmt: skip
    add_format(group, ("text", "json"), "the table as fields")


def run(args: argparse.Namespace) -> int:
    """Try one pack. Raises BadUsage, BadFile, LinkFailed, NotAnswered, NotKept."""
    from monitor.cli.packs_links import keyring_of
    from monitor.clock import Clock
    from monitor.links.spec import parse
    from simulators.conformance.rules import LOSS_MAX, too_poor
    from simulators.conformance.trial import Trial
    from simulators.conformance.vectors import check

    if not 1 <= args.length_s <= LENGTH_S_MAX:
        raise BadUsage("no such length", f"--for {args.length_s}", f"1 to {LENGTH_S_MAX} s")
    if args.pack is not None and not 1 <= args.pack <= IDENTITY_MAX:
        raise BadUsage("no such identity", f"--pack {args.pack}", f"1 to {IDENTITY_MAX}")
    spec, keyring = parse(args.link), keyring_of(args.key)
    checked = check()
    if checked.wrong:
        raise NotKept("this program fails its own vectors", ", ".join(checked.wrong))
    clock = Clock()
    trial = Trial(
        keyring, secrets.SystemRandom(), clock.boot_ns(),
        length_ns=args.length_s * SECOND_NS, identity=args.pack or 0,
    )  # fmt: skip
    with Ear(spec, clock) as ear:
        _say(f"listening on {spec.name} for {args.length_s} s at most")
        listen(trial, ear, clock.boot_ns, _say)
    rows = trial.rows(clock.boot_ns())
    print(
        as_json(trial, checked, rows)
        if args.format == "json"
        else "\n".join(lines(trial, checked, rows))
    )
    if not any(row.verdict != "not seen" for row in rows):
        raise NotAnswered("no pack was heard", spec.name, "switch one on, or name its link")
    failed = [row for row in rows if row.verdict == "failed"]
    names = ", ".join(row.name for row in failed)
    if failed and too_poor(trial.lost_share, failed):
        raise PoorLink(
            f"the link is too poor to judge the pack: {_lost(trial)}",
            spec.name,
            f"try again over one that loses less than {LOSS_MAX:.0%}: {names}",
        )
    if failed:
        raise NotKept("rules are not kept", f"pack {trial.identity}", names)
    return Exit.OK


class Ear:
    """One open link: frames with when they came, and a way back to where they came from."""

    def __init__(self, spec: "LinkSpec", clock: "Clock") -> None:
        """Open it. Raises LinkFailed."""
        from monitor.links.inbox import Inbox
        from monitor.links.opening import open_link
        from protocol.framing import Splitter

        self._came = threading.Event()
        self._inbox = Inbox(self._came.set)
        self._link = open_link(1, spec, clock, self._inbox)
        self._splitter = Splitter()
        self._whence: Address | None = None
        self._last: Address | None = None

    def __enter__(self) -> Self:
        """Give itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close the link."""
        self._link.close()

    def frames(self, timeout_s: float) -> "Iterator[tuple[int, bytes | Reject]]":
        """Wait a moment; give what came, and when. Raises LinkFailed if the link has gone."""
        from monitor.links.chunk import Chunk, LinkDown

        self._came.wait(timeout_s)
        self._came.clear()
        for item in self._inbox.take():
            if isinstance(item, LinkDown):
                raise LinkFailed(item.reason, self._link.name)
            if not isinstance(item, Chunk):
                continue
            self._last = item.source
            found = [item.data] if item.source else self._splitter.feed(item.data)
            for frame in found:
                yield item.stamp.boot_ns, frame

    def answer_here(self) -> None:
        """Send to where the last frame came from, from now on."""
        self._whence = self._last

    def send(self, frame: bytes) -> None:
        """Send to the pack."""
        from protocol.framing import wrap

        self._link.send(frame if self._whence else wrap(frame), self._whence)


def listen(trial: "Trial", ear: Ear, now_ns: Callable[[], int], say: Callable[[str], None]) -> None:
    """Hear and send until the trial is over."""
    while not trial.over(now_ns()):
        for at_ns, frame in ear.frames(WAIT_S):
            if trial.hear(at_ns, frame):
                ear.answer_here()
        now = now_ns()
        for sent in trial.step(now):
            ear.send(sent)
        if prompt := trial.prompt(now):
            say(f"now: {prompt}")


def lines(trial: "Trial", checked: "Checked", rows: "Sequence[Row]") -> Iterator[str]:
    """Give the table as text."""
    yield f"this program: all {checked.count} vectors of the format are right"
    whose = f"pack {trial.identity}: {trial.frames} frames" if trial.frames else "no pack"
    others = f"; other packs heard and not tried: {len(trial.others)}" if trial.others else ""
    yield f"{whose}{others}"
    if trial.conduct.taken:
        yield _lost(trial)
    if (measured := trial.conduct.timing.measured) is not None:
        ppm, over_s = measured
        which = "slow" if ppm > 0 else "fast"
        yield f"its clock: {abs(ppm):.0f} parts in a million {which}, over {over_s:.0f} s"
    yield ""
    what = max(len(row.rule.what) for row in rows)
    section = max(len(row.rule.section) for row in rows)
    yield f"{'rule':<{what}}  {'section':<{section}}  verdict   seen"
    for row in rows:
        verdict = row.verdict.upper() if row.verdict == "failed" else row.verdict
        seen = row.faults or row.seen
        yield f"{row.rule.what:<{what}}  {row.rule.section:<{section}}  {verdict:<8}  {seen or ''}"
        if row.first is not None:
            yield f"    {row.first.at_ns / SECOND_NS:.2f} s: {row.first.why}"
            yield from (f"    {part}" for part in _hex(row.first.frame))
    yield ""
    counts = {v: sum(row.verdict == v for row in rows) for v in ("passed", "failed", "not seen")}
    yield ", ".join(f"{count} {verdict}" for verdict, count in counts.items())


def _lost(trial: "Trial") -> str:
    """What the link loses, up and, as far as answers tell, down and up again."""
    up, both = trial.conduct.lost_share, trial.asking.lost_share
    told = f"{up:.1%} of its frames never came"
    return f"{told}; of what was sent to it {both:.1%} was lost, or its answer" if both else told


def _hex(frame: bytes) -> Iterator[str]:
    for start in range(0, len(frame), HEX_BYTES_A_LINE):
        yield frame[start : start + HEX_BYTES_A_LINE].hex(" ")


def as_json(trial: "Trial", checked: "Checked", rows: "Sequence[Row]") -> str:
    """Give the table as one JSON object."""
    told = [
        {
            "name": row.name,
            "rule": row.rule.what,
            "section": row.rule.section,
            "verdict": row.verdict,
            "kept": row.seen,
            "faults": row.faults,
            "first": None
            if row.first is None
            else {
                "at_s": row.first.at_ns / SECOND_NS,
                "why": row.first.why,
                "frame": row.first.frame.hex(),
            },
        }
        for row in rows
    ]
    measured = trial.conduct.timing.measured
    whole = {
        "pack": trial.identity or None,
        "frames": trial.frames,
        "other_packs": sorted(trial.others),
        "lost_share": round(trial.conduct.lost_share, 4),
        "unanswered_share": round(trial.asking.lost_share, 4),
        "clock_slow_ppm": None if measured is None else round(measured[0], 1),
        "vectors": checked.count,
        "rules": told,
    }
    return printable.as_json(whole)


def _say(text: str) -> None:
    print(f"outby conformance: {text}", file=sys.stderr, flush=True)
