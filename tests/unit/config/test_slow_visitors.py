"""Slow and half-open visitors of a server without a proxy: they hold no thread, and others are answered."""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.deploy.buffered import AGAIN_S, LARGEST_HEAD, MOST_WAITING, WAITED_FOR, is_here
from tests.soak.web import free_port

APP = """
import os, time

def app(environ, start_response):
    while environ["PATH_INFO"] == "/held" and os.path.exists("held"):
        time.sleep(0.02)
    body = environ["wsgi.input"].read()
    start_response("200 OK", [("Content-Length", str(len(str(len(body)))))])
    return [str(len(body)).encode()]
"""
SLOW = {
    "silent": b"",
    "in the head": b"GET / HTTP/1.1\r\nHost: localhost\r\n",
    "in the body": b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5000\r\n\r\nlogin=a",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder a server runs in."""
    return tmp_path_factory.mktemp("served")


@pytest.fixture(scope="module")
def port(folder: Path) -> Iterator[int]:
    """Return the port of a server with two threads."""
    (folder / "served.py").write_text(APP)
    number = free_port()
    command = [
        sys.executable, "-m", "gunicorn", "served:app", "--bind", f"127.0.0.1:{number}", "--threads", "2",
        "--worker-class", "config.deploy.buffered.BufferedWorker", "--chdir", str(folder),
        "--no-control-socket",
    ]  # fmt: skip
    server = subprocess.Popen(
        command, env=os.environ | {"PYTHONPATH": os.getcwd()}, stderr=subprocess.DEVNULL
    )
    try:
        for _ in range(200):
            if answers(number):
                break
            time.sleep(0.1)
        yield number
    finally:
        server.terminate()
        server.wait(20)


def answers(port: int) -> bool:
    """Return whether the server answers now."""
    try:
        return urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=20).status == 200
    except OSError:
        return False


@pytest.mark.parametrize("kind", SLOW)
def test_slow_visitors_stop_nobody(port, kind):
    slow = [socket.create_connection(("127.0.0.1", port)) for _ in range(16)]
    try:
        for one in slow:
            one.sendall(SLOW[kind])
        time.sleep(0.3)
        assert answers(port)
    finally:
        for one in slow:
            one.close()


def test_visitors_who_do_not_close_stop_nobody(port):
    """Each has the last answer and stays on the line; gunicorn alone waits two seconds for each in turn."""
    staying = [socket.create_connection(("127.0.0.1", port), 20) for _ in range(16)]
    try:
        for one in staying:
            one.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        assert answers(port)
        assert {one.recv(1000)[:12] for one in staying} == {b"HTTP/1.1 200"}
    finally:
        for one in staying:
            one.close()


def test_more_than_can_wait_hear_to_come_again_and_the_rest_is_answered(port, folder):
    """Two threads are held, the queue is full: the next visitors hear 503, a probe waits for its turn."""
    (folder / "held").touch()
    asked = b"GET /held HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n"
    waiting = [socket.create_connection(("127.0.0.1", port), 20) for _ in range(2 + MOST_WAITING)]
    try:
        for one in waiting:
            one.sendall(asked)
            time.sleep(0.005)
        time.sleep(0.5)
        for _ in range(10):
            with socket.create_connection(("127.0.0.1", port), 20) as late:
                late.sendall(asked)
                head = late.recv(4000).split(b"\r\n\r\n")[0]
            assert head.startswith(b"HTTP/1.1 503 ")
            assert f"\r\nRetry-After: {AGAIN_S}\r\n".encode() in head
        probe = socket.create_connection(("127.0.0.1", port), 20)
        waiting.append(probe)
        probe.sendall(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")
        (folder / "held").unlink()
        assert {one.recv(1000)[:12] for one in waiting} == {b"HTTP/1.1 200"}
        assert answers(port)
    finally:
        (folder / "held").unlink(missing_ok=True)
        for one in waiting:
            one.close()


def answer_of(visitor: socket.socket) -> bytes:
    """Return the body of the next answer, in however many pieces it comes."""
    visitor.settimeout(20)
    answer = http.client.HTTPResponse(visitor)
    answer.begin()
    assert answer.status == 200
    return answer.read()


def test_a_request_in_pieces_is_read_whole(port):
    with socket.create_connection(("127.0.0.1", port)) as visitor:
        head = b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9\r\n\r\n"
        for piece in (head[:20], head[20:], b"123", b"456789"):
            visitor.sendall(piece)
            time.sleep(0.05)
        assert answer_of(visitor) == b"9"
        visitor.sendall(head + b"abcdefghi")  # the next request of the same visitor
        assert answer_of(visitor) == b"9"


def test_a_large_body_is_read_as_it_comes(port):
    size = 3 * WAITED_FOR
    request = urllib.request.Request(f"http://127.0.0.1:{port}/", data=b"x" * size)
    assert urllib.request.urlopen(request, timeout=20).read() == str(size).encode()


@pytest.mark.parametrize(
    ("got", "is_whole"),
    [
        (b"", False),
        (b"GET / HTTP/1.1\r\nHost: x\r\n", False),
        (b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", True),
        (b"POST / HTTP/1.1\r\nContent-Length: 3\r\n\r\nab", False),
        (b"POST / HTTP/1.1\r\ncontent-length:3\r\n\r\nabc", True),
        (b"POST / HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\n", True),
        (b"POST / HTTP/1.1\r\nContent-Length: 9999\r\nExpect: 100-continue\r\n\r\n", True),
        (b"x" * (LARGEST_HEAD + 1), True),
    ],
)
def test_when_a_request_is_here(got, is_whole):
    assert is_here(got) is is_whole
