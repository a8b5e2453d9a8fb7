"""ASKED, then TAKEN or NOT TAKEN; a failure is not pushed away by the next word."""

from monitor.board.session.messages import HOLD_NS, NOT_TAKEN_NS, PENDING_MAX, SHOWN_NS, Messages
from monitor.board.words.marks import Role
from monitor.desk_client import TOO_MANY

NOW = 10_000_000_000


def test_asked_then_taken() -> None:
    messages = Messages()
    messages.asked("a", "out: 4 Alpha 2-2", NOW)
    assert messages.line(NOW) == ("ASKED: out: 4 Alpha 2-2", Role.STRONG)
    messages.taken("a", NOW + 5)
    assert messages.line(NOW + 5)[0] == "TAKEN: out: 4 Alpha 2-2"
    assert messages.line(NOW + 5 + SHOWN_NS)[0] == ""


def test_a_refusal_by_rule_says_why_first_and_holds_its_place() -> None:
    messages = Messages()
    messages.asked("a", "out: 4", NOW)
    messages.asked("b", "out: 5", NOW)
    messages.not_taken("a", "wearer 4 is not on air", NOW)
    words = " NOT DONE: wearer 4 is not on air (out: 4) "
    messages.taken("b", NOW + 1)
    assert messages.line(NOW + 1) == (words, Role.CAUTION)
    messages.say("no alarm waits", NOW + HOLD_NS)
    assert messages.line(NOW + HOLD_NS)[0] == "no alarm waits"
    messages.not_taken("x", "why", NOW)
    assert messages.line(NOW + NOT_TAKEN_NS - 1)[0]


def test_use_voice_is_kept_for_the_desk() -> None:
    messages = Messages()
    messages.asked("a", "out: 4", NOW)
    messages.not_taken("a", TOO_MANY, NOW)
    assert messages.line(NOW)[0].startswith(" NOT TAKEN, USE VOICE: out: 4: too many acts")


def test_the_answer_to_a_later_act_replaces_a_refusal() -> None:
    messages = Messages()
    messages.asked("a", "out: 4", NOW)
    messages.not_taken("a", "wearer 4 is not on air", NOW)
    messages.asked("b", "off air: 4", NOW + 1)
    assert "NOT DONE" in messages.line(NOW + 1)[0], "until then it is to be read"
    messages.taken("b", NOW + 2)
    assert messages.line(NOW + 2)[0] == "TAKEN: off air: 4"


def test_held_then_taken() -> None:
    messages = Messages()
    messages.asked("a", "out: 4", NOW)
    messages.held("a", NOW, sent=False)
    assert messages.line(NOW)[0] == "HELD, NOT ON DISK YET: out: 4"
    messages.taken("a", NOW)
    assert messages.line(NOW)[0] == "TAKEN: out: 4"


def test_an_order_that_was_sent_says_sent_whatever_becomes_of_the_record() -> None:
    messages = Messages()
    messages.asked("a", "EVACUATE all", NOW)
    messages.held("a", NOW, sent=True)
    assert messages.line(NOW)[0] == "SENT, NOT ON DISK YET: EVACUATE all"
    messages.not_taken("a", "Asked more than 10 s ago.", NOW)
    words = " SENT, BUT NOT KEPT IN THE RECORD: EVACUATE all: Asked more than 10 s ago "
    assert messages.line(NOW) == (words, Role.CAUTION)


def test_what_was_held_and_lost_is_not_called_not_taken() -> None:
    messages = Messages()
    messages.asked("a", "out: 4", NOW)
    messages.held("a", NOW, sent=False)
    messages.not_taken("a", "why", NOW)
    assert messages.line(NOW)[0] == " NOT KEPT, USE VOICE: out: 4: why "


def test_without_an_answer_it_may_be_done_or_not_and_the_last_word_may_come() -> None:
    messages = Messages()
    messages.asked("a", "EVACUATE all", NOW)
    messages.no_answer("a", NOW)
    words = " NO ANSWER, USE VOICE: EVACUATE all: it may be done or not "
    assert messages.line(NOW + NOT_TAKEN_NS - 1) == (words, Role.CAUTION)
    messages.taken("a", NOW + HOLD_NS)
    assert messages.line(NOW + HOLD_NS)[0] == "TAKEN AFTER ALL: EVACUATE all"
    messages.asked("b", "out: 4", NOW)
    messages.no_answer("b", NOW)
    messages.not_taken("b", "why", NOW)
    assert messages.line(NOW)[0] == " NOT TAKEN, USE VOICE: out: 4: why "


def test_a_second_failure_replaces_the_first() -> None:
    messages = Messages()
    messages.not_taken("a", "one", NOW)
    messages.not_taken("b", "two", NOW + 1)
    assert "two" in messages.line(NOW + 1)[0]


def test_acts_without_an_answer_are_bounded() -> None:
    messages = Messages()
    for n in range(PENDING_MAX * 2):
        messages.asked(str(n), f"act {n}", NOW)
    messages.taken("0", NOW)
    assert messages.line(NOW)[0] == "TAKEN: act"


def test_a_word_about_a_key_is_gone_once_a_sheet_is_opened_one_about_an_act_stays() -> None:
    messages = Messages()
    messages.say("no wearer has number 9", 0)
    messages.unsay()
    assert messages.line(1)[0] == ""
    messages.asked("act-1", "note", 2)
    messages.unsay()
    assert messages.line(3)[0] == "ASKED: note"
    messages.not_taken("act-1", "the incident is closed", 4)
    messages.say("no wearer has number 9", 5)
    messages.unsay()
    assert "NOT DONE: the incident is closed (note)" in messages.line(6)[0]
