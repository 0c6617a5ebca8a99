"""Hands a picture to the limited process, and checks the little it answers."""

from __future__ import annotations

import atexit
import contextlib
import json
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

from checklists.photos.worker import LONGEST_SIDE_PX, MOST_OUTPUT, MOST_WALL_S, OUT_OF_MEMORY
from jobs.shop.refusals import Refusal

_WORKER: Final = Path(__file__).with_name("worker.py")
_FIRST_BYTES: Final = b"\xff\xd8\xff"
#: A picture waits so long for those before it, and then to be drawn. [s]
_PATIENCE_S: Final = 90
_ONE_AT_A_TIME: Final = threading.Lock()  # one picture's memory at a time in a web process


class PhotoRefused(Refusal):
    """The file is not kept; says why."""


class PhotoNotDrawn(Refusal):
    """The server could not get to it; the same picture may be tried again, if not for ever where it may be
    what stopped the drawing (``is_suspect``)."""

    def __init__(self, sentence: str, *, is_suspect: bool = False) -> None:
        super().__init__(sentence)
        self.is_suspect = is_suspect


@dataclass(frozen=True, slots=True)
class Drawn:
    """A picture of ours with its small one, and what the camera claimed: text of its clock, degrees."""

    picture: bytes
    small: bytes
    width_px: int
    height_px: int
    taken: str = ""
    zone: str = ""
    position: tuple[float, float] | None = None


def draw(source: IO[bytes]) -> Drawn:
    """Return the picture in an open file on disk, drawn anew.

    Raise PhotoRefused for what is no sound photo, PhotoNotDrawn where the server is too busy.
    """
    with tempfile.TemporaryFile() as target:
        _read_status(_asked(source.fileno(), target.fileno()))
        target.seek(0)
        return _believed(target.read(MOST_OUTPUT + 1))


def _read_status(status: int) -> None:
    code = os.waitstatus_to_exitcode(status)
    if code == 0:
        return
    if code in {OUT_OF_MEMORY, -signal.SIGXCPU}:
        raise PhotoRefused("This photo needs too much memory or time to open: please take it again.")
    if code in {-signal.SIGALRM, -signal.SIGKILL}:
        words = "The server is too busy to look at this photo now; it will be tried again."
        raise PhotoNotDrawn(words, is_suspect=code == -signal.SIGKILL)
    raise PhotoRefused("This photo is damaged: please take it again.")


def _believed(answer: bytes) -> Drawn:
    """Return the answer if it can be one; the process that gave it had a stranger's file in its hands."""
    line, _, rest = answer.partition(b"\n")
    try:
        facts = json.loads(line)
        if "refused" in facts:
            raise PhotoRefused(str(facts["refused"])[:200])
        ends = facts["picture"]
        picture, small = rest[:ends], rest[ends:]
        width, height = int(facts["width"]), int(facts["height"])
    except (ValueError, TypeError, KeyError):
        raise PhotoRefused("This photo is damaged: please take it again.") from None
    is_one = all(part.startswith(_FIRST_BYTES) for part in (picture, small))
    is_one = is_one and len(small) == facts["small"] and {width, height} <= set(range(1, LONGEST_SIDE_PX + 1))
    if not is_one:
        raise PhotoRefused("This photo is damaged: please take it again.")
    taken, zone = (str(facts.get(name, ""))[:40] for name in ("taken", "zone"))
    return Drawn(picture, small, width, height, taken, zone, _position(facts.get("position")))


def _position(found: Any) -> tuple[float, float] | None:
    try:
        latitude, longitude = (float(part) for part in found)
    except (TypeError, ValueError):
        return None
    return (latitude, longitude) if abs(latitude) <= 90 and abs(longitude) <= 180 else None


class _Worker:
    """The process, its line, and whose it is: a fork of the web server starts one of its own."""

    def __init__(self) -> None:
        self.owner = os.getpid()
        self.line, theirs = socket.socketpair()
        with theirs:
            self.process = subprocess.Popen(  # noqa: S603  our own file, no argument from outside
                [sys.executable, "-I", str(_WORKER)],
                stdin=theirs.fileno(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                env={}, cwd="/", start_new_session=True,
            )  # fmt: skip
        self.line.settimeout(MOST_WALL_S + 10)

    def ask(self, source: int, target: int) -> int:
        """Return how the drawing ended; raise OSError where the process is gone or hangs."""
        socket.send_fds(self.line, [b"d"], [source, target])
        told = b""
        while not told.endswith(b"\n"):
            more = self.line.recv(32)
            if not more:
                raise ConnectionError("the drawing process is gone")
            told += more
        return int(told)

    def end(self) -> None:
        """End the process and what it forked."""
        self.line.close()
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()


_worker: _Worker | None = None


def _asked(source: int, target: int) -> int:
    """Return the status of a drawing; a worker that died while it was idle is replaced once."""
    if not _ONE_AT_A_TIME.acquire(timeout=_PATIENCE_S):
        raise PhotoNotDrawn("The server is busy with other photos; this one will be tried again.")
    try:
        for is_last in (False, True):
            try:
                return _ready().ask(source, target)
            except OSError as problem:
                _stop()
                if is_last or isinstance(problem, TimeoutError):
                    words = "The server could not open this photo just now; it will be tried again."
                    raise PhotoNotDrawn(words, is_suspect=True) from None
        raise AssertionError
    finally:
        _ONE_AT_A_TIME.release()


def _ready() -> _Worker:
    global _worker
    if _worker is None or _worker.owner != os.getpid():
        _worker = _Worker()
    return _worker


@atexit.register
def _stop() -> None:
    global _worker
    worker, _worker = _worker, None
    if worker is not None and worker.owner == os.getpid():
        worker.end()
