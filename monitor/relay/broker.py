"""The broker's client: few words over a library, each bounded in time.

Every fault of connection, broker or stream is one ``BrokerFault`` with a line for people. Nothing
is tried again here: whoever uses it begins anew, asking the stream what it has.
"""

import asyncio
import contextlib
import ssl
from collections.abc import AsyncGenerator, AsyncIterator, Awaitable, Callable
from dataclasses import dataclass
from typing import Any, Protocol, Self

import nats
import nats.errors
from nats.aio.client import Client
from nats.js import JetStreamContext, api
from nats.js.errors import APIError, NoStreamResponseError, NotFoundError

from monitor.errors import BadFile, NotAnswered
from monitor.relay.address import Address
from monitor.relay.subjects import ROOT, STREAM, VERSION
from shared import reading
from shared.reading import NotThere, Unreadable

CONNECT_S = 3
ANSWER_S = 5.0
"""For any answer of the broker. A link that hangs longer is given up, and tried anew."""
PING_S = 3
PINGS_MAX = 2
"""A connection on which this many pings were not answered is dead."""
CLOSE_S = 1.0
QUIET_S = 2.0
"""Nothing new for so long: the stream is asked whether there is."""
UNACKNOWLEDGED_MAX = 256
"""Messages that the broker sends ahead of what has been kept."""
LOGIN_BYTES_MAX = 1_000
DUPLICATES_S = 120
"""How long the broker knows a message again by its id."""
KEEP_DAYS = 7
KEEP_BYTES = 8 * 1024**3
_WRONG_LAST = 10071
"""The broker's error code for a message that does not follow the last of its subject."""
_NO_MESSAGE = 10037


class BrokerFault(NotAnswered):
    """The broker, the way to it or its stream: not there, not answering, not willing."""


class NotNext(Exception):
    """Somebody else has put a message on that subject since it was last asked."""


@dataclass(frozen=True, slots=True)
class Found:
    """One message of the stream."""

    seq: int
    """Its place in the stream, from 1."""
    data: bytes


@dataclass(frozen=True, slots=True)
class Keeping:
    """How long the stream keeps what it is given. Used only by whoever makes it."""

    days: float = KEEP_DAYS
    size: int = KEEP_BYTES
    """Bytes; beyond it the oldest messages go."""
    replicas: int = 1


class Stream(Protocol):
    """What relay and mirror need of a connection: ``Broker``, or one in memory that tests have."""

    async def make_stream(self, keeping: Keeping) -> None:
        """Make the stream unless it is there. Raises BrokerFault."""

    async def subjects(self, wanted: str) -> list[str]:
        """Every subject that has messages. Raises BrokerFault: no stream too."""
        ...

    async def bounds(self) -> tuple[int, int]:
        """Places of the first and the last message in the stream. Raises BrokerFault."""
        ...

    async def last(self, subject: str) -> Found | None:
        """The newest message on a subject; None if there is none. Raises BrokerFault."""
        ...

    async def next(self, subject: str, seq: int) -> Found | None:
        """The first message on a subject at or behind a place. Raises BrokerFault."""
        ...

    async def publish(self, subject: str, data: bytes, name: str, after: int) -> tuple[int, bool]:
        """Put a message behind the one at ``after`` (0: there is none) on that subject.

        ``name``: by which the broker knows it again. Gives its place, and whether it was there
        already. Raises NotNext where another is the last of the subject, and BrokerFault.
        """
        ...

    def follow(self, subject: str, seq: int) -> AsyncGenerator["Message | None", None]:
        """Every message on a subject from a place on, as it comes; then ``acknowledge`` each.

        None: all there is has come, and nothing new for a while. It ends where the broker's sending
        has ended, and is then to be begun anew. Raises BrokerFault.
        """
        ...

    async def close(self) -> None:
        """Let go, whatever state the connection is in."""


Connect = Callable[[], Awaitable[Stream]]
"""Gives a new connection. Raises BrokerFault, BadFile."""
Pause = Callable[[float], Awaitable[object]]
"""Lets so many seconds go by."""


