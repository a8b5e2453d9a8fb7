"""``outby keys``: make a fleet key, print a pack's keys, change epoch."""

import argparse
from pathlib import Path

from monitor.cli.options import Subparsers, add_act, add_command
from monitor.errors import Exit

_DESCRIPTION = """\
A fleet key lets the base tell its own packs from any other sender. It lives in one file that
only its owner can read; each pack is given keys of its own, made from it, when it is set up.
Keys for exercises and keys for real incidents are made apart and never fit one another.

The file also holds the key of journals: it makes each journal's digest one that nobody without
the file can make again ("outby verify" checks it). It stays the same through all epochs.

"signing" adds a signing key: journals begun after that are signed every ten seconds and at the
close. "public" prints its public part, which may be given to anybody: with it, and with nothing
secret, "outby verify --signer" shows that a journal is as the base wrote it.

Change epoch when a key may have become known, or by the calendar: "next" adds a new fleet key
and keeps the old one, packs are given their new keys one by one, "drop" ends the old one."""

_EXAMPLES = (
    ("outby keys create fleet.key --exercise", "make a fleet key for the training ground"),
    ("outby keys pack fleet.key 0x01020304", "print the keys to write into that pack"),
    ("outby keys show fleet.key", "say what the file holds, without its secrets"),
    ("outby keys next fleet.key", "begin a new epoch; the old one still holds"),
    ("outby keys drop fleet.key 1", "end epoch 1: its packs are no longer believed"),
    ("outby keys signing fleet.key", "have journals signed from now on"),
    ("outby keys public fleet.key > brigade.pub", "the public key, for whoever gets a journal"),
    ("outby keys journal fleet.key", "add the key of journals to a file from before there was one"),
)
IDENTITY_MAX = 0xFFFF_FFFF


def add_parser(subparsers: Subparsers) -> None:
    """Add ``keys`` and the acts under it."""
    parser = add_command(
        subparsers,
        "keys",
        run=run,
        summary="fleet keys, the keys of single packs, change of epoch",
        description=_DESCRIPTION,
        exits=(
            Exit.FILE,
            Exit.ALREADY_THERE,
        ),
        examples=_EXAMPLES,
    )
    acts = parser.add_subparsers(dest="act", metavar="ACT", required=True, title="ACTS")
    create = _add_act(acts, "create", "make a new key file with a new fleet key")
    use = create.add_mutually_exclusive_group(required=True)
    use.add_argument("--exercise", dest="use", action="store_const", const="exercise",
                     help="for training: never fits a real pack")  # fmt: skip
    use.add_argument("--real", dest="use", action="store_const", const="real",
                     help="for real incidents: never fits a training pack")  # fmt: skip
    _add_act(acts, "show", "say what the file holds, without its secrets")
    pack = _add_act(acts, "pack", "print the keys to write into one pack")
    pack.add_argument("identity", type=_identity, metavar="IDENTITY", help="12, or 0x0000000C")
    pack.add_argument("--epoch", type=int, help="of an epoch still held; else the current one")
    _add_act(acts, "next", "begin a new epoch; the old ones still hold")
    drop = _add_act(acts, "drop", "end an old epoch")
    drop.add_argument("epoch", type=int, metavar="EPOCH", help="number of the epoch")
    _add_act(acts, "journal", "add the key of journals to a file that has none")
    _add_act(acts, "signing", "add a key that signs journals")
    public = _add_act(acts, "public", "print the public key by which anybody checks signatures")
    public.add_argument("--pem", action="store_true", help="in the form that other programs read")


def _add_act(acts: Subparsers, name: str, summary: str) -> argparse.ArgumentParser:
    exits = (Exit.FILE, Exit.ALREADY_THERE) if name == "create" else (Exit.FILE,)
    act = add_act(acts, name, summary, exits)
    act.add_argument("file", type=Path, metavar="FILE", help="the key file")
    return act


def _identity(text: str) -> int:
    try:
        number = int(text, 0)
    except ValueError:
        number = 0
    if not 1 <= number <= IDENTITY_MAX:
        raise argparse.ArgumentTypeError(f"{text} is not a pack's identity: 1 to {IDENTITY_MAX}")
    return number


def run(args: argparse.Namespace) -> int:
    """Do the act and print what came of it. BadFile, BadUsage."""
    from monitor import keyfile

    if args.act == "create":
        keyfile.create(args.file, args.use)
        print(f"made {args.file}: fleet key for {args.use}, epoch 1")
        print("keep a copy in a safe place: without it every pack must be set up anew")
    elif args.act == "show":
        _show(args.file)
    elif args.act == "pack":
        _print_pack(args.file, args.identity, args.epoch)
    elif args.act == "next":
        keyring = keyfile.next_epoch(args.file)
        print(f"epoch {keyring.current_epoch} begins; held: {_listed(keyring.epochs)}")
        print("give each pack its new keys, then drop the old epoch")
    elif args.act == "journal":
        keyfile.add_journal_key(args.file)
        print(f"{args.file} has a key of journals now; those begun before keep their open digest")
    elif args.act == "signing":
        _need_signing()
        keyfile.add_signing_key(args.file)
        print(f"{args.file} has a signing key now; journals begun from now on are signed")
        print("journals begun before stay without a signature, or with that of their own key")
        print(f"its public part: outby keys public {args.file}")
    elif args.act == "public":
        _print_public(args.file, pem=args.pem)
    else:
        keyring = keyfile.drop_epoch(args.file, args.epoch)
        print(f"epoch {args.epoch} has ended; held: {_listed(keyring.epochs)}")
    return Exit.OK


def _listed(epochs: tuple[int, ...]) -> str:
    return ", ".join(str(epoch) for epoch in epochs)


def _show(file: Path) -> None:
    from monitor import keyfile

    keyring = keyfile.load(file)
    print(f"use      {keyring.use}")
    print(f"current  {keyring.current_epoch}")
    print(f"held     {_listed(keyring.epochs)}")
    print(f"journal  {'keyed' if keyfile.journal_key(file) else 'open'}")
    print(f"signing  {'yes' if keyfile.signing_key(file) else 'no'}")


def _need_signing() -> None:
    from monitor.errors import BadUsage
    from monitor.journal import signing

    if not signing.is_there():
        what, to_do = "signing needs the extra of that name", "pip install 'outby[signing]'"
        raise BadUsage(what, "outby keys", to_do)


def _print_public(file: Path, *, pem: bool) -> None:
    from monitor import keyfile
    from monitor.errors import BadUsage
    from monitor.journal import signing

    _need_signing()
    seed = keyfile.signing_key(file)
    if not seed:
        what, to_do = "there is no signing key", f"add one: outby keys signing {file}"
        raise BadUsage(what, str(file), to_do)
    public = signing.public_of(seed)
    print(signing.pem_of(public) if pem else public.hex())


def _print_pack(file: Path, identity: int, epoch: int | None) -> None:
    from monitor import keyfile
    from monitor.errors import BadUsage

    keyring = keyfile.load(file)
    chosen = keyring.current_epoch if epoch is None else epoch
    if not keyring.holds(chosen):
        raise BadUsage(f"epoch {chosen} is not held", str(file), f"held: {_listed(keyring.epochs)}")
    keys = keyring.pack_keys(identity, chosen)
    print(f"pack     {identity} (0x{identity:08X})")
    print(f"use      {keyring.use}")
    print(f"epoch    {keys.epoch}")
    print(f"up       {keys.up.hex()}")
    print(f"down     {keys.down.hex()}")
    print(f"beacons  {keys.broadcast.hex()}")
