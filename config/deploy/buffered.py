"""Gives a request to a thread once it is here: slow and half-open visitors wait in the poller, in no thread.

The proxy of the shipped set-up does the same; this holds where somebody serves without one.
"""

from __future__ import annotations

import re
import socket
import struct
import time
from functools import partial
from selectors import EVENT_READ
from typing import Any, Final

from gunicorn.workers.gthread import TConn, ThreadWorker

#: A request with a body of up to a mebibyte must be here after so long. [s]
REQUEST_S: Final = 60
#: A thread that reads a larger body, or sends an answer, waits so long for the next piece. [s]
PIECE_S: Final = 15
WAITED_FOR: Final = 1 << 20
LARGEST_HEAD: Final = 1 << 16
_PIECE: Final = 1 << 16


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


class BufferedWorker(ThreadWorker):  # type: ignore[misc]  # gunicorn has no types
    """A worker with threads that waits for whole requests in its own loop."""

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
        try:
            piece = client.recv(_PIECE)
        except BlockingIOError:
            return
        except OSError:
            piece = b""
        conn.got += piece
        if piece and not is_here(conn.got):
            return
        self.poller.unregister(client)
        self.pending_conns.remove(conn)
        if not conn.got:
            self.nr_conns -= 1
            conn.close()
            return
        conn.init()
        conn.parser.unreader.unread(bytes(conn.got))
        self.enqueue_req(conn)
