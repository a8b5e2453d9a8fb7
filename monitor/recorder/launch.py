"""From settings and a path to a recorder that is ready to run: a new incident, or one taken up.

Nothing is assumed: whatever is not right is said before a file is made, in one of the errors of
``monitor.errors``.
"""

import contextlib
import errno
import gc
import logging
import random
import uuid
from collections.abc import Callable, Collection, Sequence
from functools import partial
from pathlib import Path
from typing import Self

from monitor import __version__, desk, procedures, roster, runtime_folder
from monitor.checkpoint.beside import checkpoints_of
from monitor.checkpoint.keeping import Checkpoints
from monitor.checkpoint.recalled import Recalled
from monitor.clock import Clock, Stamp
from monitor.errors import BadFile, BadJournal, BadUsage, Busy
from monitor.incident.alarms.catalogue import digest
from monitor.incident.decoding import NOT_UNDERSTOOD
from monitor.incident.events import Act, Fact, Opened, Setup
from monitor.incident.incident import FOLD_VERSION
from monitor.incident.second_place import SecondPlace
from monitor.journal import spill
from monitor.journal.answering import answering
from monitor.journal.ballast import Ballast
from monitor.journal.half_made import discard
from monitor.journal.lock import Guard, Lock, lock_path
from monitor.journal.place import check_place
from monitor.journal.reader import JournalReader
from monitor.journal.schema import Batch, Header
from monitor.journal.writer import JournalWriter
from monitor.links.apart import chosen_links, links_of
from monitor.links.spec import LinkSpec, parse
from monitor.mirror.beside import is_replica
from monitor.own_file import open_to_all
from monitor.recorder import memory as memories
from monitor.recorder import player
from monitor.recorder.beacons import BeaconSender
from monitor.recorder.desk_server import DeskServer
from monitor.recorder.intake import Intake
from monitor.recorder.keys_back import KeysBack
from monitor.recorder.link_keeper import LinkKeeper
from monitor.recorder.memory import Memory, MemoryKeeper
from monitor.recorder.places import Places
from monitor.recorder.reading_back import recalled, unfoldable
from monitor.recorder.recorder import Recorder
from monitor.recorder.recovery import Refold, Start, break_since, opening
from monitor.recorder.sequencer import Sequencer
from monitor.recorder.signing import signer_of, signing_of
from monitor.recorder.sounder import Sounder, write_tones
from monitor.recorder.taking_up import (
    FIRST_ROWS,
    Keys,
    early_key,
    gone_on_with,
    keys_again,
    keys_to_open,
    setup_of,
)
from monitor.settings import Settings
from monitor.sound.tones import evacuation

SOFTWARE = f"outby {__version__}"
IDENTITY_MAX = 0xFFFF_FFFF

_log = logging.getLogger(__name__)


