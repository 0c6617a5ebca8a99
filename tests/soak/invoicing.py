"""Eight writers issue invoices and enter money on one job, and are killed again and again.

Started as ``python -m tests.soak.invoicing JOB KILLS`` on the database of ``DATABASE_URL``; it
prints every number whose transaction was acknowledged.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from decimal import Decimal
from typing import Any, Final

WRITERS: Final = 8
SMALLEST: Final = Decimal("0.01")


def write(job_pk: int, out: int) -> None:
    """Issue and enter until the end, telling each number once it is stored."""
    from django.db import DatabaseError
    from django.utils import timezone

    from jobs.ledger.invoice import credit_note_issue, invoice_issue
    from jobs.ledger.payment import payment_record
    from jobs.models import Job

    random.seed()
    while True:
        job = Job.objects.select_related("shop", "vehicle__customer").get(pk=job_pk)
        owner = job.shop.memberships.get(role="owner").user
        who: dict[str, Any] = {"actor": owner, "at": timezone.now()}
        try:
            made = invoice_issue(job=job, kind="progress", amount=SMALLEST, **who)
            _tell(out, "invoice", made.number)
            if random.random() < 0.3:
                note = credit_note_issue(
                    invoice=made, amount=SMALLEST, reason="To be written anew", lowers_price=False, **who
                )
                _tell(out, "invoice", note.number)
            _tell(out, "receipt", payment_record(job=job, amount=SMALLEST, **who).number)
        except DatabaseError as problem:
            print(problem, file=sys.stderr)
            time.sleep(0.02)


def _tell(out: int, what: str, number: int) -> None:
    os.write(out, f"{what} {number}\n".encode())  # one small write is whole, or is not


def main() -> None:
    """Fork the writers, kill so many, end the rest, print what they told."""
    import django

    django.setup()
    import jobs.ledger.invoice
    import jobs.ledger.payment  # noqa: F401  read once, before the writers part
    from common.currency import money_text

    job_pk, kills = int(sys.argv[1]), int(sys.argv[2])
    money_text(SMALLEST, "USD")  # so are the words of currencies
    from django.db import connections

    connections.close_all()
    inn, out = os.pipe()
    chance = random.Random(kills)
    pids = [_start(job_pk, inn, out) for _ in range(WRITERS)]
    told = bytearray()
    os.set_blocking(inn, False)
    for _ in range(kills):
        _wait(inn, told, len(told) + chance.randrange(60))
        time.sleep(chance.uniform(0, 0.05))
        gone = pids.pop(chance.randrange(len(pids)))
        os.kill(gone, signal.SIGKILL)
        os.waitpid(gone, 0)
        pids.append(_start(job_pk, inn, out))
        _read(inn, told)
    for pid in pids:
        os.kill(pid, signal.SIGKILL)
        os.waitpid(pid, 0)
    _read(inn, told)
    numbers: dict[str, list[int]] = {"invoice": [], "receipt": []}
    for line in told.decode().splitlines():
        what, number = line.split()
        numbers[what].append(int(number))
    print(json.dumps(numbers))


def _read(inn: int, told: bytearray) -> None:
    while True:
        try:
            told += os.read(inn, 65_536)
        except BlockingIOError:
            return


def _wait(inn: int, told: bytearray, length: int) -> None:
    """Wait until so much was told, a few seconds at most."""
    until = time.monotonic() + 5
    while len(told) < length and time.monotonic() < until:
        time.sleep(0.01)
        _read(inn, told)


def _start(job_pk: int, inn: int, out: int) -> int:
    pid = os.fork()
    if pid == 0:
        os.close(inn)
        write(job_pk, out)
        os._exit(0)
    return pid


if __name__ == "__main__":
    main()
