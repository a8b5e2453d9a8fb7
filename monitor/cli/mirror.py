"""``outby mirror``: replicas of journals recorded elsewhere, from the stream of a broker."""

import argparse
from pathlib import Path

from monitor.cli.brokers import add_broker, address_of, run_until_told, told
from monitor.cli.options import Subparsers, add_command, add_settings, settings_of
from monitor.errors import Exit

_DESCRIPTION = """\
Stands at a command post and keeps a replica of every journal that "outby relay" sends: the same
rows, commits, sessions, header and digests as the original. A replica is a journal: "outby watch
--view", "replay", "report", "export" and "verify" read it unchanged, live and afterwards. Nobody
but its mirror ever writes it. It goes on until it is told to end.

The running digest of each commit is checked as it comes. What does not fit is refused and told
(NOT TO BE TRUSTED), and the stream is asked again from the last good commit. With --key only
journals that are made with that key are taken: then nobody without it can have written them, the
broker included. Of journals made with a key that is not given here nothing could be proved; they
are taken with --unproved alone, and shown so.

Replicas lie in FOLDER by operation; they tell the names, whereabouts and health of people, and are
deleted as journals are, with the stream."""


def add_parser(subparsers: Subparsers) -> None:
    """Add the command."""
    parser = add_command(
        subparsers,
        "mirror",
        run=run,
        summary="replicas of journals recorded elsewhere, for a command post",
        description=_DESCRIPTION,
        examples=(
            ("outby mirror --broker nats://127.0.0.1", "every operation that is on the stream"),
            (
                'outby mirror --operation "Kiln works" --broker tls://post.example --key fleet.key',
                "one of them, proved",
            ),
        ),
        exits=(Exit.FILE, Exit.NOT_ANSWERED),
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, nargs="?",
                        help="of the replicas; beside the incidents if not said")  # fmt: skip
    group = parser.add_argument_group("WHAT IS MIRRORED")
    group.add_argument("--operation", metavar="NAME", help="of one operation; else of all")
    group.add_argument("--key", metavar="FILE", help="fleet key file of the doors")
    group.add_argument("--unproved", action="store_true",
                       help="take too what cannot be proved here; it is shown")  # fmt: skip
    group.add_argument("--once", action="store_true", help="take what is there now, and end")
    add_broker(parser)
    add_settings(parser)


def run(args: argparse.Namespace) -> int:
    """Mirror. Raises BadUsage, BadFile."""
    from monitor import keyfile
    from monitor.mirror.replica import folder_of
    from monitor.mirror.taking import Rules

    settings = settings_of(args)
    address = address_of(args, settings)
    key = keyfile.journal_key(Path(settings.key)) if settings.key else b""

    from monitor.mirror.mirror import Mirror
    from monitor.relay.broker import Broker

    folder = args.folder or folder_of(settings.incidents_path)
    rules = Rules(key, unproved=args.unproved)
    mirror = Mirror(
        folder,
        lambda: Broker.connect(address, "mirror"),
        str(address),
        told,
        operation=settings.operation,
        rules=rules,
        once=args.once,
    )
    run_until_told(mirror.run())
    return Exit.OK
