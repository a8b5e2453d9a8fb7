"""Everything that can be done or looked at, in one table. Pure.

A row says every way to a thing: its key, its two digits after Enter, the letters that find it
there, its word on the plain board with what is typed after it. What a key does, the table of
Enter, the help of both boards and the documents come from here, so a thing is added in one place.

Single keys, no chords, no shift, no function keys, no Y or Z; a key means the same everywhere.
Digits are always a number: a wearer, a reading in bar, or a numbered choice.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from monitor.board.acts.effects import Step
from monitor.board.sheets import after, door, inside
from monitor.board.sheets.common import Opener


class View(StrEnum):
    """Pages to look at beside the list of wearers."""

    CHECK_IN = "check-in"
    ALARMS = "alarms"
    LOG = "log"
    LINKS = "links"
    RECORD = "areas and sets"


@dataclass(frozen=True, slots=True)
class Key:
    """A thing to do or to look at, and the ways to it; most have a key, or two digits."""

    names: tuple[str, ...] = ()
    """The keys, as the terminal library names them."""
    shown: str = ""
    """The same as a person knows them."""
    does: str = ""
    """Name of what the key does."""
    words: str = ""
    """What it is called wherever it is listed."""
    acts: bool = False
    """Needs the board: refused on a second screen."""
    code: str = ""
    """Two digits after Enter."""
    opens: Opener | View | None = None
    """The sheet, or the page to look at, that the digits open."""
    word: str = ""
    """The word that opens the same on the plain board."""
    steps: Mapping[str, Step] = field(default_factory=dict)
    """Steps of a wear that the plain board notes, by its words."""
    typed: tuple[str, ...] = ()
    """What else the plain board understands: lines of its help, each beginning with the word."""
    finds: str = ""
    """Further words by which letters find it."""

    @property
    def helped(self) -> tuple[str, ...]:
        """Lines of the plain board's help."""
        asks = f"{self.word:<16}{self.words}{' (asks)' * self.acts}"
        return (*((asks,) if self.word else ()), *self.typed)


DIGITS = tuple("0123456789")
GROUPS = {
    "1": "AT THE DOOR",
    "2": "INSIDE",
    "3": "EMERGENCY",
    "4": "AFTER USE",
    "5": "THE BOARD",
    "6": "LOOK AT",
}
"""By the first of two digits: the part of the job."""


def _two(
    code: str,
    words: str,
    opens: Opener | View,
    word: str = "",
    finds: str = "",
    *typed: str,
) -> Key:
    """Make a row that has two digits: a sheet that makes an act, or a page to look at."""
    acts = not isinstance(opens, View)
    return Key((), "", "", words, acts, code, opens, word, typed=typed, finds=finds)


