"""Worker processes of the soak tests: hurried, so that silence is noticed in seconds, or broken on purpose.

Started as ``python -m tests.soak.worker --hurry 5 --build no_beat --lanes mail``. Builds: ``no_take_up``:
what a worker left is nobody's; ``no_beat``: a worker that works is silent; ``sent_first``: a letter is
called sent, then it is sent.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import signal
import sys
from collections.abc import Callable
from types import FrameType
from typing import Any


def hurry(times: float) -> None:
    """Have everything that waits for silence wait so many times shorter; before anything else is read."""
    from common import background

    background.BEAT /= times  # type: ignore[misc]
    background.SILENT /= times  # type: ignore[misc]
    from config.background import keeper

    keeper.ROUND /= times  # type: ignore[misc]


def no_take_up() -> None:
    """Leave what stopped with its worker."""
    from config.background import keeper

    keeper.take_up_all = lambda **_: 0


def no_beat() -> None:
    """Work in silence, and let others look for silence."""
    from common import background

    background.Run._write = lambda run, at, facts: bool(  # type: ignore[method-assign]
        not facts or run._own.update(**facts)
    )


def sent_first() -> None:
    """Write a letter's end before it is on its way; one worker dies just then."""
    from jobs.shop import outbox

    real = outbox.EmailMessage.send

    def send(self: Any, *args: Any, **more: Any) -> int:
        subject = self.subject
        outbox.OutboxMail.objects.filter(subject=subject).update(state=outbox.S.SENT)
        if subject == "Letter 2":
            os.kill(os.getpid(), signal.SIGKILL)
        return real(self, *args, **more)

    outbox.EmailMessage.send = send  # type: ignore[method-assign]


BUILDS: dict[str, Callable[[], None]] = {one.__name__: one for one in (no_take_up, no_beat, sent_first)}


def main() -> None:
    """Read the project once, then keep so many worker processes, each forked anew when it was killed."""
    options = argparse.ArgumentParser()
    options.add_argument("--hurry", type=float, default=1)
    options.add_argument("--build", choices=["", *BUILDS], default="")
    options.add_argument("--processes", type=int, default=2)
    options.add_argument("--due-from", type=dt.datetime.fromisoformat)
    options.add_argument("--pace", type=float, default=0)
    known, rest = options.parse_known_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    from config.sqlite import use_newest

    use_newest()
    import django

    django.setup()
    from config.background import lanes  # noqa: F401  read once, for all that are forked

    hurry(known.hurry)
    if known.build:
        BUILDS[known.build]()
    if known.due_from:
        fall_due(known.due_from, known.pace)
    sys.exit(keep(known.processes, [sys.argv[0], "worker", *rest]))


def fall_due(begin: dt.datetime, pace_s: float) -> None:
    """Have the letters fall due one by one; the connection is closed, for processes are forked next."""
    from django.db import connections

    from jobs.models import OutboxMail

    for number, pk in enumerate(OutboxMail.objects.order_by("pk").values_list("pk", flat=True)):
        OutboxMail.objects.filter(pk=pk).update(due_at=begin + dt.timedelta(seconds=number * pace_s))
    connections.close_all()


def keep(processes: int, command: list[str]) -> int:
    """Fork workers until told to stop; return 0 when those that were told to stop ended well."""
    alive: set[int] = set()
    is_over = False

    def stop(number: int, frame: FrameType | None) -> None:
        nonlocal is_over
        is_over = True
        for pid in alive:
            os.kill(pid, signal.SIGTERM)

    signal.signal(signal.SIGTERM, stop)
    faults = 0
    while alive or not is_over:
        while len(alive) < processes and not is_over:
            alive.add(_forked(command))
        pid, status = os.wait()
        alive.discard(pid)
        faults += is_over and status != 0
    return faults


def _forked(command: list[str]) -> int:
    pid = os.fork()
    if pid:
        return pid
    code = 1
    try:
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        from django.core.management import execute_from_command_line

        execute_from_command_line(command)
        code = 0
    finally:
        sys.stdout.flush()
        os._exit(code)


if __name__ == "__main__":
    main()
