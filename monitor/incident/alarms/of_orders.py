"""The rows of the alarm catalogue that hang on orders and roll calls."""

from monitor.incident.alarms.entry import Entry, Kind, Scope
from monitor.incident.picture import Priority

OF_ORDERS = (
    Entry(
        kind=Kind.ORDER_UNANSWERED,
        word="order unanswered",
        row_word="no answer",
        priority=Priority.CAUTION,
        scope=Scope.ANY,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="an order, or a roll call, stands without an answer for the procedure's time; "
        "danger if the order is to evacuate",
        clears="answered by button or by voice, out, order closed",
        to_do="Call. No answer: command says who goes.",
        consequence="somebody stays in who has not heard",
        source="the procedure: order_acknowledge_s; national guidance: an acknowledgement must "
        "come from each unit",
    ),
    Entry(
        kind=Kind.ORDER_NOT_OUT,
        word="answered, not out",
        row_word="not out",
        priority=Priority.CAUTION,
        scope=Scope.UNDER_AIR,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="an order to come out was answered, and the procedure's time has passed since; "
        "danger if the order is to evacuate",
        clears="out, order closed",
        to_do="Call: what holds them? No answer: emergency crew.",
        consequence="a wearer who answered is taken for one who is safe",
        source="the procedure: order_out_s",
    ),
    Entry(
        kind=Kind.WENT_IN,
        word="in against order",
        row_word="went in",
        priority=Priority.DANGER,
        scope=Scope.ENTERED,
        latches=False,
        key_needed=True,
        may_be_shelved=False,
        raised="gone in while an evacuation of everybody stands, and not as emergency crew",
        clears="out, or sent in as emergency crew",
        to_do="Call them out, or commit them. No answer: tell command.",
        consequence="somebody goes in where all others are told to leave",
        source="common practice",
    ),
    Entry(
        kind=Kind.ROLL_CALL,
        word="roll call due",
        row_word="roll call",
        priority=Priority.NOTICE,
        scope=Scope.BASE,
        latches=False,
        key_needed=False,
        may_be_shelved=True,
        raised="by the procedure's interval while anybody is in, and after each evacuation; "
        "caution when nobody has called it within the time for answering an order",
        clears="the roll is called, nobody in",
        to_do="Call the roll.",
        consequence="somebody is missing and nobody notices",
        source="the procedure: roll_call_s, order_acknowledge_s",
    ),
)