THINGS: tuple[Key, ...] = (
    Key(("space",), "Space", "take", "take top (or chosen) alarm", True,
        typed=("take            take the first alarm that waits, as last said",
               "take 3          take alarm 3"), finds="acknowledge"),
    Key(("a",), "a", "take cautions", "take all cautions in view", True),
    Key(("l",), "l", "silence", "silence all sound for 60 s", True,
        typed=("silence         silence all sound for 60 s; silence 90: for 90 s, at most 120",),
        finds="quiet mute"),
    Key(("r",), "r", "reset", "reset an alarm that is over", True,
        typed=("reset 3 REASON  let go of alarm 3, which is over, for that reason",)),
    Key(("p",), "p", "put aside", "put a caution aside (asks)", True,
        typed=("aside 3 10 WHY  put alarm 3, a caution, aside for 10 min, for that reason",),
        finds="shelve"),
    Key(("v",), "v", "take back", "let it come back (asks)", True,
        typed=("return 3        let alarm 3, which is put aside, come back",)),
    Key(("f",), "f", "evacuate", "evacuate all, or the chosen", True,
        typed=("evacuate all    everybody under air is to come out; evacuate 4 5: these alone;",
               "                evacuate crew 4 7: their crews; by: NAME, if given elsewhere"),
        finds="withdraw"),
    Key(("j",), "j", "send", "send the order that is open", True),
    Key(("tab",), "Tab", "orders", "other orders, emergency crew", True,
        typed=("comeout 4 WHY   the crew of wearer 4 is to come out, routine, for that reason",
               "roll            call the roll; roll 4 5, roll crew 4",
               "test all        does an order reach the packs? test 4, test crew 4",
               "close 2 WHY     close order 2 with somebody open in it, for that reason",
               "ready 7         the crew of wearer 7 is ready as emergency crew",
               "commit 7        it is sent in as that",
               "standdown 7     it is one no more",
               "orders          every order, and who keeps it open"),
        finds="roll call test come standby commit close"),
    Key(("left", "right"), "Left Right", "whose", "open order: on whose order", True),
    Key(("minus",), "-", "by voice", "has answered by voice", True,
        typed=("voice 4 5       have answered by voice; voice crew 4",)),
    Key(("insert", "equals_sign"), "Ins =", "note", "a note for the record (asks)", True),
    Key(DIGITS, "0-9", "digit", "choose a wearer by number"),
    Key(("k",), "k", "crew", "choose the whole crew"),
    Key(("comma",), ",", "and", "and another wearer or crew"),
    Key(("c",), "c", "connect", "has connected to air", True, steps={"on": "connect"},
        typed=("on 4 5          wearers 4 and 5 have connected to air",)),
    Key(("e",), "e", "enter", "has gone in", True, steps={"in": "enter"},
        typed=("in 4 5          have gone in",), finds="committed"),
    Key(("g",), "g", "reading", "gauge reading, k for a crew", True,
        typed=("read 4 147      wearer 4 said that the gauge shows 147",
               "lowest 4 147    the lowest gauge in the crew of wearer 4 shows 147"),
        finds="pressure"),
    Key(("i",), "i", "objective", "has reached the objective", True,
        steps={"reached": "objective"}, typed=("reached 4 5     have reached the objective",)),
    Key(("n",), "n", "new objective", "is sent on to a new one", True,
        steps={"onward": "new objective"},
        typed=("onward 4 5      are sent on to a new objective",)),
    Key(("u",), "u", "start back", "has started back", True, steps={"back": "start back"},
        typed=("back 4 5        have started back",), finds="withdrawing"),
    Key(("m",), "m", "supply", "on another supply, and back", True,
        steps={"supply": "other supply", "own": "own supply"},
        typed=("supply 4 5      breathe from another supply",
               "own 4 5         from the own cylinder again")),
    Key(("o",), "o", "out", "has come out", True, steps={"out": "out"},
        typed=("out 4 5         have come out",)),
    Key(("x",), "x", "off air", "is off air", True, steps={"off": "off air"},
        typed=("off 4 5         no longer breathe from the set",)),
    Key(("enter",), "Enter", "enter key", "more to do; ends a reading"),
    Key(("backspace",), "Backspace", "rub out", "takes back a digit or step",
        typed=("undo            take back the step noted last, up to 5 min ago",),
        finds="undo mistake wrong slip"),
    Key(("escape",), "Esc", "leave", "leave a question or a screen"),
    Key(("up", "down"), "Up Down", "step", "choose wearer above, below"),
    Key(("d",), "d", "wearer", "all of a wearer, or an order",
        typed=("wearer 4        all of wearer 4: air, plan, forecast, signal, and their rules",
               "who             everybody, one line each")),
    Key(("s",), "s", "sort", "least time; large figures"),
    Key(("b",), "b", "theme", "daylight, and back"),
    Key(("t",), "t", "take board", "take the board (asks)"),
    Key(("w",), "w", "record again", "record again after a stop",
        typed=("record          record again after a stop",)),
    Key(("h", "question_mark"), "h ?", "help", "these keys, and back",
        typed=("help            these words",)),
    Key(("q", "ctrl+c", "ctrl+q", "ctrl+z"), "q", "quit", "leave the board (asks)",
        typed=("quit            leave; recording goes on",
               "quit stop       leave; recording stops")),
    _two("11", "check-in: pack, tally", door.check_in, "checkin", "tag tally telemetry",
         "join 4 4799     wearer 4 has pack 4799; join 4 4799 6.8 300: and that cylinder;",
          "                join 4 none 6.8 300: no telemetry, cylinder of 6.8 L, 300 bar",
          "packs           packs that are heard and belong to nobody on the board"),
    _two("12", "somebody new on the board", door.newcomer, "new", "add person"),
    _two("13", "crew, crew leader", door.crew, "crew", "team"),
    _two("14", "start-of-use check by hand", door.check_by_hand, "check", "test donning"),
    _two("15", "task, brief, communications", door.assign, "task", "channel radio"),
    _two("16", "a step in full, late, put right", door.late_step, "step",
         "time gauge connecting counts amend",
         "start 4 280     the gauge of wearer 4 showed 280 at connecting",
          "counts 4 pack   of pack and voice at odds the pack counts; counts 4 voice"),
    _two("21", "place", inside.place, "", "where location floor",
         "place 4 5 WORDS where wearers 4 and 5 are, as last told; place crew 4 WORDS"),
    _two("22", "area searched", inside.area, "area", "search room"),
    _two("23", "note in own words", inside.note, "", "remark write",
         "note WORDS      write a remark down; note 4 WORDS: of wearer 4"),
    _two("24", "relief planned", inside.relief, "relief", "change replace"),
    _two("25", "out at another door", inside.other_door, "door", "exit"),
    _two("26", "moved to another board", inside.other_board, "move", "entry point"),
    _two("31", "emergency message", inside.emergency, "message", "mayday distress urgency"),
    _two("32", "REAL EMERGENCY", inside.real_emergency, "real", "exercise no duff"),
    _two("41", "seeing to a set", after.after_use, "after", "clean service"),
    _two("42", "fresh cylinder", after.fresh_cylinder, "cylinder", "bottle change swap"),
    _two("43", "cylinder filled", after.filled, "filled", "refill charge"),
    _two("44", "defect of a set", after.defect, "defect", "fault broken"),
    _two("45", "defect cleared", after.defect_cleared, "cleared", "repaired mended"),
    _two("51", "hand the board over", after.hand_over, "handover", "relieve officer"),
    _two("52", "stage, control level", after.stage, "stage"),
    _two("53", "correct the record", after.correct, "correct", "mistake wrong"),
    _two("54", "close the incident", after.close, "finish", "end stop"),
    _two("61", "check-in and checks", View.CHECK_IN, "checks"),
    _two("62", "alarms, all of them", View.ALARMS, "", "",
         "alarms          every alarm, one line each"),
    _two("63", "log", View.LOG, "log", "history record"),
    _two("64", "links and packs", View.LINKS, "links", "radio signal"),
    _two("65", "areas, reliefs, sets", View.RECORD, "areas", "cylinders"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Table:
    """The rows, and each way to them."""

    things: tuple[Key, ...]
    keys: tuple[Key, ...]
    """Those that have a key."""
    entries: tuple[Key, ...]
    """Those that have two digits."""
    by_name: Mapping[str, Key]
    by_code: Mapping[str, Key]
    by_word: Mapping[str, Key]
    """By the word that opens a sheet or page on the plain board."""
    step_words: Mapping[str, Step]
    """Steps of a wear, by the words of the plain board."""

    def found(self, letters: str) -> list[Key]:
        """What these letters find: whatever has a word that begins so, with its digits first."""
        if not letters:
            return list(self.entries)
        listed = (*self.entries, *self.keys)
        return [thing for thing in listed if any(w.startswith(letters) for w in said_of(thing))]

    def typed_help(self) -> tuple[str, ...]:
        """Every line of the plain board's help."""
        return tuple(line for thing in self.things for line in thing.helped)


def said_of(thing: Key) -> list[str]:
    """Every word that finds a thing, in small letters."""
    said = f"{thing.words} {thing.does} {thing.word} {thing.finds}".casefold()
    return "".join(letter if letter.isalpha() else " " for letter in said).split()


def table_of(things: Iterable[Key]) -> Table:
    """Make the table; each key, number and word means one thing."""
    rows = tuple(things)
    keys = tuple(row for row in rows if row.names)
    entries = tuple(row for row in rows if row.code)
    return Table(
        rows,
        keys,
        entries,
        {name: row for row in keys for name in row.names},
        {row.code: row for row in entries},
        {row.word: row for row in rows if row.word},
        {word: step for row in rows for word, step in row.steps.items()},
    )


TABLE = table_of(THINGS)
KEYS = TABLE.keys
BY_NAME = TABLE.by_name


def help_texts() -> list[tuple[str, str]]:
    """Keys and what they do, in the order of the table."""
    return [(key.shown, key.words) for key in KEYS]
