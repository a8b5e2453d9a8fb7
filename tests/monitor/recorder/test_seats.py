"""One board acts at a time; the rules are this program's own."""

from monitor.desk import Ask, Hello
from monitor.incident.events import Note
from monitor.recorder.seats import HOLDER_SILENT_NS, NOBODY, Seats

S = 1_000_000_000
NOW = 100 * S


def hello(board: str, *, want: str = "act", take: bool = False) -> Hello:
    return Hello.model_validate({"board": board, "by": f"by {board}", "want": want, "take": take})


def ask(asked_ns: int) -> Ask:
    act = Note(id="act-0001", by="R. Harrow", text="radio check")
    return Ask(act=act, asked_boot_ns=asked_ns)


def seats(*, exercise: bool = True) -> Seats:
    return Seats(NOW, exercise=exercise)


def test_the_first_board_that_asks_holds_the_desk() -> None:
    desk = seats()
    assert desk.holder == NOBODY
    assert desk.hello(1, hello("one"), NOW)
    assert desk.holds(1)
    assert (desk.holder.board, desk.holder.by) == ("one", "by one")


def test_a_second_board_looks_on_until_it_takes_the_desk() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    assert not desk.hello(2, hello("two"), NOW)
    assert not desk.holds(2)
    assert desk.why_not(2, ask(NOW), NOW) == "by one holds the board."
    assert desk.hello(2, hello("two", take=True), NOW)
    assert desk.holds(2)
    assert not desk.holds(1)
    assert desk.why_not(1, ask(NOW), NOW) == "by two holds the board."


def test_a_board_that_only_looks_never_holds() -> None:
    desk = seats()
    assert not desk.hello(1, hello("one", want="view"), NOW)
    assert desk.why_not(1, ask(NOW), NOW) == "This board looks on."


def test_a_holder_that_goes_lets_go() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    assert desk.left(1)
    assert desk.holder == NOBODY
    assert not desk.left(1)
    assert desk.hello(2, hello("two"), NOW)


def test_a_holder_that_wants_to_look_only_lets_go() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    assert desk.hello(1, hello("one", want="view"), NOW)
    assert desk.holder == NOBODY


def test_a_holder_that_no_longer_draws_gives_way_after_three_beats() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    desk.beat(1, NOW + S)
    assert not desk.hello(2, hello("two"), NOW + S + HOLDER_SILENT_NS)
    assert desk.hello(3, hello("three"), NOW + S + HOLDER_SILENT_NS + 1)
    assert desk.holder.board == "three"


def test_the_same_board_on_a_new_connection_keeps_its_role() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    assert not desk.hello(2, hello("one"), NOW)
    assert desk.holds(2)
    assert not desk.left(1)
    assert desk.holds(2)


def test_nobody_acts_without_saying_who_they_are() -> None:
    assert seats().why_not(1, ask(NOW), NOW) == "This board has not said who it is."
    seats().beat(1, NOW)


def test_a_script_acts_beside_the_holder_in_an_exercise_only() -> None:
    desk, real = seats(), seats(exercise=False)
    for one in (desk, real):
        one.hello(1, hello("one"), NOW)
        assert not one.hello(2, hello("drill", want="script"), NOW)
        assert one.holds(1)
    assert desk.why_not(2, ask(NOW), NOW) is None
    assert real.why_not(2, ask(NOW), NOW) == "A script may not act at a real incident."


def test_an_act_dies_after_ten_seconds_and_not_a_nanosecond_earlier() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    assert desk.why_not(1, ask(NOW), NOW + 10 * S) is None
    assert desk.why_not(1, ask(NOW), NOW + 10 * S + 1) == "Asked more than 10 s ago."


def test_an_act_from_the_future_is_from_another_clock() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    assert desk.why_not(1, ask(NOW + S), NOW) is None
    assert desk.why_not(1, ask(NOW + S + 1), NOW) == "Asked by another clock than this machine's."


def test_everybody_seated_is_known() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    desk.hello(2, hello("two", want="view"), NOW)
    assert desk.seated() == (1, 2)


def test_nobody_looks_once_no_board_has_drawn_for_3_s() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    desk.beat(1, NOW + S)
    assert desk.look(NOW + 4 * S) is None
    assert desk.look(NOW + 4 * S + 1) is False
    assert desk.look(NOW + 5 * S) is None
    desk.beat(1, NOW + 6 * S)
    assert desk.look(NOW + 6 * S) is True
    assert desk.look(NOW + 6 * S) is None


def test_a_board_that_looks_on_looks_and_one_that_has_only_come_does_not() -> None:
    desk = seats()
    desk.hello(1, hello("one", want="view"), NOW)
    desk.beat(1, NOW + 3 * S)
    desk.hello(2, hello("two"), NOW + 5 * S)
    assert desk.look(NOW + 6 * S) is None
    assert desk.look(NOW + 6 * S + 1) is False


def test_taken_up_again_unwatched_it_stays_so_until_a_board_draws() -> None:
    desk = Seats(NOW, exercise=True, watched=False)
    assert desk.look(NOW) is None
    assert desk.look(NOW + 9 * S) is None
    desk.hello(1, hello("one"), NOW + 9 * S)
    desk.beat(1, NOW + 9 * S)
    assert desk.look(NOW + 9 * S) is True


def test_the_recorders_own_stall_is_no_boards_fault() -> None:
    desk = seats()
    desk.hello(1, hello("one"), NOW)
    desk.beat(1, NOW)
    desk.stalled(60 * S)
    assert desk.look(NOW + 63 * S) is None
    desk.hello(2, hello("two"), NOW + 63 * S)
    assert not desk.holds(2)
