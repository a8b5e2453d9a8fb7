"""``outby verify``: whether a journal is as it was written, and tells what was told."""

import argparse
import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from monitor.cli.journals import by_its_name, journal_at, span, when
from monitor.cli.options import WHICH, Subparsers, add_command, add_settings, settings_of
from monitor.errors import BadFile, Exit, NotAsWritten
from shared import reading
from shared.reading import Unreadable

if TYPE_CHECKING:
    from monitor.archive.refold import Refolded
    from monitor.journal.verify import Findings
    from monitor.settings import Settings

PUBLIC_FILE_MAX = 10_000
HEX_KEY = r"[0-9a-f]{64}"
SHOWN_MAX = 5
"""Differences listed; the rest are counted."""
NS_PER_MS = 1_000_000
LABEL = 15

_DESCRIPTION = """\
Looks through a whole journal: the header; the order of rows and times; the running digest, which
covers every row, time and clock before it; then folds the incident anew and compares every alarm
with the one that was announced. Says where the first fault is, by row and time, and what is right
before it. Nothing is changed, and a recorder may be writing meanwhile.

Without a key the digest shows damage, and changes by somebody who did not make the digests again.
With the fleet key file, where the incident was opened with one, it shows any change by somebody
who does not have that file; without that file everything else is looked at, and it is said that
the digest is not proved.

A journal that was signed is checked without any secret: up to its last signature nobody without
the signing key has changed it. It names its signer's public key itself; --signer compares that
with the one that you have from elsewhere ("outby keys public"). This needs the extra signing.

The journal alone cannot tell that its newest part was cut off. So note the digest that is printed
at the close, or by this command, where nobody can change it; --noted looks for it.

Alarms that differ are a fault only where this program has the version of the rules that recorded
them. Seconds of missing horizon are those in which nobody recorded."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "verify",
        run=run,
        summary="is a journal as it was written; where not",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.JOURNAL,
            Exit.BUSY,
            Exit.CHANGED,
            Exit.ALREADY_THERE,
        ),
        examples=(
            ("outby verify kiln-lane.journal", "look through a journal with an open digest"),
            (
                "outby verify kiln-lane --key fleet.key",
                "one of the incidents folder, with a keyed digest",
            ),
            (
                "outby verify kiln-lane.zip --signer brigade.pub",
                "a packed one, by the public key of whoever recorded it",
            ),
            (
                "outby verify kiln-lane --salvage whole.journal",
                "make a journal of what is right before a fault",
            ),
            (
                'outby verify kiln-lane --noted "d604 576f e545 8bda f1a0 a321 9e98 24fe"',
                "also look for the digest that was noted at the handover",
            ),
        ),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path,
                        help=WHICH)  # fmt: skip
    group = parser.add_argument_group("WHAT IS KNOWN FROM ELSEWHERE")
    group.add_argument("--key", metavar="FILE", help="fleet key file, for a keyed digest")
    group.add_argument("--signer", metavar="KEY|FILE",
                       help="public key of whoever signs, or a file with it, or with several, "
                            "one a line: a journal stays signed with its own")  # fmt: skip
    group.add_argument("--noted", metavar="DIGEST", type=_digest, help="a digest that was noted")
    parser.add_argument("--salvage", metavar="FILE", type=Path,
                        help="make a journal of what is right before the first fault")  # fmt: skip
    add_settings(parser)


def _digest(text: str) -> bytes:
    """Spaces may be left out or put in. argparse tells a ValueError in its own words."""
    hexed = re.sub(r"[\s:-]", "", text).lower()
    if not re.fullmatch(r"[0-9a-f]{32}", hexed):
        raise argparse.ArgumentTypeError("a digest has 32 hex digits, in groups or not")
    return bytes.fromhex(hexed)


def _public(said: str) -> frozenset[str]:
    """A key in hex, or those in a file, one a line; what follows a # is a remark. Raises BadFile.

    Several: who signs may have changed the key, and each journal stays signed with its own.
    """
    hexed = re.sub(r"\s", "", said).lower()
    if re.fullmatch(HEX_KEY, hexed):
        return frozenset((hexed,))
    path = reading.home(said)
    try:
        text = reading.text_of(reading.read_bytes(path, PUBLIC_FILE_MAX))
    except Unreadable as wrong:
        to_do = f"give a file, or its 64 hex digits ({wrong.to_do})"
        raise BadFile(f"the public key {wrong.what}", said, to_do) from None
    lines = (re.sub(r"\s|#.*", "", line).lower() for line in text.splitlines())
    found = [line for line in lines if line]
    if not found or not all(re.fullmatch(HEX_KEY, line) for line in found):
        what, to_do = (
            "a public key has 64 hex digits, one key a line",
            "print one: outby keys public",
        )
        raise BadFile(what, said, to_do)
    return frozenset(found)


def run(args: argparse.Namespace) -> int:
    """Say what was found. Raises NotAsWritten, BadJournal, BadFile."""
    from monitor.archive.refold import refold
    from monitor.journal.verify import examine

    settings = settings_of(args)
    signers = _public(args.signer) if args.signer is not None else frozenset()
    path = journal_at(args.journal, settings)
    key = _key(settings)
    findings = examine(path, key, args.noted or b"")
    _print(_about_digest(path, findings))
    _print(_about_signatures(findings, signers))
    if args.salvage is not None:
        _salvage(path, findings, args.salvage, key)
    last = findings.last
    folded = refold(path, last) if last is not None and last.last_row else None
    if folded is not None:
        _print(_about_incident(findings, folded))
    if what := _against(findings, folded):
        to_do = "keep the file, and a copy of it"
        if args.salvage is None and findings.fault is not None and last is not None:
            to_do += "; --salvage FILE makes a journal of what is right"
        raise NotAsWritten(what, str(path), to_do)
    if args.noted is not None and findings.noted is None:
        what = "no commit has the digest that was noted: the end was cut off, or it is another's"
        raise NotAsWritten(what, str(path), "compare the digits")
    if signers and (what := _not_by(findings, signers)):
        raise NotAsWritten(what, str(path), "compare the key with whoever recorded it")
    _print(_not_proved(findings, signers))
    print("nothing in it speaks against it")
    return Exit.OK


def _not_by(found: "Findings", signers: frozenset[str]) -> str:
    """Why a journal is not one that one of these keys signed; empty: it is."""
    if not found.header.signer:
        return "it is not signed: one begun before there was a signing key never is"
    if found.header.signer not in signers:
        return "it is signed with another key"
    return "" if found.signatures else "its header names that key, but there is no signature"


def _about_signatures(found: "Findings", signers: frozenset[str]) -> Iterator[tuple[str, str]]:
    """What the signatures say."""
    from monitor.journal.digest import shown

    header, signed = found.header, found.signed
    if not header.signer:
        return
    if signed is None:
        yield "signed", "not up to here"
    else:
        count = f"{found.signatures:,} signatures" if found.signatures > 1 else "1 signature"
        rows = f"up to row {signed.last_row:,}, {when(signed.wall_ns)}"
        fit = "right" if found.signatures_checked else "not checked: the extra 'signing' is missing"
        yield "signed", f"{rows}: {count}, {fit}"
    known = "one that was given" if header.signer in signers else "as it says"
    yield "by the key", f"{shown(bytes.fromhex(header.signer))}, {known}"


def _not_proved(found: "Findings", signers: frozenset[str]) -> Iterator[tuple[str, str]]:
    """What nobody can tell from what was given."""
    header, last, signed = found.header, found.last, found.signed
    if found.unproved and signed is None:
        yield "not proved", "the digest is keyed: it needs --key to show who wrote it"
    if header.digest == "open" and not header.signer:
        yield "not proved", "who wrote it: it has neither a key nor a signature"
    if header.signer and not found.signatures_checked:
        yield "not proved", "the signatures: pip install 'outby[signing]'"
    elif header.signer and not signers:
        yield "not proved", "whose that key is: compare it, or give it by --signer"
    if header.signer and last is not None:
        after = last.last_row - (signed.last_row + 1 if signed else 0)
        if after > 0:
            yield "not proved", f"{after:,} rows after the last signature, by a signature"


def _salvage(path: Path, findings: "Findings", target: Path, key: bytes) -> None:
    """Make a journal of what is right, and say so. Raises BadFile, BadJournal, Busy."""
    from monitor.archive.salvage import salvage

    made = salvage(path, findings, target, key)
    rows = f"{made.last.last_row:,} rows, {span(made.last.horizon)}"
    _print(iter([("salvaged", f"{made.path}: {rows}; every command reads it")]))


def _against(found: "Findings", folded: "Refolded | None") -> str:
    """The first thing that speaks against the journal, and where; empty: nothing."""
    if found.fault is not None:
        if found.last is None:
            return str(found.fault)
        return f"{found.fault}, after {span(found.last.horizon)} ({when(found.last.wall_ns)})"
    if folded is None or folded.sound:
        return ""
    if folded.fault is not None:
        after = when(found.header.opened_wall_ns + folded.now)
        return f"{folded.fault}, after {span(folded.now)} ({after})"
    return f"{folded.count} alarms are not those that were announced"


def _key(settings: "Settings") -> bytes:
    """The key of journals; empty where no key file is named or it has none. Raises BadFile."""
    from monitor import keyfile

    return keyfile.journal_key(reading.home(settings.key)) if settings.key else b""


def _print(lines: Iterator[tuple[str, str]]) -> None:
    for label, text in lines:
        print(f"{label:<{LABEL}}{text}", flush=True)


def _about_digest(path: Path, found: "Findings") -> Iterator[tuple[str, str]]:
    """What header, order and digest say, up to the first fault."""
    from monitor.journal.digest import shown

    header, last = found.header, found.last
    yield "journal", by_its_name(str(path))
    yield "use", "EXERCISE" if header.use == "exercise" else "REAL"
    yield "opened", when(header.opened_wall_ns)
    rules = f"format {header.format}, version {header.fold} of the rules"
    yield "recorded by", f"{header.software}, {rules}"
    if last is None:
        return
    far = "right" if found.fault is None else "right up to here"
    rows, commits = f"{last.last_row:,} rows", f"{last.batch:,} commits"
    yield "order", f"{far}: {rows} in {commits}, {span(last.horizon)}, to {when(last.wall_ns)}"
    how = "keyed" if header.digest == "keyed" else "without a key"
    if found.unproved:
        yield "digest", f"{shown(last.digest)}  NOT CHECKED: it is keyed, and needs --key"
    else:
        yield "digest", f"{shown(last.digest)}  {far}, {how}"
    if found.keyless:
        lost = f"{found.keyless:,} commits were made by a recorder that had lost the key"
        yield "", f"{lost}: anybody could have made those"
    if found.noted is not None:
        yield "noted digest", f"that of {when(found.noted.wall_ns)}, row {found.noted.last_row:,}"
    yield "not recorded", _missing(found)


def _missing(found: "Findings") -> str:
    total = f"{_exact(found.missing_ns)} of missing horizon"
    if not found.gaps:
        return total
    longest = found.longest
    after = span(longest.from_ns)
    return f"{total} in {found.gaps:,}, the longest {_exact(longest.length_ns)} after {after}"


def _exact(ns: int) -> str:
    """Seconds to the millisecond; what is missing is rounded up."""
    return f"{-(-ns // NS_PER_MS) / 1000:.3f} s"


def _about_incident(found: "Findings", folded: "Refolded") -> Iterator[tuple[str, str]]:
    """What the fold says."""
    opened = folded.opened
    if opened is not None:
        place = f", {opened.place}" if opened.place else ""
        yield "incident", f"{opened.name}{place}, officer {opened.officer}"
        if opened.keyed and found.header.digest == "open":
            yield "", "opened with a fleet key, but from before there was a key of journals"
    yield "recorder", _away(folded)
    yield from _about_alarms(folded)
    if found.fault is None:
        yield "end", "closed" if folded.closed else _OPEN_END


def _away(folded: "Refolded") -> str:
    if not (folded.down_ns or folded.stalled_ns or folded.unknown_breaks):
        return "ran all the time"
    away = f"no recorder ran for {_exact(folded.down_ns)}, held up for {_exact(folded.stalled_ns)}"
    if folded.unknown_breaks:
        away += f"; {folded.unknown_breaks} breaks of unknown length"
    return away


_OPEN_END = (
    "not closed: it is being recorded, recording stopped, or the end was cut off\n"
    + " " * LABEL
    + "(compare the digest with one that was noted)"
)


def _about_alarms(folded: "Refolded") -> Iterator[tuple[str, str]]:
    said = f"{folded.announced:,} announced"
    if not folded.same_rules:
        from monitor.incident.incident import FOLD_VERSION

        rules = f"version {folded.fold} of the rules, folded by version {FOLD_VERSION}"
        yield "alarms", f"{said} by {rules}: {folded.count:,} differences, no fault by themselves"
    elif folded.count:
        yield "alarms", f"{said}, {folded.count:,} are not the same when folded anew"
    else:
        yield "alarms", f"{said}, all the same when folded anew"
    for one in folded.differences[:SHOWN_MAX]:
        row = f"row {one.row:,}, " if one.row else ""
        yield "", f"{row}{span(one.t)} after opening: {one.what}"
    if folded.count > SHOWN_MAX:
        yield "", f"and {folded.count - SHOWN_MAX:,} more"
