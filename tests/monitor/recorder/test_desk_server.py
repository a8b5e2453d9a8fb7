"""The desk's socket with real boards on it; limits are this program's own."""

import asyncio
import contextlib
from collections.abc import AsyncIterator, Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest

from monitor.desk import (
    LINE_BYTES_MAX,
    BoardBeat,
    Full,
    Hello,
    Role,
    Taken,
    UpMessage,
    line,
    read_down,
)
from monitor.recorder.desk_server import BOARDS_MAX, UNREAD_BYTES_MAX, DeskServer

WAIT_S = 5.0
Sit = Callable[[], Awaitable[tuple[asyncio.StreamReader, asyncio.StreamWriter]]]
HELLO = Hello(board="one", by="R. Harrow")


class Listener:
    """Whoever is behind the desk: notes all, and lets tests wait for it."""

    def __init__(self) -> None:
        self.said: asyncio.Queue[tuple[int, UpMessage]] = asyncio.Queue()
        self.gone: asyncio.Queue[int] = asyncio.Queue()


@pytest.fixture
async def listener() -> Listener:
    return Listener()


@pytest.fixture
async def server(tmp_path: Path, listener: Listener) -> AsyncIterator[DeskServer]:
    server = DeskServer(tmp_path / "a.desk")
    await server.open(lambda seat, said: listener.said.put_nowait((seat, said)),
                      listener.gone.put_nowait)  # fmt: skip
    async with asyncio.timeout(WAIT_S):
        yield server
        await server.close()


@pytest.fixture
async def sit(tmp_path: Path) -> AsyncIterator[Sit]:
    writers = []

    async def sit() -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        reader, writer = await asyncio.open_unix_connection(tmp_path / "a.desk")
        writers.append(writer)
        return reader, writer

    yield sit
    for writer in writers:
        writer.close()
        with contextlib.suppress(ConnectionError):
            await writer.wait_closed()


async def test_what_a_board_says_comes_with_its_seat(server: Any, listener: Any, sit: Sit) -> None:
    _, one = await sit()
    _, two = await sit()
    one.write(line(HELLO) + line(BoardBeat(board="one", frame=1)))
    assert await listener.said.get() == (1, HELLO)
    assert await listener.said.get() == (1, BoardBeat(board="one", frame=1))
    two.write(line(HELLO))
    assert (await listener.said.get())[0] == 2


async def test_a_board_is_told_what_it_is_told(server: Any, listener: Any, sit: Sit) -> None:
    reader, writer = await sit()
    writer.write(line(HELLO))
    seat, _ = await listener.said.get()
    role = Role(holder=True, by="R. Harrow")
    server.send(seat, role)
    server.send(99, role)
    assert read_down(await reader.readline()) == role


async def test_a_board_that_goes_is_told_of(server: Any, listener: Any, sit: Sit) -> None:
    _, writer = await sit()
    writer.write(line(HELLO))
    await listener.said.get()
    writer.close()
    assert await listener.gone.get() == 1


@pytest.mark.parametrize("rubbish", [b"hello\n", b"{}\n", b"x" * (LINE_BYTES_MAX + 2) + b"\n"])
async def test_rubbish_ends_the_connection_and_nothing_else(
    server: Any, listener: Any, sit: Sit, rubbish: bytes
) -> None:
    reader, writer = await sit()
    _, other = await sit()
    writer.write(rubbish)
    assert await reader.read() == b""
    assert await listener.gone.get() == 1
    other.write(line(HELLO))
    assert await listener.said.get() == (2, HELLO)


async def test_a_board_that_does_not_read_is_let_go(server: Any, listener: Any, sit: Sit) -> None:
    _, writer = await sit()
    writer.write(line(HELLO))
    seat, _ = await listener.said.get()
    told = Taken(id="x" * 1_000)
    for _ in range(4 * UNREAD_BYTES_MAX // 1_000):
        server.send(seat, told)
    assert await listener.gone.get() == seat


async def test_there_is_room_for_so_many_boards_and_no_more(
    server: Any, listener: Any, sit: Sit
) -> None:
    boards = [await sit() for _ in range(BOARDS_MAX)]
    for _, writer in boards:
        writer.write(line(HELLO))
        await listener.said.get()
    reader, _ = await sit()
    assert read_down(await reader.readline()) == Full(boards=BOARDS_MAX)
    assert await reader.read() == b""


async def test_a_desk_that_cannot_be_opened_ends_no_recorder_and_opens_once_it_can(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "gone"
    server = DeskServer(folder / "a.desk", retry_s=0.01)
    await server.open(lambda _seat, _said: None, lambda _seat: None)
    assert not folder.exists()
    folder.mkdir()
    async with asyncio.timeout(WAIT_S):
        assert server._again is not None
        await server._again
        _, writer = await asyncio.open_unix_connection(folder / "a.desk")
        writer.close()
        await writer.wait_closed()
        await server.close()
    assert list(folder.iterdir()) == []


async def test_one_that_never_opens_is_left_in_peace(tmp_path: Path) -> None:
    server = DeskServer(tmp_path / "gone" / "a.desk", retry_s=0.01)
    await server.open(lambda _seat, _said: None, lambda _seat: None)
    server.tell_all(Taken(id="act-0001"))
    await server.close()


def test_twenty_boards_have_a_seat_each() -> None:
    assert BOARDS_MAX >= 20


async def test_the_socket_is_the_owners_and_is_taken_away(tmp_path: Path) -> None:
    path = tmp_path / "a.desk"
    path.write_text("left by one that was killed")
    server = DeskServer(path)
    await server.open(lambda _seat, _said: None, lambda _seat: None)
    assert path.stat().st_mode & 0o777 == 0o600
    await server.close()
    assert not path.exists()


async def test_a_desk_never_opened_closes(tmp_path: Path) -> None:
    await DeskServer(tmp_path / "a.desk").close()


async def test_an_error_behind_the_desk_reaches_the_loop(tmp_path: Path, sit: Sit) -> None:
    server = DeskServer(tmp_path / "a.desk")
    caught: asyncio.Future[BaseException] = asyncio.get_running_loop().create_future()
    asyncio.get_running_loop().set_exception_handler(
        lambda _loop, context: caught.set_result(context["exception"])
    )

    def fail(_seat: int, _said: UpMessage) -> None:
        raise ZeroDivisionError

    await server.open(fail, lambda _seat: None)
    _, writer = await sit()
    writer.write(line(HELLO))
    async with asyncio.timeout(WAIT_S):
        assert isinstance(await caught, ZeroDivisionError)
        await server.close()
