"""Runs a row's work in the background once: claim it, tell progress, write its end, take up what stopped.

A row of any model will do that has ``state``, ``error`` and ``touched_at``; work that tells progress writes
``progress_fraction`` and ``doing``. Every write asks the database whether the row is still ours: one that
somebody deleted, stopped or gave to another worker meanwhile is never written on.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import partial
from typing import Any, Final

from django.db import DatabaseError, connection, transaction
from django.db.models import F, Model, QuerySet

Clock = Callable[[], datetime]

#: Work that stopped with its worker is taken up again so often by itself, then by hand only.
MOST_ATTEMPTS: Final = 2

#: A worker says so often that it is alive on the row it works on ...
BEAT: Final = timedelta(seconds=10)
#: ... and one that was silent for so long has stopped: any other worker may take its row up.
SILENT: Final = timedelta(seconds=40)
#: What waited so long has lost its place in the queue and is put there again.
FORGOTTEN: Final = timedelta(minutes=5)

logger = logging.getLogger(__name__)


class GivenUp(Exception):
    """The row is not ours any more: nothing is left to be done or written."""


class Run[Row: Model]:
    """One claimed row, and what its work may write on it for as long as it is ours."""

    def __init__(self, queue: Queue[Row], row: Row, clock: Clock) -> None:
        self.row = row
        self._own = queue.own(row)
        self._ended = queue.ended
        self._clock = clock
        self._told_at: datetime | None = None

    def write(self, **facts: Any) -> bool:
        """Write on the row; return False, having written nothing, when it is not ours any more."""
        return self._write(self._clock(), facts)

    def end(self, state: str, **facts: Any) -> bool:
        """Write the end of the work; return False, having written nothing, when the row is not ours."""
        return self.write(state=state, **self._ended, **facts)

    def tell(self, share: float, words: str, *, every: timedelta) -> bool:
        """Write progress down, no oftener than ``every``; return False when the row is not ours any more."""
        now = self._clock()
        if self._told_at is not None and now - self._told_at < every:
            return True
        self._told_at = now
        return self._write(now, {"progress_fraction": share, "doing": words})

    def tell_or_give_up(self, share: float, words: str, *, every: timedelta) -> None:
        """Tell how far the work is; raise GivenUp when the row is not ours any more."""
        if not self.tell(share, words, every=every):
            raise GivenUp

    @contextmanager
    def kept_alive(self) -> Iterator[None]:
        """Say every ``BEAT`` that somebody works on the row, from a thread beside the work."""
        is_over = threading.Event()

        def beat() -> None:
            while not is_over.wait(BEAT.total_seconds()):
                with suppress(DatabaseError):  # locked for a moment: the next beat comes in time
                    self.write()
            connection.close()  # a thread has a connection of its own

        thread = threading.Thread(target=beat, name=f"beat-{self.row.pk}", daemon=True)
        thread.start()
        try:
            yield
        finally:
            is_over.set()
            thread.join()

    def _write(self, at: datetime, facts: Mapping[str, Any]) -> bool:
        return bool(self._own.update(touched_at=at, **facts))


@dataclass(frozen=True, kw_only=True)
class Queue[Row: Model]:
    """Rows that wait for work of one kind, and what their states are called.

    ``attempts`` names the field that counts how often a row was claimed: by it a run sees that another worker
    took its row over. Without one (``""``) a row is ours while it is running, and what stopped with its
    worker fails at once. ``fresh`` is what a row is set to before its work begins, ``ended`` when it ends;
    ``most`` is how often work that stopped is begun, ``forgotten`` how long a row may wait in the queue.
    """

    rows: QuerySet[Row]
    waiting: str
    running: str
    failed: str
    attempts: str = "attempts"
    fresh: Mapping[str, Any] = field(default_factory=dict)
    ended: Mapping[str, Any] = field(default_factory=dict)
    most: int = MOST_ATTEMPTS
    forgotten: timedelta = FORGOTTEN

    def claim(self, pk: int, clock: Clock) -> Run[Row] | None:
        """Return a waiting row as ours; None when it waits no more: two workers never get the same one."""
        counted = {self.attempts: F(self.attempts) + 1} if self.attempts else {}
        waiting = self.rows.filter(pk=pk, state=self.waiting)
        if not waiting.update(state=self.running, touched_at=clock(), error="", **self.fresh, **counted):
            return None
        row = self.rows.filter(pk=pk).first()
        return Run(self, row, clock) if row is not None else None

    def own(self, row: Row) -> QuerySet[Row]:
        """Return a claimed row while nobody deleted, stopped or took it over; nothing afterwards."""
        mine = self.rows.filter(pk=row.pk, state=self.running)
        return mine.filter(**{self.attempts: getattr(row, self.attempts)}) if self.attempts else mine

    def work(
        self,
        pk: int,
        do: Callable[[Run[Row]], None],
        *,
        clock: Clock,
        words: str,
        explained: tuple[type[Exception], ...] = (),
        explain: Callable[[Exception], str] = str,
    ) -> None:
        """Have a waiting row's work done, which writes its own end; leave a row alone that waits no more.

        A failure is written on the row for the person: of the ``explained`` exceptions what ``explain`` makes
        of them; of any other ``words``, and the exception goes to the log.
        """
        run = self.claim(pk, clock)
        if run is None:
            return
        try:
            with run.kept_alive():
                do(run)
        except GivenUp:
            return
        except explained as problem:
            run.end(self.failed, error=explain(problem))
        except Exception:
            logger.exception("%s %s", self.rows.model._meta.verbose_name, pk)
            run.end(self.failed, error=words)

    def again(self, pk: int, *, at: datetime, enqueue: Callable[[int], object], **facts: Any) -> bool:
        """Have a failed row wait anew, tries counted from none; False where somebody else was faster."""
        counted = {self.attempts: 0} if self.attempts else {}
        failed = self.rows.filter(pk=pk, state=self.failed)
        facts = {"touched_at": at, "error": "", **self.fresh, **counted, **facts}
        if not failed.update(state=self.waiting, **facts):
            return False
        transaction.on_commit(partial(enqueue, pk))
        return True

    def take_up(self, *, error: str, at: datetime, enqueue: Callable[[int], None]) -> int:
        """Have work wait again whose worker fell silent, or fail with ``error``; return how many rows it was.

        Any worker may call this at any moment: rows of workers that live are touched in time. What waits
        again, or has waited so long that its place in the queue must be lost, is enqueued.
        """
        cut_off = self.rows.filter(state=self.running, touched_at__lt=at - SILENT)
        hopeless = cut_off.filter(**{f"{self.attempts}__gte": self.most}) if self.attempts else cut_off
        given_up = hopeless.update(state=self.failed, touched_at=at, error=error)
        again = self._touch(cut_off, at, state=self.waiting, **self.fresh)
        lost = self._touch(self.rows.filter(state=self.waiting, touched_at__lt=at - self.forgotten), at)
        for pk in again + lost:
            enqueue(pk)
        return given_up + len(again)

    def _touch(self, rows: QuerySet[Row], at: datetime, **facts: Any) -> list[int]:
        """Write on each row, unless another worker was faster; return the keys of those that were ours."""
        return [
            pk
            for pk in rows.values_list("pk", flat=True)
            if rows.filter(pk=pk).update(touched_at=at, **facts)
        ]
