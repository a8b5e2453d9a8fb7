"""The word TAKEN waits for the row, and for nothing else."""

from dataclasses import dataclass, field

from monitor.board.session.answers import UNREAD_NS, Answers
from monitor.desk import Held, NotTaken, Stopping, Taken

T = 5_000_000_000
A, B = Taken(id="a"), Taken(id="b")


@dataclass
class Reader:
    """What a board has read."""

    done: set[str] = field(default_factory=set)
    catching_up: bool = False

    def did(self, act_id: str) -> bool:
        return act_id in self.done


def test_what_has_been_read_is_said_at_once_and_once() -> None:
    answers = Answers()
    assert answers.ready([A], Reader({"a"}), T) == [A]
    assert answers.ready([], Reader({"a"}), T) == []


def test_taken_waits_for_its_row_and_no_other_word_waits_for_it() -> None:
    answers, reader = Answers(), Reader({"b"})
    no, held = NotTaken(id="c", why="it is closed"), Held(id="d")
    assert answers.ready([A, no, B, held], reader, T) == [no, held, B]
    assert answers.ready([], reader, T + UNREAD_NS - 1) == []
    reader.done.add("a")
    assert answers.ready([], reader, T + UNREAD_NS - 1) == [A]


def test_no_word_before_a_reader_that_catches_up_makes_a_picture() -> None:
    answers, reader = Answers(), Reader({"a"}, catching_up=True)
    assert answers.ready([A], reader, T) == []
    reader.catching_up = False
    assert answers.ready([], reader, T + 1) == [A]


def test_rows_that_do_not_come_keep_a_true_word_back_for_a_second_only() -> None:
    answers = Answers()
    assert answers.ready([A], Reader(), T) == []
    assert answers.ready([B], Reader(), T + UNREAD_NS - 1) == []
    assert answers.ready([], Reader(), T + UNREAD_NS) == [A]


def test_the_last_word_of_a_recorder_comes_last_and_leaves_nothing_unsaid() -> None:
    answers, stopping = Answers(), Stopping()
    assert answers.ready([A], Reader(), T) == []
    assert answers.ready([stopping, B], Reader(), T) == [A, B, stopping]
