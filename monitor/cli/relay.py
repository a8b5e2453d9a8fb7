"""``outby relay``: every commit of a journal, in order, into the stream of a broker."""

import argparse
from pathlib import Path

from monitor.cli.brokers import add_broker, address_of, run_until_told, told
from monitor.cli.journals import journal_at
from monitor.cli.options import WHICH, Subparsers, add_command, add_settings, settings_of
from monitor.errors import BadUsage, Exit

DAYS_MIN, DAYS_MAX = 0.01, 3_650.0
BYTES_MIN_MIB, BYTES_MAX_MIB = 16, 1024 * 1024
REPLICAS = (1, 3, 5)

_DESCRIPTION = """\
Stands beside a recorder and puts every commit of its journal, in order, into the stream of a broker
(NATS with JetStream), for "outby mirror" at a command post. It is a process of its own with the
lowest priority: it may be started, killed and started again at any time, and nothing at the door
waits for it. It keeps no state, but asks the stream what it has.

It ends when the incident is closed and all of it is on the stream. The journal names the operation
that it belongs to; where it names none, --operation does.

A journal tells the names, whereabouts and health of people. A broker beyond this machine is used
with TLS only, or with --unprotected, which is shown. The stream is made if it is not there; how
long it keeps what it gets is said then. What the messages are is in RELAY-FORMAT.md."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "relay",
        run=run,
        summary="a journal to a command post: its commits into a broker's stream",
        description=_DESCRIPTION,
        examples=(
            ("outby relay --broker nats://127.0.0.1", "what is recorded here, by a broker here"),
            ("outby relay kiln-lane --broker tls://post.example --ca ca.pem", "by one elsewhere"),
            ("outby relay kiln-lane --broker nats://127.0.0.1 --once", "what is there, and end"),
        ),
        exits=(Exit.FILE, Exit.JOURNAL, Exit.NOT_ANSWERED),
    )
    parser.add_argument("journal", metavar="JOURNAL", type=Path, nargs="?",
                        help=f"{WHICH}; the one recorded here if not said")  # fmt: skip
    group = parser.add_argument_group("WHAT IS SENT")
    group.add_argument("--operation", metavar="NAME", help="where the journal names none")
    group.add_argument("--once", action="store_true", help="send what is there now, and end")
    add_broker(parser)
    group = parser.add_argument_group("THE STREAM, WHERE IT IS NOT THERE YET")
    group.add_argument("--keep-days", type=float, metavar="DAYS", default=7.0,
                       help="how long it keeps what it gets; 7 if not said")  # fmt: skip
    group.add_argument("--keep-mib", type=int, metavar="MIB", default=8192,
                       help="how much of it; the oldest goes first; 8192 if not said")  # fmt: skip
    group.add_argument("--copies", type=int, choices=REPLICAS, default=1,
                       help="on how many brokers of a cluster; 1 if not said")  # fmt: skip
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Send it. Raises BadUsage, BadFile, BadJournal."""
    from monitor.cli.recorded import the_one
    from monitor.relay.source import Source

    if not DAYS_MIN <= args.keep_days <= DAYS_MAX:
        raise BadUsage("no such length", f"--keep-days {args.keep_days:g}", "0.01 to 3650")
    if not BYTES_MIN_MIB <= args.keep_mib <= BYTES_MAX_MIB:
        raise BadUsage("no such size", f"--keep-mib {args.keep_mib}", "16 to 1048576")
    settings = settings_of(args)
    address = address_of(args, settings)
    path = journal_at(args.journal, settings) if args.journal else the_one(None, settings)
    with Source(path) as source:
        named = source.operation()
    if named == "" and not settings.operation:
        what, to_do = "the journal names no operation", "say which: --operation NAME"
        raise BadUsage(what, str(path), to_do)

    from monitor.relay.broker import Broker, Keeping
    from monitor.relay.relay import Relay

    keeping = Keeping(args.keep_days, args.keep_mib * 1024 * 1024, args.copies)
    relay = Relay(
        path,
        lambda: Broker.connect(address, f"relay {path.name}"),
        str(address),
        told,
        operation=settings.operation,
        keeping=keeping,
        once=args.once,
    )
    try:
        run_until_told(relay.run())
    finally:
        relay.close()
    return Exit.OK
