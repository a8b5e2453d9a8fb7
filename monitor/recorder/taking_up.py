"""What an incident is gone on with: links, keys, sound and the rest, as it was before.

Whoever starts a recorder again, above all a board that has found one dead, may know nothing of
them. The journal does: the last ``Setup`` in it. Only what is said for this very start goes before.
"""

import contextlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from monitor import keyfile
from monitor.errors import BadFile
from monitor.incident.decoding import NOT_UNDERSTOOD, event_of
from monitor.incident.events import Done, Opened, Setup
from monitor.incident.rows import Row
from monitor.journal import digest
from monitor.journal.schema import Header
from monitor.own_file import is_own
from monitor.recorder.keyless import LostKeys
from monitor.recorder.memory import memory_path
from monitor.recorder.player import NOT_COMMANDS
from monitor.settings import Settings
from protocol.integrity import Keyring
from shared import reading


@dataclass(frozen=True, slots=True)
class Keys:
    """The keys of one recorder."""

    keyring: Keyring | None = None
    """None: open mode."""
    journal: bytes = b""
    """Makes the running digest; empty: there is none."""
    signing: bytes = b""
    """Private key that signs it; empty: there is none."""
    file: str = ""
    """Full path of the key file."""
    fault: str = ""
    """Why the keys that the incident was opened with cannot be had."""


def setup_of(settings: Settings, links: Collection[str], keys: Keys) -> Setup:
    """What is to be kept for whoever takes the incident up."""
    return Setup(
        links=tuple(links),
        key=keys.file,
        key_fault=keys.fault,
        sound=settings.sound,
        evacuation_tone=settings.evacuation_tone,
        incidents_folder=str(settings.incidents_path.absolute()),
    )


def gone_on_with(
    settings: Settings, said: Collection[str], setup: Setup | None, use: str
) -> Settings:
    """Put what the journal tells over settings; ``said``: names of those that stay as they are.

    A player's command is taken from nobody's file, which a stranger may have written: only from
    settings, or from whoever starts this. Told by a journal alone, the players looked for are used.
    Nor does a stranger choose where files are made: the folder is one that has a memory of a base
    of this very user.
    """
    if setup is None:
        return settings
    kept = {
        "links": setup.links,
        "sound": setup.sound if setup.sound in {*NOT_COMMANDS, settings.sound} else "auto",
        "evacuation_tone": setup.evacuation_tone,
        "incidents_folder": setup.incidents_folder,
    }
    if not _remembers(setup.incidents_folder, use):
        del kept["incidents_folder"]
    return settings.model_copy(update={k: v for k, v in kept.items() if k not in said})


def _remembers(folder: str, use: str) -> bool:
    try:
        return bool(folder) and is_own(memory_path(Path(folder), use))
    except OSError:
        return False


def keys_to_open(settings: Settings) -> Keys:
    """Give the keys of a new incident. Raises BadFile: not readable, or of the other use."""
    return _read(settings.key, settings.use) if settings.key else Keys()


def keys_again(
    settings: Settings, said: Collection[str], setup: Setup | None, opened: Opened, header: Header
) -> Keys:
    """Give the keys with which an incident is gone on with.

    Its own file, else the one that is set. If neither can be had recording must go on all the
    same: the keys say why, and prove nothing. Raises BadFile where a file that was said is not
    right, or none was used at the opening.
    """
    is_said = "key" in said
    if not opened.keyed:
        if is_said and settings.key:
            raise BadFile("the incident was opened without a key", settings.key, "leave out --key")
        return Keys()
    own = setup.key if setup is not None else ""
    fault = "no key file is named"
    for place in dict.fromkeys([settings.key] if is_said else [own, settings.key]):
        if not place:
            continue
        try:
            return _fitting(place, opened.use, header)
        except BadFile as error:
            if is_said:
                raise
            fault = fault if place != own and own else str(error)
    return Keys(LostKeys(opened.use), file=own, fault=fault[:_FAULT_MAX])


FIRST_ROWS = 2
"""The opening, and what it was set up with."""


def early_key(first: Sequence[Row], place: str, header: Header) -> bytes:
    """The key of a journal, before anything was folded; empty where it cannot be had.

    ``first``: its first rows, which say where the key file was at the opening; ``place``: where it
    is by settings.
    """
    places = [place]
    for row in first:
        with contextlib.suppress(*NOT_UNDERSTOOD):
            event = event_of(row)
            if isinstance(event, Done) and isinstance(event.what, Setup):
                places.append(event.what.key)
    for one in filter(None, places):
        with contextlib.suppress(BadFile):
            return _fitting(one, header.use, header).journal
    return b""


_FAULT_MAX = 400
"""Characters that a fact holds."""


def _read(place: str, use: str) -> Keys:
    path = reading.home(place).absolute()
    keyring = keyfile.load(path)
    if keyring.use != use:
        what = f"the key is for use {keyring.use}, the incident is {use}"
        raise BadFile(what, place, "give the other key file")
    return Keys(keyring, keyfile.journal_key(path), keyfile.signing_key(path), str(path))


def _fitting(place: str, use: str, header: Header) -> Keys:
    """Read a key file that can go on with this journal's digest."""
    keys = _read(place, use)
    if header.digest == "open":
        return replace(keys, journal=b"")
    if not keys.journal or digest.key_check(keys.journal) != header.key_check:
        raise BadFile("the incident was opened with another key", place, "give that key file")
    return keys
