"""The door to the network: who may hold how much of the server, and for how long.

With papers of the shop it speaks TLS on the same port: a connection says by its first byte which it
wants (RFC 8446, 5.1), and all that holds for one holds for the other.

Waitress answers many people well and trusts each of them to finish what they send. A phone that
walks out of range, or someone who means ill, does not. So each address has a share: when it is
used up, the connection of that address that has waited longest without a whole request makes room
for the new one. A request that is not whole in its time is let go, and what is half received
never fills the disk.
"""

from __future__ import annotations

import errno
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterable
from typing import Any

from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import WSGITask

from rehang.book.tries import share_of

__all__ = ["Door", "open_door"]

# A phone's browser opens six connections; ten people behind one router stay below this.
CONNECTIONS_OF_ONE = 64
# Of all addresses together. Each costs a few kilobytes.
CONNECTIONS = 600
# A request without a body fits in one packet or two: this long is a line that is dead or teased.
WHOLE_REQUEST_S = 15.0
# The slowest network that a photo is still waited for, bytes a second.
SLOWEST = 8 * 1024
# Of all bodies that are not whole yet: a few photos at once.
UNFINISHED_BYTES = 96 * 1024 * 1024
# How long a connection is not listened to after it was told to wait, seconds: a guessing program that
# waits for nothing but the answer gets half a try a second.
WAIT_S = 2
# How often the connections are looked through, seconds.
LOOK_EVERY_S = 1
# A record of TLS begins with its kind, and the first one is a handshake (RFC 8446, 5.1).
HANDSHAKE = b"\x16"


class Door(TcpWSGIServer):  # type: ignore[misc]  # waitress ships no types
    """A waitress server that shares itself out by address.

    ``passes_on`` are addresses that pass other people's requests on and so have no share of their
    own: a proxy.
    """

    share = CONNECTIONS_OF_ONE
    passes_on: frozenset[str] = frozenset()
    context: ssl.SSLContext | None = None
    # Done once in a while beside the looking through, with the time.
    look_after: Callable[[float], None] | None = None

    def handle_accept(self) -> None:
        """Take a connection in; make room for it first where its address has its share already."""
        try:
            taken = self.accept()
            if taken is None:
                return
            connection, address = taken
            self.set_socket_options(connection)
        except OSError:
            # Gone before it was taken.
            return
        channels = list(self.active_channels.values())
        whose = share_of(str(address[0]))
        mine = [one for one in channels if share_of(str(one.addr[0])) == whose]
        if len(mine) >= self.share and whose not in self.passes_on:
            _let_go_of_longest(mine)
        elif len(channels) >= CONNECTIONS:
            _let_go_of_longest(channels)
        self.channel_class(self, connection, address, self.adj, map=self._map)

    def maintenance(self, now: float) -> None:
        """Let go of what is idle too long, of requests that do not get whole, of too much at once."""
        super().maintenance(now)
        if self.look_after is not None:
            self.look_after(now)
        unfinished = [one for one in self.active_channels.values() if one.request is not None]
        for channel in unfinished:
            if now - _since(channel) > _patience(channel):
                channel.will_close = True
        held = sum(_received(one) for one in unfinished)
        for channel in sorted(unfinished, key=_received, reverse=True):
            if held <= UNFINISHED_BYTES:
                break
            channel.will_close = True
            held -= _received(channel)


class _Task(WSGITask):  # type: ignore[misc]  # waitress ships no types
    """One request; an answer of 429 (RFC 6585, 4) tells its connection to wait."""

    def execute(self) -> None:
        super().execute()
        if str(self.status).startswith("429"):
            self.channel.told_to_wait = time.time()

    def get_environment(self) -> dict[str, Any]:
        made: dict[str, Any] = super().get_environment()
        if isinstance(self.channel.socket, _Wire):
            made["wsgi.url_scheme"] = "https"
        return made


