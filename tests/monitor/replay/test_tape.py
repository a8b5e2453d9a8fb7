"""A journal as a tape."""

from monitor.journal.reader import JournalReader
from monitor.replay.marks import MarkKind, mark_of, note_of
from monitor.replay.tape import JournalTape
from shared import path

GOLDEN = path("journals", "kiln-lane.journal")


def test_it_hands_over_every_row_and_goes_as_far_as_the_journal() -> None:
    with JournalReader(GOLDEN) as reader, JournalTape(GOLDEN) as tape:
        last = reader.last_batch()
        assert (tape.end(), tape.end()) == (last.horizon, last.horizon)
        rows = 0
        while step := tape.rows(rows):
            rows += len(step)
        assert rows == last.last_row


def test_its_marks_are_those_of_all_rows_found_without_the_frames() -> None:
    with JournalReader(GOLDEN) as reader, JournalTape(GOLDEN) as tape:
        rows = [row for step in reader.steps(reader.last_batch().last_row) for row in step]
        assert tape.marks() == tuple(mark for row in rows if (mark := mark_of(row)))
        assert {mark.kind for mark in tape.marks()} >= {MarkKind.ALARM}


def test_its_notes_are_those_of_all_rows() -> None:
    with JournalReader(GOLDEN) as reader, JournalTape(GOLDEN) as tape:
        rows = [row for step in reader.steps(reader.last_batch().last_row) for row in step]
        assert tape.notes() == tuple(note for row in rows if (note := note_of(row)))
