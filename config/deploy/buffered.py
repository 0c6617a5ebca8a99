"""Gives a request to a thread once it is here: slow and half-open visitors wait in the poller, in no thread.

The proxy of the shipped set-up does the same; this holds where somebody serves without one. Requests that
come faster than they are answered wait in a queue that has an end: past it a visitor hears to come again.
"""

from __future__ import annotations

import re
import socket
import struct
import time
from collections import deque
from contextlib import suppress
from functools import partial
from selectors import EVENT_READ
from typing import Any, Final

from gunicorn.workers.gthread import TConn, ThreadWorker

#: A request with a body of up to a mebibyte must be here after so long. [s]
REQUEST_S: Final = 60
#: A thread that reads a larger body, or sends an answer, waits so long for the next piece. [s]
PIECE_S: Final = 15
#: A visitor who has the last answer may take so long to close. [s]
LEAVING_S: Final = 2
#: So many requests wait for a thread, a second or two of work; the next one is turned away.
MOST_WAITING: Final = 48
#: When who was turned away may come again. [s]
AGAIN_S: Final = 5
WAITED_FOR: Final = 1 << 20
LARGEST_HEAD: Final = 1 << 16
_PIECE: Final = 1 << 16
#: Whoever asks whether the process lives must not hear that it is busy.
_PROBES: Final = (b"GET /healthz ", b"GET /readyz ", b"GET /metrics ")
_BUSY_PAGE: Final = (
    b'<!DOCTYPE html><html lang="en"><head><meta charset="utf-8"><title>Too busy</title></head><body>'
    b"<h1>The server is too busy at the moment</h1><p>Nothing was saved. Go back, wait some seconds and "
    b"send it again: what you typed is still there.</p></body></html>"
)
_BUSY_HEAD: Final = (
    "HTTP/1.1 503 Service Unavailable",
    "Content-Type: text/html; charset=utf-8",
    f"Content-Length: {len(_BUSY_PAGE)}",
    f"Retry-After: {AGAIN_S}",
    "Cache-Control: no-store",
    "Content-Security-Policy: default-src 'none'",
    "X-Content-Type-Options: nosniff",
    "Connection: close",
)
BUSY: Final = "\r\n".join((*_BUSY_HEAD, "", "")).encode() + _BUSY_PAGE


def is_here(got: bytes | bytearray) -> bool:
    """Return whether a request can be handed on: it is here, or so much of it that a thread may read on."""
    end = got.find(b"\r\n\r\n")
    if end < 0:
        return len(got) > LARGEST_HEAD  # the parser refuses it
    head = bytes(got[:end]).lower()
    if b"\r\ntransfer-encoding:" in head or b"\r\nexpect:" in head:
        return True
    length = re.search(rb"\r\ncontent-length:[ \t]*(\d{1,12})", head)
    body = int(length[1]) if length else 0
    return len(got) >= end + 4 + min(body, WAITED_FOR)


def _received(client: socket.socket) -> bytes | None:
    """Return what came from a visitor, nothing once they are gone; None where it was a false alarm."""
    try:
        return client.recv(_PIECE)
    except BlockingIOError:
        return None
    except OSError:
        return b""


class BufferedWorker(ThreadWorker):  # type: ignore[misc]  # gunicorn has no types
    """A worker with threads that waits for whole requests in its own loop."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._given = 0
        self._turned_away = 0
        self._told_at = 0.0
        self._leaving: deque[Any] = deque()

    def accept(self, listener: Any) -> None:
        """Take a visitor in; the first piece is read when it is there."""
        try:
            client, address = listener.accept()
        except (BlockingIOError, ConnectionAbortedError):
            return
        self.nr_conns += 1
        for option in (socket.SO_RCVTIMEO, socket.SO_SNDTIMEO):
            client.setsockopt(socket.SOL_SOCKET, option, struct.pack("ll", PIECE_S, 0))
        self._await_request(TConn(self.cfg, client, address, listener.getsockname()))

    def on_client_socket_readable(self, conn: Any, client: Any) -> None:
        """Wait for the next request of a visitor who stayed."""
        self.poller.unregister(client)
        self.keepalived_conns.remove(conn)
        self._await_request(conn)

    def _await_request(self, conn: Any) -> None:
        conn.got, conn.data_ready = bytearray(), True
        conn.timeout = time.monotonic() + REQUEST_S
        conn.sock.setblocking(False)
        self.pending_conns.append(conn)
        self.poller.register(conn.sock, EVENT_READ, partial(self.on_pending_socket_readable, conn))

    def on_pending_socket_readable(self, conn: Any, client: Any) -> None:
        """Keep what came; hand the request to a thread once it is whole."""
        piece = _received(client)
        if piece is None:
            return
        conn.got += piece
        if piece and not is_here(conn.got):
            return
        self.poller.unregister(client)
        self.pending_conns.remove(conn)
        if not conn.got:
            self.nr_conns -= 1
            conn.close()
            return
        if self._given >= self.cfg.threads + MOST_WAITING and not conn.got.startswith(_PROBES):
            self._turn_away(conn)
            return
        conn.init()
        conn.parser.unreader.unread(bytes(conn.got))
        self.enqueue_req(conn)

    def enqueue_req(self, conn: Any) -> None:
        """Give a request to a thread, and count what is given."""
        self._given += 1
        super().enqueue_req(conn)

    def finish_request(self, conn: Any, fs: Any) -> None:
        """Take note that a request has its answer; gunicorn would wait here for a visitor to close."""
        self._given -= 1
        if fs.cancelled() or fs.exception() is not None or fs.result():
            super().finish_request(conn, fs)
        else:
            self._let_go(conn)

    def murder_pending(self) -> None:
        """Close what came too late, and on visitors who do not go."""
        super().murder_pending()
        while self._leaving and self._leaving[0].timeout < time.monotonic():
            self._gone(self._leaving.popleft())

    def _let_go(self, conn: Any) -> None:
        """Say that nothing more comes and wait in the poller until the visitor closes too, having read it."""
        try:
            conn.sock.shutdown(socket.SHUT_WR)
            conn.sock.setblocking(False)
            self.poller.register(conn.sock, EVENT_READ, partial(self._on_leaving, conn))
        except (OSError, ValueError):  # gone already
            self.nr_conns -= 1
            conn.close()
            return
        conn.timeout = time.monotonic() + LEAVING_S
        self._leaving.append(conn)

    def _on_leaving(self, conn: Any, client: Any) -> None:
        if _received(client) == b"":
            self._leaving.remove(conn)
            self._gone(conn)

    def _gone(self, conn: Any) -> None:
        self.poller.unregister(conn.sock)
        self.nr_conns -= 1
        conn.close()

    def _turn_away(self, conn: Any) -> None:
        """Answer from this loop, which no thread has to be free for; a socket's buffer holds the answer."""
        with suppress(OSError):
            conn.sock.send(BUSY)
        self._let_go(conn)
        self._turned_away += 1
        if time.monotonic() - self._told_at > REQUEST_S:
            self._told_at = time.monotonic()
            self.log.warning("too busy: %d visitors were told to come again", self._turned_away)