class _Wire:
    """A connection that speaks TLS, by the calls the server makes of a socket.

    One call at a time: threads that answer write on it while another reads.
    """

    def __init__(self, connection: socket.socket, context: ssl.SSLContext) -> None:
        self._lock = threading.Lock()
        # The handshake is made while the first bytes are read, and never waited for.
        self._tls = context.wrap_socket(connection, server_side=True, do_handshake_on_connect=False)
        self.fileno, self.getsockopt = self._tls.fileno, self._tls.getsockopt

    def recv(self, size: int) -> bytes:
        """What has come in, all of it that is unpacked already: no poll tells of that."""
        with self._lock:
            data: bytes = self._now(self._tls.recv, size)
            while more := self._tls.pending():
                data += self._tls.recv(more)
        return data

    def send(self, data: bytes) -> int:
        with self._lock:
            sent: int = self._now(self._tls.send, data)
        return sent

    def close(self) -> None:
        with self._lock:
            self._tls.close()

    @staticmethod
    def _now(act: Callable[[Any], Any], given: Any) -> Any:
        try:
            return act(given)
        except (ssl.SSLWantReadError, ssl.SSLWantWriteError):
            raise BlockingIOError(errno.EWOULDBLOCK, "not yet") from None


class _Channel(HTTPChannel):  # type: ignore[misc]  # waitress ships no types
    """A connection that knows when the request it is receiving began, and when it was told to wait."""

    task_class = _Task
    began: float | None = None
    told_to_wait: float = 0.0
    has_spoken = False
    socket: Any

    def handle_read(self) -> None:
        """As waitress does it; a part of a handshake is neither a request nor an end."""
        try:
            if not self.has_spoken and self.server.context is not None:
                if self.socket.recv(1, socket.MSG_PEEK) == HANDSHAKE:
                    self.socket = _Wire(self.socket, self.server.context)
                self.has_spoken = True
            data = self.recv(self.adj.recv_bytes)
        except BlockingIOError:
            return
        except OSError:
            # No handshake that this door takes, or gone meanwhile.
            self.handle_close()
            return
        if data:
            self.last_activity = time.time()
            self.received(data)
        else:
            self.connected = False

    def readable(self) -> bool:
        """Whoever was told to wait and asks again at once is heard a little later."""
        return bool(super().readable()) and time.time() >= self.told_to_wait + WAIT_S

    def received(self, data: bytes) -> bool:
        if self.began is None:
            self.began = time.time()
        kept = bool(super().received(data))
        if self.request is None:
            self.began = None
        return kept


Door.channel_class = _Channel


def _since(channel: Any) -> float:
    return float(channel.began or channel.creation_time)


def _received(channel: Any) -> int:
    return int(channel.request.body_bytes_received) if channel.request is not None else 0


def _patience(channel: Any) -> float:
    """Seconds that a request may take to get whole: more for a body, by how long it is."""
    length = int(channel.request.content_length or _received(channel))
    return WHOLE_REQUEST_S + length / SLOWEST


def _let_go_of_longest(channels: Iterable[Any]) -> None:
    """Close the connection that has gone longest without a whole request; one being answered stays."""
    waiting = [one for one in channels if not one.requests and not one.will_close]
    if waiting:
        min(waiting, key=lambda one: one.began or one.last_activity).handle_close()


def open_door(
    application: Callable[..., Any],
    *,
    host: str,
    port: int,
    proxy: str = "",
    context: ssl.SSLContext | None = None,
    **settings: Any,
) -> Door:
    """A server on one address, not yet running; with a ``context`` it speaks TLS as well.

    ``proxy`` is the address of what passes the shop's requests on; what it says of who asks, and
    of how, is believed.

    Raises
    ------
    OSError
        The address cannot be listened on.
    """
    if proxy:
        settings |= {
            "trusted_proxy": proxy,
            "trusted_proxy_count": 1,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        }
    adjustments = Adjustments(
        host=host,
        port=port,
        connection_limit=CONNECTIONS + 100,
        cleanup_interval=LOOK_EVERY_S,
        # select() knows no more than 1,024 files.
        asyncore_use_poll=hasattr(socket, "AF_UNIX"),
        **settings,
    )
    door = Door(application, adj=adjustments)
    door.passes_on = frozenset({proxy} if proxy else ())
    door.context = context
    return door
