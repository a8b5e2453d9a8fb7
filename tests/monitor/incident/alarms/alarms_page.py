"""ALARMS.md, made from the catalogue and the table of states.

Run this file to write it anew: ``python -m tests.monitor.incident.alarms.alarms_page``.
"""

from collections.abc import Iterator
from pathlib import Path

from monitor.incident import grouping
from monitor.incident.alarms import engine, ranking, states
from monitor.incident.alarms.catalogue import CATALOGUE, Entry
from monitor.incident.alarms.entry import ASIDE_MINUTES_MAX
from monitor.incident.alarms.states import LETTERS, PUT_AWAY, TABLE, Cell, Input, State
from monitor.incident.picture import Phase, Priority

PAGE = Path(states.__file__).with_name("ALARMS.md")
S = 1_000_000_000
LETTER = {state: letter for letter, state in LETTERS.items()}
WITH_A_LINE = [state for state in State if state not in PUT_AWAY]
SHORT = {
    Input.RAISE: "begins", Input.CLEAR: "ends", Input.WORSEN: "worsens",
    Input.ACKNOWLEDGE: "taken", Input.RESET: "reset",
    Input.SHELVE: "put aside", Input.UNSHELVE: "back",
    Input.SUPPRESS: "held back", Input.RELEASE: "let go",
    Input.RELEASE_TAKEN: "let go, taken",
    Input.REMOVE: "out of service", Input.RESTORE: "in service",
}  # fmt: skip
"""Headings of the table of states."""

HEAD = """# Alarms

An alarm is something that needs an answer of the officer; so each has one, written down before it
ever sounds. This page is made from `catalogue.py` and `states.py` beside it, and a test fails when
it is stale. Write it anew with `python -m tests.monitor.incident.alarms.alarms_page`.

- **Danger**: somebody may die, or nobody could see it. Written as a filled red block with its sign,
  sounds until it is taken, is taken alone. After {insist} s untaken it sounds anew and its whole
  line is written large.
- **Caution**: will become a danger, or hides one. Cautions in view can be taken together.
- **Notice**: to be known; no sound, needs no key.

Outside its scope the same fact is a check result or nothing: a warning tried out at the door and a
set bled after use do not alarm. A procedure can replace what to do by its own words (`[do]`,
[PROCEDURES.md](../../PROCEDURES.md)), named by the kinds below.
"""

RULES = """## Order and grouping

By the table below: first a person, then the base, then reminders; among them dangers before
cautions; then what nobody has taken; then how long there is to act, what it means for a life, how
much air is left, and age, the oldest first. Where a danger is of air and that is known, the time to
act is the air: up to 3 min of it at once, 6 min within 1 min, 12 min within 2 min, more within 5.
The last 90 s of air that was read stand above a call for help: a call to the mate takes seconds,
and after them there is no air to call about. Air that is only reckoned, of somebody who is not
heard, never does, and never waits for more than 2 min: to find them takes from it. A wearer's own
line shows the worst by the same table, taken or not. Where there is no room for all, the last line
is for the newest danger, so that none waits for others to be taken before it can be read.
[ORDER-PAIRS.md](ORDER-PAIRS.md) has pairs of alarms judged before the table was written, and
[ORDER-PAIRS-BY-ANOTHER.md](ORDER-PAIRS-BY-ANOTHER.md) those of somebody who did not write it; at
most 5 % of either stand the other way round.

A base that hears nothing, or does not know the time, is about everybody under air, and stands below
a person all the same, even below a notice: somebody may be going still just then, of whom no more
will be heard. It is a danger with its sound, and the last line is kept for the newest of those.

{ranking}

Among equally urgent ones, those of one crew stand together where its first stands: a crew is one
place and one call. Each keeps its own line and its own key all the same, because who is in danger
is what counts, and a danger that was not read must not be taken with another. Alarms about a crew
as a whole, or about several packs that fell silent together, are one alarm from the start and name
everybody in it. A taken group takes in who joins it, says how many are new, and waits anew when it
has doubled. Whoever such an alarm named, and was taken there, comes back as taken when it ends.

Crews that must turn back are one line, and what one call to a crew answers is one line of that crew
(above, "told"), with the names of its members; whoever becomes a danger there gets a line alone.
What joins such a line within 2 min of its beginning makes no sound, later only what doubles it, and
of packs switched off each; once nobody is left in it of those for whom it was taken, it waits anew
15 s later, and one that was put aside comes back with whoever joins it. A crew that is late gets a
danger of its own, by name, at its own instant. Before that there are reminders, one line each for
all crews, which are shown and make no sound: of turning back within 2 min, and of a way back that
has lasted as long as the way in.

A wearer whose mate is in danger shows CREW ALARM and never "ok".

## Put aside

The officer may take a caution or notice off the lines for 1 to {minutes} minutes, with a reason,
where the catalogue allows it. No danger can be, and nothing that stands for one. What is put aside
is listed on the screen as long as it is. It comes back by itself: when its time is over, at once
when it becomes a danger (a doubted gauge: when the air that is reckoned reaches the low-air value),
when its wearer goes off air or changes packs; waiting anew if its
condition holds then, else gone. Who did it, when and why is in the journal, and so is taking it
back.
"""

