"""The board's end of the desk on a real socket pair; nothing waits, time is handed in."""

import socket
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from monitor import desk
from monitor.desk import (
    Ask,
    BoardBeat,
    Held,
    Hello,
    NoAnswer,
    NotTaken,
    Role,
    Stop,
    Stopping,
    Taken,
)
from monitor.desk_client import (
    ASKED_MAX,
    FORGET_NS,
    FULL_RETRY_NS,
    RETRY_NS,
    DeskClient,
    unix_connect,
)
from monitor.incident.events import Note

S = 1_000_000_000


@dataclass
class Recorder:
    """The other end: a socket for each connection made, or a refusal."""

    refuse: bool = False
    ends: list[socket.socket] = field(default_factory=list)
    mine: list[socket.socket] = field(default_factory=list)

    def connect(self) -> socket.socket:
        if self.refuse:
            raise ConnectionRefusedError(111, "refused")
        ours, theirs = socket.socketpair()
        theirs.settimeout(0)
        self.ends.append(theirs)
        self.mine.append(ours)
        return ours

    def heard(self, which: int = -1) -> list[desk.UpMessage | str]:
        try:
            data = self.ends[which].recv(1 << 20)
        except BlockingIOError:
            return []
        return [desk.read_up(line) for line in data.splitlines()]

    def say(self, *messages: desk.DownMessage, which: int = -1) -> None:
        self.ends[which].sendall(b"".join(desk.line(m) for m in messages))

    def close(self) -> None:
        for end in (*self.ends, *self.mine):
            end.close()


@pytest.fixture
def recorder() -> Iterator[Recorder]:
    made = Recorder()
    yield made
    made.close()


@pytest.fixture
def client(recorder: Recorder) -> DeskClient:
    return DeskClient(recorder.connect, "board-1", "R. Harrow")


def note(n: int = 1) -> Note:
    return Note(id=f"note-{n:08}", by="R. Harrow", text="x")


def test_it_says_hello_and_learns_its_role(client: DeskClient, recorder: Recorder) -> None:
    assert client.pump(S) == []
    assert recorder.heard() == [Hello(board="board-1", by="R. Harrow", want="act")]
    assert not client.connected
    recorder.say(Role(holder=True, by="R. Harrow"))
    client.pump(S)
    assert client.connected
    assert client.holds


def test_where_there_is_no_seat_it_is_told_and_tries_again_later(
    client: DeskClient, recorder: Recorder
) -> None:
    client.pump(S)
    recorder.say(desk.Full(boards=32))
    client.pump(S)
    assert (client.full, client.connected) == (32, False)
    client.pump(S + FULL_RETRY_NS - 1)
    assert len(recorder.ends) == 1
    client.pump(S + FULL_RETRY_NS)
    assert len(recorder.ends) == 2
    assert client.full == 32
    recorder.say(Role(holder=False, by="R. Harrow"))
    client.pump(2 * S + FULL_RETRY_NS)
    assert (client.full, client.connected) == (0, True)


