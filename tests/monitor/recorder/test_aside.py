"""What may hang is done aside: whoever asks for it goes on."""

import threading

from monitor.recorder.aside import Aside

WAIT_S = 10.0


def test_it_is_done_and_whoever_asks_does_not_wait() -> None:
    aside, let_go, began = Aside("test"), threading.Event(), threading.Event()
    done: list[str] = []

    def hang() -> None:
        began.set()
        let_go.wait(WAIT_S)
        done.append("first")

    aside.do(hang)
    assert began.wait(WAIT_S)
    aside.do(lambda: done.append("second"))
    aside.do(lambda: done.append("third"))
    assert done == []
    let_go.set()
    assert aside.end(WAIT_S)
    # The second waited while the third was asked for: only the newest counts.
    assert done == ["first", "third"]


def test_what_fails_does_not_end_it() -> None:
    aside, done = Aside("test"), threading.Event()
    failed = threading.Event()

    def fail() -> None:
        failed.set()
        raise OSError(5, "Input/output error")

    aside.do(fail)
    assert failed.wait(WAIT_S)
    aside.do(done.set)
    assert aside.end(WAIT_S)
    assert done.is_set()


def test_one_that_hangs_is_left_to_itself() -> None:
    aside, let_go = Aside("test"), threading.Event()

    def hang() -> None:
        let_go.wait(WAIT_S)

    aside.do(hang)
    assert not aside.end(0.01)
    let_go.set()


def test_with_nothing_to_do_there_is_no_thread() -> None:
    before = threading.active_count()
    aside = Aside("test")
    assert threading.active_count() == before
    assert aside.end(0.0)