class Broker:
    """One connection. It does not come back by itself."""

    def __init__(self, client: Client, address: Address) -> None:
        """``client`` is connected."""
        self._client = client
        self._js: JetStreamContext = client.jetstream(timeout=ANSWER_S)
        self.address = address

    @classmethod
    async def connect(cls, address: Address, name: str) -> Self:
        """Connect, known to the broker as ``name``. Raises BrokerFault, BadFile."""
        options: dict[str, Any] = {}
        if address.tls:
            options["tls"] = _tls(address)
        if address.login is not None:
            options["user"], options["password"] = _login(address)

        async def told(_error: Exception) -> None:
            """Every fault comes to whoever waits for an answer; the library tells it twice."""

        fault: Exception = TimeoutError()
        for url in address.urls:
            try:
                client = await asyncio.wait_for(
                    nats.connect(
                        url, name=name, allow_reconnect=False, connect_timeout=CONNECT_S,
                        ping_interval=PING_S, max_outstanding_pings=PINGS_MAX, error_cb=told,
                        **options,
                    ),
                    CONNECT_S + 1,
                )  # fmt: skip
            except (nats.errors.Error, OSError, TimeoutError, ValueError) as error:
                fault = error
            else:
                return cls(client, address)
        raise _fault(fault, address) from fault

    async def close(self) -> None:
        """Let go, whatever state the connection is in."""
        with contextlib.suppress(nats.errors.Error, OSError, TimeoutError):
            await asyncio.wait_for(self._client.close(), CLOSE_S)

    async def make_stream(self, keeping: Keeping) -> None:
        """Make the stream unless it is there. Raises BrokerFault."""
        async with self._told():
            try:
                await self._js.stream_info(STREAM)
            except NotFoundError:
                await self._js.add_stream(
                    api.StreamConfig(
                        name=STREAM,
                        subjects=[f"{ROOT}.{VERSION}.>"],
                        retention=api.RetentionPolicy.LIMITS,
                        storage=api.StorageType.FILE,
                        discard=api.DiscardPolicy.OLD,
                        max_age=keeping.days * 86_400,
                        max_bytes=keeping.size,
                        duplicate_window=DUPLICATES_S,
                        num_replicas=keeping.replicas,
                    )
                )

    async def subjects(self, wanted: str) -> list[str]:
        """Every subject that has messages. Raises BrokerFault: no stream too."""
        async with self._told():
            info = await self._js.stream_info(STREAM, subjects_filter=wanted)
        return sorted(info.state.subjects or {})

    async def bounds(self) -> tuple[int, int]:
        """Places of the first and the last message in the stream. Raises BrokerFault."""
        async with self._told():
            info = await self._js.stream_info(STREAM)
        return info.state.first_seq, info.state.last_seq

    async def last(self, subject: str) -> Found | None:
        """The newest message on a subject; None if there is none. Raises BrokerFault."""
        return await self._got(self._js.get_last_msg(STREAM, subject))

    async def next(self, subject: str, seq: int) -> Found | None:
        """The first message on a subject at or behind a place. Raises BrokerFault."""
        return await self._got(self._js.get_msg(STREAM, seq=seq, subject=subject, next=True))

    async def publish(self, subject: str, data: bytes, name: str, after: int) -> tuple[int, bool]:
        """Put a message behind the one at ``after`` (0: there is none) on that subject.

        ``name``: by which the broker knows it again. Gives its place, and whether it was there
        already. Raises NotNext where another is the last of the subject, and BrokerFault.
        """
        headers: dict[str, Any] = {
            api.Header.MSG_ID.value: name,
            api.Header.EXPECTED_LAST_SUBJECT_SEQUENCE.value: str(after),
        }
        async with self._told():
            try:
                given = await self._js.publish(subject, data, ANSWER_S, STREAM, headers)
            except APIError as error:
                if error.err_code == _WRONG_LAST:
                    raise NotNext from error
                raise
        return given.seq, bool(given.duplicate)

    async def follow(self, subject: str, seq: int) -> AsyncGenerator["Message | None", None]:
        """Every message on a subject from a place on, as it comes; then ``acknowledge`` each.

        None: all there is has come, and nothing new for a while.

        It ends where the broker's sending has ended, and is then to be begun anew. Raises
        BrokerFault.
        """
        config = api.ConsumerConfig(
            deliver_policy=api.DeliverPolicy.BY_START_SEQUENCE,
            opt_start_seq=max(seq, 1),
            ack_policy=api.AckPolicy.ALL,
            max_ack_pending=UNACKNOWLEDGED_MAX,
        )
        async with self._told():
            sub = await self._js.subscribe(subject, stream=STREAM, config=config, manual_ack=True)
            newest = 0
            try:
                while True:
                    try:
                        raw = await sub.next_msg(timeout=QUIET_S)
                    except nats.errors.TimeoutError:
                        last = await self.last(subject)
                        if last is not None and last.seq > max(newest, seq - 1):
                            return
                        yield None
                        continue
                    newest = raw.metadata.sequence.stream
                    yield Message(newest, raw.data, raw)
            finally:
                with contextlib.suppress(nats.errors.Error, OSError, TimeoutError):
                    await asyncio.wait_for(sub.unsubscribe(), CLOSE_S)

    async def _got(self, asked: Any) -> Found | None:  # noqa: ANN401 - a coroutine of the library
        async with self._told():
            try:
                found = await asked
            except NotFoundError as error:
                if error.err_code == _NO_MESSAGE:
                    return None
                raise
        return Found(found.seq or 0, found.data or b"")

    @contextlib.asynccontextmanager
    async def _told(self) -> AsyncIterator[None]:
        try:
            yield
        except (nats.errors.Error, OSError, TimeoutError, ValueError, AttributeError) as error:
            raise _fault(error, self.address) from error