STATES = """## States

The state set of IEC 62682 / ISA-18.2 (from memory), as `states.py` has it; its head says how it
works. Every pair that is not drawn is refused, changes nothing and goes to the log.
"""


def page() -> str:
    """The whole page."""
    parts = [
        HEAD.format(insist=engine.INSIST_AFTER_NS // S),
        "\n".join(_overview()) + "\n",
        *(_entry(entry) for entry in CATALOGUE.values()),
        RULES.format(minutes=ASIDE_MINUTES_MAX, ranking="\n".join(_ranking())),
        STATES,
        "```mermaid\n" + "\n".join(_diagram()) + "\n```\n",
        "\n".join(_table()) + "\n",
    ]
    return "\n".join(parts)


def _overview() -> Iterator[str]:
    yield "| alarm | kind | priority | scope | latches | put aside |"
    yield "|---|---|---|---|---|---|"
    for entry in CATALOGUE.values():
        latches = "yes" if entry.latches else ""
        aside = "yes" if entry.may_be_shelved else ""
        first = f"{_word(entry)} | `{entry.kind}` | {entry.priority.name.casefold()}"
        yield f"| {first} | {entry.scope} | {latches} | {aside} |"


def _ranking() -> Iterator[str]:
    yield "| about | alarm | answer within | what it means | why here |"
    yield "|---|---|---|---|---|"
    rows = sorted(CATALOGUE.values(), key=lambda e: place(e)[:6])
    for entry in rows:
        rank = ranking.RANKING[entry.kind]
        words = ranking.within(entry.kind)
        about = rank.about.name.casefold()
        life = ranking.LIFE_WORDS[rank.life] if rank.about is ranking.About.PERSON else ""
        yield f"| {about} | {_word(entry)} | {words} | {life} | {rank.why}{_at_door(rank)} |"


def _at_door(rank: ranking.Rank) -> str:
    if rank.at_door is None:
        return ""
    phases = " or ".join(p.value for p in Phase if p in rank.at_door.phases)
    return f"; {phases}: {rank.at_door.why}"


def place(entry: Entry) -> ranking.Place:
    """Where a row stands at its own priority."""
    kind, priority = entry.kind, entry.priority
    return ranking.place_of(kind, priority, ranking.NOTHING, taken=False, raised_ns=0, number=0)


def _word(entry: Entry) -> str:
    return entry.word if entry.priority is Priority.NOTICE else entry.word.upper()


def _entry(entry: Entry) -> str:
    key = "stays until it is taken" if entry.key_needed else "goes by itself, taken or not"
    rows = {
        "raised": entry.raised,
        "clears": entry.clears if entry.latches else f"{entry.clears}; {key}",
        **_steady(entry),
        **({"told": "in one line of each crew"} if entry.kind in grouping.OF_A_CREW else {}),
        **({"told": "in one line of all crews"} if entry.kind in grouping.OF_ALL else {}),
        "do": entry.to_do,
        **({"do, noted out": entry.to_do_out} if entry.to_do_out else {}),
        **({f"do, {entry.word_all}": entry.to_do_all} if entry.to_do_all else {}),
        "within": ranking.within(entry.kind),
        "else": entry.consequence,
        "put aside": _aside(entry),
        "source": entry.source,
    }
    lines = [f"### {_word(entry)}", "", "| | |", "|---|---|"]
    return "\n".join([*lines, *(f"| {name} | {text} |" for name, text in rows.items())]) + "\n"


def _steady(entry: Entry) -> dict[str, str]:
    """Against flicker: how long, or how far, past its limit it must be over."""
    parts = [f"over for {entry.off_delay_s} s"] if entry.off_delay_s else []
    parts += [f"over by more than {entry.dead_band:g} %"] if entry.dead_band else []
    return {"goes when": f"{', '.join(parts)}: {entry.steady}"} if parts else {}


def _aside(entry: Entry) -> str:
    if not entry.may_be_shelved:
        return "never"
    least = entry.aside_minutes == ASIDE_MINUTES_MAX
    return "may be" if least else f"may be, for {entry.aside_minutes} min at most"


# ---------------------------------------------------------------- states


def _ways(cell: Cell) -> Iterator[tuple[State, str]]:
    """Each state that a cell leads to, and under which circumstances."""
    holds = ", holds" if cell.while_true is not None else ""
    gone = ", gone" if cell.while_true is not None else ""
    if cell.while_true is not None:
        yield cell.while_true, holds
    if cell.plain is cell.latching:
        if cell.plain is not None:
            yield cell.plain, gone
        return
    if cell.plain is not None:
        yield cell.plain, gone
    if cell.latching is not None:
        yield cell.latching, f"{gone}, latches"


def _diagram() -> Iterator[str]:
    yield "stateDiagram-v2"
    yield "    direction LR"
    yield '    state "has a line" as shown {'
    for state in State:
        inner = "    " if state in WITH_A_LINE else ""
        if state is State.SHELVED:
            yield "    }"
        yield f'    {inner}state "{LETTER[state]} {state}" as {LETTER[state]}'
    yield "    [*] --> A"
    arrows: dict[tuple[str, str], list[str]] = {}
    for (state, what), cell in TABLE.items():
        for after, when in _ways(cell):
            start = LETTER[state]
            if after in PUT_AWAY and state in WITH_A_LINE:
                start = "shown"
                when = ""  # noqa: PLW2901 - every state with a line can be put away
            if after is not state:
                says = arrows.setdefault((start, LETTER[after]), [])
                if what + when not in says:
                    says.append(what + when)
    for (start, end), says in arrows.items():
        yield f"    {start} --> {end}: {'; '.join(says)}"


def _table() -> Iterator[str]:
    yield f"| | {' | '.join(SHORT[what] for what in Input)} |"
    yield "|---" * (len(Input) + 1) + "|"
    for state in State:
        cells = " | ".join(_cell(TABLE[state, what]) for what in Input)
        yield f"| {LETTER[state]} {state} | {cells} |"
    yield ""
    yield "`D/E`: D for an alarm that does not latch, E for one that does. `B?A/E`: B while the"
    yield "condition holds, else A or E. `-` and empty: refused."


def _cell(cell: Cell) -> str:
    def letter(state: State | None) -> str:
        return "-" if state is None else LETTER[state]

    if cell.plain is None and cell.latching is None:
        return ""
    plain, latching = letter(cell.plain), letter(cell.latching)
    both = plain if plain == latching else f"{plain}/{latching}"
    return both if cell.while_true is None else f"{letter(cell.while_true)}?{both}"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