def test_an_act_is_asked_and_its_answer_comes_out(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    recorder.heard()
    client.ask(note(), 2 * S)
    assert recorder.heard() == [Ask(act=note(), asked_boot_ns=2 * S)]
    recorder.say(Taken(id="note-00000001"))
    assert client.pump(2 * S) == [Taken(id="note-00000001")]
    assert client.pump(20 * S) == []


def test_not_taken_comes_out_with_its_reason(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    client.ask(note(), S)
    recorder.say(NotTaken(id="note-00000001", why="no"))
    assert client.pump(S) == [NotTaken(id="note-00000001", why="no")]


def test_an_answer_to_nothing_is_dropped(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    recorder.say(Taken(id="somebody-elses"))
    assert client.pump(S) == []


def test_of_an_act_without_an_answer_nothing_is_known_until_one_comes(
    client: DeskClient, recorder: Recorder
) -> None:
    """The recorder may have taken it and be hung: NOT TAKEN would be untrue."""
    client.pump(S)
    client.ask(note(), S)
    assert client.pump(S + desk.ANSWER_NS_MAX - 1) == []
    assert client.pump(S + desk.ANSWER_NS_MAX) == [NoAnswer(id="note-00000001")]
    assert client.pump(20 * S) == []
    recorder.say(Taken(id="note-00000001"))
    assert client.pump(30 * S) == [Taken(id="note-00000001")]
    recorder.say(Taken(id="note-00000001"))
    assert client.pump(31 * S) == []


def test_an_act_that_is_held_has_its_answer_and_its_last_word_comes_later(
    client: DeskClient, recorder: Recorder
) -> None:
    client.pump(S)
    client.ask(note(), S)
    held = Held(id="note-00000001", sent=True)
    recorder.say(held)
    assert client.pump(2 * S) == [held]
    assert client.pump(60 * S) == []
    recorder.say(Taken(id="note-00000001"))
    assert client.pump(61 * S) == [Taken(id="note-00000001")]


def test_what_was_held_or_had_no_answer_is_asked_again_on_a_new_connection(
    client: DeskClient, recorder: Recorder
) -> None:
    client.pump(S)
    recorder.say(Role(holder=True, by="R. Harrow"))
    client.ask(note(), S)
    recorder.say(Held(id="note-00000001"))
    client.pump(2 * S)
    recorder.ends[0].close()
    client.pump(40 * S)
    client.pump(41 * S)
    _, ask = recorder.heard()
    assert ask == Ask(act=note(), asked_boot_ns=S)
    recorder.say(NotTaken(id="note-00000001", why="Asked more than 10 s ago."))
    (answer,) = client.pump(42 * S)
    assert isinstance(answer, NotTaken)


def test_an_answer_of_long_ago_is_no_news(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    client.ask(note(), S)
    client.pump(S + desk.ANSWER_NS_MAX)
    assert client.pump(S + FORGET_NS) == []
    recorder.say(Taken(id="note-00000001"))
    assert client.pump(S + FORGET_NS) == []


def test_it_connects_again_and_asks_again_under_the_same_id(
    client: DeskClient, recorder: Recorder
) -> None:
    client.pump(S)
    recorder.say(Role(holder=True, by="R. Harrow"))
    client.ask(note(), S)
    recorder.ends[0].close()
    client.pump(2 * S)
    assert not client.connected
    assert client.fault
    client.pump(3 * S)
    hello, ask = recorder.heard()
    assert isinstance(hello, Hello)
    assert ask == Ask(act=note(), asked_boot_ns=S)


def test_it_tries_twice_a_second_at_most(client: DeskClient, recorder: Recorder) -> None:
    recorder.refuse = True
    client.pump(S)
    assert client.fault == "refused"
    recorder.refuse = False
    client.pump(S + RETRY_NS - 1)
    assert recorder.ends == []
    client.pump(S + RETRY_NS)
    assert len(recorder.ends) == 1


def test_an_answer_in_the_last_breath_still_counts(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    client.ask(note(), S)
    recorder.say(Taken(id="note-00000001"))
    recorder.ends[0].shutdown(socket.SHUT_WR)
    assert client.pump(S) == [Taken(id="note-00000001")]
    assert not client.connected


def test_a_role_on_a_connection_that_has_gone_does_not(
    client: DeskClient, recorder: Recorder
) -> None:
    client.pump(S)
    recorder.say(Role(holder=True, by="R. Harrow"))
    recorder.ends[0].shutdown(socket.SHUT_WR)
    client.pump(S)
    assert client.role is None


def test_rubbish_is_passed_over(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    recorder.ends[0].sendall(b"\xff\xfe\n{}\nnot json\n" + desk.line(Role(holder=False, by="x")))
    client.pump(S)
    assert client.role == Role(holder=False, by="x")
    assert client.fault


def test_pieces_of_lines_are_put_together(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    data = desk.line(Role(holder=True, by="R. Harrow"))
    for n in range(len(data)):
        assert client.role is None
        recorder.ends[0].sendall(data[n : n + 1])
        client.pump(S)
    assert client.holds


def test_a_line_without_end_is_given_up(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    recorder.ends[0].settimeout(None)
    for _ in range(4):
        recorder.ends[0].sendall(b"x" * 30_000)
        client.pump(S)
        if not recorder.mine[0]._closed:  # type: ignore[attr-defined]
            continue
        break
    assert client.fault == "a line that does not end"


def test_a_recorder_that_does_not_read_is_given_up(client: DeskClient, recorder: Recorder) -> None:
    client.pump(S)
    recorder.say(Role(holder=True, by="R. Harrow"))
    client.pump(S)
    for n in range(200_000):
        client.beat(n)
        if not client.connected:
            break
    assert client.fault == "the recorder does not read"


def test_too_many_acts_without_an_answer(client: DeskClient) -> None:
    client.pump(S)
    for n in range(ASKED_MAX + 1):
        client.ask(note(n), S)
    (answer,) = client.pump(S)
    assert isinstance(answer, NotTaken)
    assert answer.why == "too many acts without an answer"


def test_beat_take_stop(client: DeskClient, recorder: Recorder) -> None:
    client.beat(1)  # no connection: dropped
    client.pump(S)
    recorder.heard()
    client.beat(2)
    client.take()
    client.stop()
    assert recorder.heard() == [
        BoardBeat(board="board-1", frame=2),
        Hello(board="board-1", by="R. Harrow", take=True),
        Stop(by="R. Harrow"),
    ]
    recorder.say(Stopping())
    assert client.pump(S) == [Stopping()]
    client.close()
    assert not client.connected


def test_connecting_to_a_path(tmp_path: Path, chdir_short: Callable[[], Path]) -> None:
    path = chdir_short() / "d"
    with pytest.raises(OSError, match="No such file"):
        unix_connect(path)()
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as server:
        server.bind(str(path))
        server.listen()
        unix_connect(path)().close()


@pytest.fixture
def chdir_short(tmp_path_factory: pytest.TempPathFactory) -> Callable[[], Path]:
    """A folder with a path short enough for a Unix socket."""
    return lambda: tmp_path_factory.mktemp("s")
