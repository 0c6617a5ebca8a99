"""Runs a row's work in the background once: claim it, tell progress, write its end, take up what stopped.

A row of any model will do that has ``state``, ``error`` and ``touched_at``; work that tells progress writes
``progress_fraction`` and ``doing``. Every write asks the database whether the row is still ours: one that
somebody deleted, stopped or gave to another worker meanwhile is never written on.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, Final

from django.db.models import F, Model, QuerySet

Clock = Callable[[], datetime]

#: Work that stopped with its worker is taken up again so often by itself, then by hand only.
MOST_ATTEMPTS: Final = 2

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

    def _write(self, at: datetime, facts: Mapping[str, Any]) -> bool:
        return bool(self._own.update(touched_at=at, **facts))


@dataclass(frozen=True, kw_only=True)
class Queue[Row: Model]:
    """Rows that wait for work of one kind, and what their states are called.

    ``attempts`` names the field that counts how often a row was claimed: by it a run sees that another worker
    took its row over. Without one (``""``) a row is ours while it is running, and what stopped with its
    worker fails at once. ``fresh`` is what a row is set to before its work begins, ``ended`` when it ends.
    """

    rows: QuerySet[Row]
    waiting: str
    running: str
    failed: str
    attempts: str = "attempts"
    fresh: Mapping[str, Any] = field(default_factory=dict)
    ended: Mapping[str, Any] = field(default_factory=dict)

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
            do(run)
        except GivenUp:
            return
        except explained as problem:
            run.end(self.failed, error=explain(problem))
        except Exception:
            logger.exception("%s %s", self.rows.model._meta.verbose_name, pk)
            run.end(self.failed, error=words)

    def take_up(self, *, error: str, at: datetime, enqueue: Callable[[int], None]) -> int:
        """Have cut-off work wait again, or fail with ``error``; enqueue what waits; return how many it was.

        To be called where the only worker starts: nothing can be running then.
        """
        cut_off = self.rows.filter(state=self.running)
        hopeless = cut_off.filter(**{f"{self.attempts}__gte": MOST_ATTEMPTS}) if self.attempts else cut_off
        given_up = hopeless.update(state=self.failed, touched_at=at, error=error)
        again = cut_off.update(state=self.waiting, touched_at=at, **self.fresh)
        for pk in self.rows.filter(state=self.waiting).values_list("pk", flat=True):
            enqueue(pk)
        return given_up + again