@dataclass(frozen=True, slots=True)
class Message(Found):
    """One that is being followed."""

    raw: Any

    async def acknowledge(self) -> None:
        """It has been kept, with all before it; the broker may send more."""
        try:
            await self.raw.ack()
        except (nats.errors.Error, OSError) as error:
            raise BrokerFault(f"the broker has gone ({error})") from error


def _tls(address: Address) -> ssl.SSLContext:
    try:
        context = ssl.create_default_context(cafile=address.ca)
        if address.certificate is not None:
            context.load_cert_chain(address.certificate, address.key)
    except (OSError, ssl.SSLError) as error:
        where = ", ".join(str(one) for one in (address.ca, address.certificate, address.key) if one)
        what = f"a certificate cannot be used ({error.strerror or error})"
        raise BadFile(what, where, "give PEM files that belong together") from None
    return context


def _login(address: Address) -> tuple[str, str]:
    assert address.login is not None, "asked by the caller"
    try:
        lines = reading.text_of(reading.read_bytes(address.login, LOGIN_BYTES_MAX)).splitlines()
    except (NotThere, Unreadable) as error:
        what, to_do = f"the login cannot be read ({error})", "two lines: user, password"
        raise BadFile(what, str(address.login), to_do) from None
    if len(lines) != 2 or not all(lines):  # noqa: PLR2004 - user and password
        raise BadFile("that is no login", str(address.login), "two lines: user, password")
    return lines[0], lines[1]


def _fault(error: Exception, address: Address) -> BrokerFault:
    if isinstance(error, TimeoutError | nats.errors.TimeoutError):
        return BrokerFault(
            "the broker does not answer", str(address), "see to it and the way to it"
        )
    if isinstance(error, NoStreamResponseError) or (
        isinstance(error, APIError) and error.code in {404, 503}
    ):
        to_do = "start a relay, or JetStream at the broker"
        return BrokerFault("the broker keeps no such stream now", str(address), to_do)
    said = str(error) or type(error).__name__
    return BrokerFault(
        f"the broker cannot be used ({said})", str(address), "see to it; it is tried"
    )