class Launch:
    """One start of a recorder, which ``begin`` or ``resume`` gives, ready to run."""

    def __init__(
        self, path: Path, settings: Settings, clock: Clock, said: Collection[str] = ()
    ) -> None:
        """Check what can be checked before anything is made; take the journal's lock.

        ``said``: names of settings that were said for this very start; of an incident that is taken
        up the others are what its journal tells. Raises BadUsage (links, sound), BadJournal
        (folder), NotAnswered (no place for the desk), Busy.
        """
        self.path = path
        self._settings = settings
        self._clock = clock
        # Looked for before anything is made: without it no board could act.
        self._desk_path = self._desk_place()
        for text in (*settings.links, *settings.real_links, *settings.exercise_links):
            parse(text)
        player.check(settings.sound)
        self._recorder: Recorder | None = None
        self._said = said
        self._keys = Keys()
        self._keys_again: Callable[[], Keys] = Keys
        """Looks for the keys of an incident that is taken up."""
        self._setup: Setup | None = None
        """What is gone on with."""
        self._facts: list[Fact] = []
        """Of the opening, to be recorded."""
        self._random = random.SystemRandom()
        self._lock = _take_lock(path)
        self._guard: Guard | None = None
        self._answer, hung = answering(spill.folders(settings.spill_path, runtime_folder.there()))
        """Folders for second places: one that hangs must not keep the journal too."""
        for one in hung:
            _log.error("the second place does not answer, recording begins without: %s", one)
        self._facts += [SecondPlace(state="no answer", path=str(one)) for one in hung]
        self._spilt = spill.found(path, self._answer)
        """What an earlier recorder could only keep in a second place."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._guard is not None:
            self._guard.end()
        self._lock.release()

    @property
    def journal_key(self) -> bytes:
        """What the running digest is made with; empty: there is no key, or it is lost."""
        return self._keys.journal

    @property
    def recorder(self) -> Recorder:
        """The one that was given; not before."""
        assert self._recorder is not None, "begun or resumed"
        return self._recorder

    # ------------------------------------------------------------ the two ways

    def begin(self, *, clock_checked: bool = False, simulated: str = "") -> Recorder:
        """Open a new incident; ``clock_checked``: against control, as the officer says.

        ``simulated``: what virtual packs are started from; they are for exercises only.
        Raises BadFile, BadJournal, BadUsage, LinkFailed.
        """
        if simulated and self._settings.use != "exercise":
            raise BadUsage("only an exercise has virtual packs", "--simulated", "say --exercise")
        _check_own(self.path.parent)
        opened, acts, stamp = self._opening()
        opened = opened.model_copy(update={"clock_checked": clock_checked})
        links = chosen_links(self._settings, opened.use)
        for one in self._spilt:
            # Of an incident whose journal is gone: it may be all that is left of it.
            _log.error("kept of an earlier incident: %s", spill.put_aside(one))
        specs = links_of(self._settings, opened.use)
        memory = self._memory(opened.use, opened.wall_ns, needed=True)
        opened = opened.model_copy(update={"base": memory.base})
        keeper = LinkKeeper(specs, self._clock, self._wake)
        keeper.open_all()
        writer: JournalWriter | None = None
        try:
            writer = self._made(_header(opened, simulated, signer_of(self._keys.signing)))
            intake, beacons = self._pure_parts(memory)
            start = opening(opened, acts, stamp)
            start.facts += (setup_of(self._settings, links, self._keys),)
            ballast = Ballast(self.path)
            return self._assemble(start, intake, beacons, memory, keeper, writer, ballast)
        except BaseException:
            # Nothing has been heard or done in it: no file is left that could not be taken up.
            keeper.close()
            if writer is not None:
                writer.close(final=False)
                discard(self.path)
            raise

    def _made(self, header: Header) -> JournalWriter:
        """Make the journal, and hold it too. Raises BadJournal, Busy."""
        writer = JournalWriter.create(self.path, header, self._keys.journal)
        if not self._lock.hold():
            writer.close(final=False)
            raise _busy(self.path)
        return writer

    def resume(self) -> Recorder:
        """Take up an incident that is not closed. Raises BadJournal, BadFile, BadUsage.

        A link that cannot be opened is tried again and again: recording must go on. So it must on
        a full disk, and without the base's memory: the journal tells what it needs of it.
        """
        if is_replica(self.path):
            what, to_do = "this is a replica, which only its mirror writes", "look on: --view"
            raise BadJournal(what, str(self.path), to_do)
        ballast = Ballast(self.path)
        ballast.make_room()
        if self._holds_nothing():
            # Its log was lost before anything of it came into the file: all of it is in the second
            # place, and with it what is known of keys.
            self._took_up_spill(keyless=True)
        rows, header = self._read_back()
        keyless, specs, links = self._as_before(rows, header)
        if self._took_up_spill(keyless=keyless):
            rows, header = self._read_back()
            keyless, specs, links = self._as_before(rows, header)
        with JournalReader(self.path) as reader:
            last = reader.last_batch()
            session = next((s for s in reader.sessions() if s.session == last.session), None)
        stamp = self._clock.stamp()
        memory = self._memory(header.use, stamp.wall_ns, needed=False)
        intake, beacons = self._pure_parts(memory)
        gap = break_since(last, session, self._clock.boot_id(), stamp)
        try:
            start = Refold(gap, intake, stamp, rows).start()
        except NOT_UNDERSTOOD as error:
            raise unfoldable(self.path, error) from error
        setup = self._setup = setup_of(self._settings, links, self._keys)
        if setup != rows.setup:
            start.facts += (setup,)
        writer = JournalWriter.open(self.path, self._keys.journal, keyless=keyless)
        keeper = LinkKeeper(specs, self._clock, self._wake)
        keeper.open_what_can_be()
        return self._assemble(start, intake, beacons, memory, keeper, writer, ballast)

    def _as_before(
        self, rows: Recalled, header: Header
    ) -> tuple[bool, Sequence[LinkSpec], Sequence[str]]:
        """Go on with what the journal tells of links, keys and the rest.

        Gives whether the keys are lost, the links, and the same as they are written.
        """
        assert rows.opened is not None, "looked at by whoever folded them"
        settings = gone_on_with(self._settings, self._said, rows.setup, header.use)
        again = partial(keys_again, settings, self._said, rows.setup, rows.opened, header)
        self._keys = again()
        if self._keys.fault:
            _log.error("the keys are lost, frames prove nothing: %s", self._keys.fault)
        self._keys_again = again
        self._settings = settings
        if "links" in self._said or rows.setup is None:
            links = chosen_links(settings, header.use)
            return bool(self._keys.fault), links_of(settings, header.use), links
        # Whatever settings say by now: they were allowed at the opening, and packs are heard there.
        return bool(self._keys.fault), [parse(text) for text in settings.links], settings.links

    # ------------------------------------------------------------ parts

    def _desk_place(self) -> Path:
        return desk.socket_path(self.path)

    def _holds_nothing(self) -> bool:
        with JournalReader(self.path) as reader:
            return reader.last_batch().batch == 0

    def _read_back(self) -> tuple[Recalled, Header]:
        """Fold what the journal holds. Raises BadJournal, also where the incident is closed."""
        with JournalReader(self.path) as reader:
            header = reader.header()
            _check_opened(self.path, reader.last_batch())
            _check_fold(header, self.path)
            rows = recalled(reader, self._checkpoints(reader, header))
        if rows.incident.closed:
            raise BadJournal("the incident is closed", str(self.path), "open a new one")
        return rows, header

    def _took_up_spill(self, *, keyless: bool) -> bool:
        """Bring into the journal what an earlier recorder could only keep in the second place.

        Says whether there was anything. One that does not fit is moved aside and told of; recording
        goes on. Raises BadJournal where the journal itself cannot be opened.
        """
        if not self._spilt:
            return False
        writer = JournalWriter.open(self.path, self._keys.journal, keyless=keyless)
        try:
            taken = [self._took_up(writer, one) for one in spill.by_reach(self._spilt)]
        finally:
            writer.close(final=False)
        self._spilt = []
        return any(taken)

    def _took_up(self, writer: JournalWriter, path: Path) -> bool:
        try:
            merged = spill.merge(writer, path)
            writer.checkpoint()
            spill.remove(path)
        except (BadJournal, OSError) as error:
            _log.error("the second place cannot be taken up: %s", error)
            kept = spill.put_aside(path)
            self._facts.append(SecondPlace(state="differs", path=str(kept)))
            return False
        _log.warning("%d rows brought into the journal from %s", merged.rows, path)
        if merged.rows:
            # Without its key a digest tells nobody whether somebody else had a hand in it.
            checked = bool(writer.key) or writer.stored["digest"] == "open"
            fact = SecondPlace(state="merged", path=str(path), rows=merged.rows, checked=checked)
            self._facts.append(fact)
        return merged.batches > 0

    def _opening(self) -> tuple[Opened, tuple[Act, ...], Stamp]:
        settings = self._settings
        assert settings.use, "the command has asked for it"
        self._keys = keys_to_open(settings)
        procedure = procedures.load(settings.procedure)
        people = roster.load(settings.roster, settings.cylinders) if settings.roster else None
        incident = uuid.uuid4().hex
        stamp = self._clock.stamp()
        opened = Opened(
            incident=incident,
            name=settings.name,
            place=settings.place,
            entry_point=settings.entry_point,
            operation=settings.operation,
            stage=settings.stage,
            officer=settings.officer,
            use=settings.use,
            procedure=procedure,
            keyed=self._keys.keyring is not None,
            base=1,
            wall_ns=stamp.wall_ns,
            software=SOFTWARE,
            fold=FOLD_VERSION,
        )
        acts = people.acts(settings.officer, incident) if people else ()
        return opened, acts, stamp

    def _checkpoints(self, reader: JournalReader, header: Header) -> Checkpoints | None:
        if not self._settings.checkpoints:
            return None
        secret = b""
        if header.digest == "keyed":
            secret = early_key(reader.read(0, FIRST_ROWS).rows, self._settings.key, header)
        return checkpoints_of(self.path, header, secret)

    def _memory(self, use: str, wall_ns: int, *, needed: bool) -> Memory:
        """What this base remembers, with its session counted up.

        ``needed``: raises BadFile if it cannot be read or kept; else goes on without it.
        """
        path = memories.memory_path(self._settings.incidents_path, use)
        found, fault = memories.load(path)
        if fault:
            self._without(fault, path, "move it away to begin anew", needed=needed)
        if found is None:
            found = Memory(base=self._random.randint(1, IDENTITY_MAX))
        memory = found.model_copy(update={"session": found.next_session(wall_ns)})
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            memories.save(path, memory)
        except OSError as error:
            fault = error.strerror or "not writable"
            self._without(fault, path, "make room there, or make it writable", needed=needed)
        return memory

    @staticmethod
    def _without(fault: str, path: Path, to_do: str, *, needed: bool) -> None:
        error = BadFile(f"the base's memory: {fault}", str(path), to_do)
        if needed:
            raise error
        _log.error("%s", error)

    def _pure_parts(self, memory: Memory) -> tuple[Intake, BeaconSender]:
        keyring = self._keys.keyring
        proving = None if self._keys.fault else keyring
        beacons = BeaconSender(memory.base, memory.session, proving, self._random)
        intake = Intake(keyring, beacons)
        if keyring is not None:
            for identity, numbers in memory.packs.items():
                intake.remember(identity, numbers)
        return intake, beacons

    def _assemble(
        self,
        start: Start,
        intake: Intake,
        beacons: BeaconSender,
        memory: Memory,
        keeper: LinkKeeper,
        writer: JournalWriter,
        ballast: Ballast,
    ) -> Recorder:
        self._guard = Guard(self._lock)
        stamp = self._clock.stamp()
        start.facts = (*start.facts, *self._facts)
        writer.begin_session(self._clock.boot_id(), start.origin_boot_ns, stamp.wall_ns, SOFTWARE)
        path = memories.memory_path(self._settings.incidents_path, start.opened.use)
        seconds = spill.choose(self.path, self._settings.spill_path, self._answer)
        spills = [spill.Spill.at(spill.spill_path(self.path, folder)) for folder in seconds]
        recorder = self._recorder = Recorder(
            Sequencer(start, intake, beacons, stamp),
            Places(writer, ballast, spills, self._clock.boot_ns),
            keeper,
            DeskServer(self._desk_path),
            self._clock,
            # What anybody may have sent must not shut a pack out at the next incident.
            MemoryKeeper(
                path, memory, lambda: intake.freshness() if intake.proves else memory.packs
            ),
            self._sounder(),
            self._keys_back(intake, beacons, memory),
        )
        recorder.signing = signing_of(self.path, self._keys.signing)
        self.links = keeper
        # What stands now stands to the end: the collector need not look at it again.
        gc.freeze()
        return recorder

    def _keys_back(self, intake: Intake, beacons: BeaconSender, memory: Memory) -> KeysBack | None:
        """What looks for keys that are lost; None: they are there, or there are none."""
        if not self._keys.fault:
            return None
        assert self._setup is not None, "told in the journal"
        return KeysBack(self._keys_again, intake, beacons, memory.packs, self._setup)

    def _sounder(self) -> Sounder:
        """Give the sound; without its files there is none, and that is told as any other fault."""
        setting = self._settings.sound
        found = player.commands(setting)
        cycles = self._settings.evacuation_tone
        tone = (evacuation(cycles),) if cycles else ()
        try:
            files = write_tones(runtime_folder.folder(), *tone) if found else {}
        except OSError as error:
            _log.error("the tones cannot be written: %s", error)
            return Sounder(setting, [], {})
        return Sounder(setting, found, files, *tone)

    def _wake(self) -> None:
        # Links read from the moment they are open; what came before there was a recorder is taken
        # as it begins to run.
        if self._recorder is not None:
            self._recorder.wake()


def _take_lock(path: Path) -> Lock:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        check_place(path.parent)
        lock = Lock.take(path)
    except OSError as error:
        reason = error.strerror or "not writable"
        if error.errno in {errno.EPERM, errno.EISDIR}:
            raise BadJournal(reason, str(lock_path(path)), "see whose it is; remove it") from None
        raise BadJournal(f"the folder: {reason}", str(path.parent), "choose another") from None
    if lock is None:
        raise _busy(path)
    return lock


def _busy(path: Path) -> Busy:
    return Busy("this incident is being recorded already", str(path), "watch it instead")


def _check_own(folder: Path) -> None:
    """Raise BadJournal where anybody could put another file in a journal's place."""
    with contextlib.suppress(OSError):
        if open_to_all(folder):
            what, to_do = "everybody can write in the folder", "choose another, or chmod o-w"
            raise BadJournal(what, str(folder), to_do)


def _check_opened(path: Path, last: Batch) -> None:
    if last.last_row == 0:
        what = "the incident was never opened: its recorder ended too soon"
        raise BadJournal(what, str(path), f"take it away: outby incidents discard {path.stem}")


def _header(opened: Opened, simulated: str, signer: str) -> Header:
    return Header(
        fold=opened.fold,
        software=opened.software,
        incident=opened.incident,
        use=opened.use,
        opened_wall_ns=opened.wall_ns,
        catalogue=digest(),
        simulated=simulated,
        signer=signer,
    )


def _check_fold(header: Header, path: Path) -> None:
    if header.fold != FOLD_VERSION:
        raise BadJournal(
            f"the incident was recorded by fold version {header.fold}, this is {FOLD_VERSION}",
            str(path),
            "go on with the program that opened it, or open a new incident",
        )
