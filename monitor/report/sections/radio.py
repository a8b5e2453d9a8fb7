"""Radio in a report: how well each pack was heard, the base's links, frames refused."""

from collections.abc import Iterator

from monitor.incident.rows import Standing
from monitor.report import words
from monitor.report.alarm_lives import Spell
from monitor.report.blocks import Block, Row, Section, Table, Text
from monitor.report.links import BaseLink, PackLink
from monitor.report.teller import NONE, Teller

STANDINGS = {
    Standing.LIVE: "live: genuine, new, from a pack that has just proved itself present",
    Standing.NOT_PROVEN: "not proven live: its pack had not yet echoed this base",
    Standing.HELD: "held up on its way: not the present state",
    Standing.OLD: "old: its counters went back",
    Standing.OLD_NOW: "old by its counters, and yet it answers a recent beacon",
    Standing.UNPROVEN_DISTRESS: "a call for help under no key of this base",
}


def radio(teller: Teller) -> Section:
    """How well packs and base heard each other."""
    return Section("radio", "Radio", _radio(teller))


def _radio(teller: Teller) -> Iterator[Block]:
    links = teller.found.links
    yield Text(
        "Losses are counted from the numbers that each pack gives its frames, live frames only. A"
        " silence counts from three report intervals and a second on, unless the pack had signed"
        " off; the signal level is the weakest told by the base radio, in decibels relative to one"
        " milliwatt. Shares that are lost are rounded up."
    )
    yield Table(
        "Packs",
        ("pack", "worn by", "first heard", "last heard", "frames taken", "lost", "share lost",
         "lost in a row, mean", "silences", "longest", "together", "weakest signal"),
        (_pack_row(teller, pack) for _, pack in sorted(links.packs.items())),
        "none was heard",
    )  # fmt: skip
    if links.left_out:
        yield Text(f"{links.left_out} frames of more packs are not told.", strong=True)
    yield Table(
        "Links of the base",
        ("link", "frames let through", "up and down"),
        (_link_row(teller, link) for _, link in sorted(links.links.items())),
    )
    yield Table(
        "Frames let through, by what they prove",
        ("what", "frames"),
        ((STANDINGS[standing], str(count)) for standing, count in sorted(links.frames.items())),
    )
    yield Table(
        "Frames not let through",
        ("why", "frames"),
        (
            (reason.lower().replace("_", " "), str(count))
            for reason, count in sorted(links.refused.items())
        ),
    )
    yield Table("When nobody listened", ("what", "how long"), _deaf(teller), "never")


def _pack_row(teller: Teller, pack: PackLink) -> Row:
    account = pack.account
    worn = {wear.label for wear in teller.found.wears.all if wear.pack == pack.pack}
    worn |= {p.label for p in teller.found.wears.people.values() if p.pack == pack.pack}
    return (
        str(pack.pack),
        ", ".join(sorted(worn)) or "nobody on the board",
        teller.at(pack.first_ns),
        teller.at(pack.last_ns),
        str(account.taken),
        str(account.lost),
        words.percent_up(account.loss_share),
        words.tenth_up(account.mean_burst),
        str(pack.silence_count),
        words.span(pack.longest_ns) if pack.silence_count else NONE,
        words.span(pack.silent_ns) if pack.silence_count else NONE,
        words.NOT_KNOWN if pack.weakest_dbm is None else str(pack.weakest_dbm),
    )


def _link_row(teller: Teller, link: BaseLink) -> Row:
    told = [
        f"{teller.at(t)} {'up' if up else 'down'}{f' ({detail})' if detail else NONE}"
        for t, up, detail in link.changes
    ]
    return link.name, str(link.frames), "; ".join(told)


def _deaf(teller: Teller) -> Iterator[Row]:
    found = teller.found
    if found.down_ns:
        yield "no recorder ran", words.span(found.down_ns)
    if found.unknown_breaks:
        yield "breaks of unknown length", str(found.unknown_breaks)
    if found.stalled_ns:
        yield "the base stood still", words.span(found.stalled_ns)
    for link in found.links.links.values():
        down = sum(spell.length_ns(found.end_ns) for spell in _downs(link))
        if down:
            yield f"link {link.name} was down", words.span(down)


def _downs(link: BaseLink) -> Iterator[Spell]:
    since: int | None = None
    for t, up, _ in link.changes:
        if not up and since is None:
            since = t
        elif up and since is not None:
            yield Spell(since, t)
            since = None
    if since is not None:
        yield Spell(since)
