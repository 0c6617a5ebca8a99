"""Stores each e-mail with the change that asks for it; a worker sends it, tries again, says how it went."""

from __future__ import annotations

import smtplib
from datetime import datetime, timedelta
from functools import partial
from typing import Final

from django.conf import settings
from django.contrib.auth.models import User
from django.core.mail import EmailMessage
from django.db import transaction
from django.tasks import task
from django.utils import timezone

from common.background import Clock, Queue, Run
from jobs.models import Job, OutboxMail, Shop
from jobs.shop.log import log
from jobs.shop.refusals import Refusal
from jobs.shop.rights import require

#: After each failed try it waits so long; after the last one the letter stands as not sent.
PAUSES: Final = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 180, 360, 720))
#: A letter that was put in the queue is put there again if nothing came of it.
_LOST_AFTER: Final = timedelta(minutes=5)
NOT_SET_UP: Final = "No mail server is set up for this installation, so nothing was sent."

S = OutboxMail.State

MAILS: Final[Queue[OutboxMail]] = Queue(
    rows=OutboxMail.objects.all(),
    waiting=S.WAITING,
    running=S.SENDING,
    failed=S.FAILED,
    most=len(PAUSES) + 1,
    forgotten=timedelta(days=36500),  # never: a letter knows itself when it is due
)


class NotSent(Refusal):
    """The letter was refused for good; the sentence says by whom and why."""


def mail_put(
    *,
    to: str,
    subject: str,
    body: str,
    at: datetime,
    shop: Shop | None = None,
    job: Job | None = None,
    about: str = "",
    calendar: str = "",
) -> OutboxMail:
    """Store a letter; it leaves when the change around it is safe. Without a mail server it says so.

    ``calendar`` is a file of dates (iCalendar) that goes along.
    """
    one_line = " ".join(subject.split())[:300]
    row = OutboxMail(shop=shop, job=job, about=about, to=to, subject=one_line, body=body)
    row.reply_to, row.calendar = shop.email if shop else "", calendar
    row.at, row.touched_at, row.due_at = at, at, at + _LOST_AFTER
    if not settings.MAIL_IS_SET_UP:
        row.state, row.error, row.body, row.calendar = S.FAILED, NOT_SET_UP, "", ""
    row.save()
    if row.state == S.WAITING:
        transaction.on_commit(partial(_enqueue, row.pk))
    return row


def _enqueue(mail_pk: int) -> None:
    mail_task.enqueue(mail_pk)


@task(queue_name="mail")
def mail_task(mail_pk: int) -> None:
    """Send one letter in the background worker."""
    mail_send(mail_pk, clock=timezone.now)


def mail_send(mail_pk: int, *, clock: Clock) -> None:
    """Try to send a letter that waits; what fails for a while waits longer each time."""
    MAILS.work(
        mail_pk,
        partial(_send, clock=clock),
        clock=clock,
        explained=(NotSent,),
        words="The letter could not be written. Please tell whoever looks after the server: its log says"
        " where.",
    )


def _send(run: Run[OutboxMail], *, clock: Clock) -> None:
    row = run.row
    message = EmailMessage(
        subject=row.subject,
        body=row.body,
        to=[row.to],
        reply_to=[row.reply_to] if row.reply_to else None,
        headers={"Message-ID": f"<{row.pk}.{row.at:%Y%m%d%H%M%S}@{settings.MAIL_DOMAIN}>"},
    )
    if row.calendar:
        message.attach("days.ics", row.calendar, "text/calendar")
    try:
        message.send(using="post")
    except (OSError, smtplib.SMTPException) as problem:
        _failed(run, problem, clock())
        return
    run.end(S.SENT, sent_at=clock(), body="", calendar="", error="")


def _failed(run: Run[OutboxMail], problem: Exception, at: datetime) -> None:
    """Have the letter wait for its next try; raise NotSent when there is none."""
    words = _words(problem)
    if _is_final(problem) or run.row.attempts > len(PAUSES):
        raise NotSent(words)
    run.write(state=S.WAITING, error=words[:300], due_at=at + PAUSES[run.row.attempts - 1])


def _is_final(problem: Exception) -> bool:
    """Return whether the server will say the same tomorrow: it refused the address or the letter for good."""
    if isinstance(problem, smtplib.SMTPRecipientsRefused):
        return all(code >= 500 for code, _ in problem.recipients.values())
    is_ours = isinstance(problem, smtplib.SMTPAuthenticationError)  # a password that can be put right
    return isinstance(problem, smtplib.SMTPResponseException) and problem.smtp_code >= 500 and not is_ours


def _words(problem: Exception) -> str:
    """Return what happened in a sentence, with what the server said."""
    if isinstance(problem, smtplib.SMTPRecipientsRefused):
        code, said = next(iter(problem.recipients.values()))
        return f"The address was refused: {code} {_text(said)}"
    if isinstance(problem, smtplib.SMTPAuthenticationError):
        return "The mail server refused our user name or password."
    if isinstance(problem, smtplib.SMTPResponseException):
        return f"The mail server refused the letter: {problem.smtp_code} {_text(problem.smtp_error)}"
    return f"The mail server could not be reached ({type(problem).__name__})."


def _text(said: bytes | str) -> str:
    return said.decode("utf-8", "replace") if isinstance(said, bytes) else said


def mails_due(*, at: datetime) -> int:
    """Enqueue letters whose next try has come, each once; take up what stopped; return how many it was."""
    due = OutboxMail.objects.filter(state=S.WAITING, due_at__lte=at)
    ours = [
        pk for pk in due.values_list("pk", flat=True) if due.filter(pk=pk).update(due_at=at + _LOST_AFTER)
    ]
    for pk in ours:
        _enqueue(pk)
    return len(ours) + MAILS.take_up(
        error="The server stopped each time this letter was sent: it may have arrived or not.",
        at=at,
        enqueue=_enqueue,
    )


@transaction.atomic
def mail_test(*, shop: Shop, actor: User, at: datetime) -> OutboxMail:
    """Write a test letter to the owner who asks for it."""
    require(actor, shop, "is_owner")
    row = mail_put(
        to=actor.email,
        subject=f"{shop.name}: test letter",
        body=f"Letters from {shop.name} arrive. An answer to this one goes to {shop.email or 'nobody'}.",
        at=at,
        shop=shop,
        about="Test letter",
    )
    log(shop=shop, actor=actor, verb="test letter", detail=actor.email, at=at)
    return row
