"""Letters by e-mail, carried to a real SMTP server on this machine: sent, tried again, refused, never twice.

Reply codes are those of RFC 5321: 550 refuses a mailbox for good, 451 for now; 535 (RFC 4954) a password.
"""

from __future__ import annotations

import datetime as dt
import socket

import pytest
from aiosmtpd.controller import Controller
from django.core import mail
from django.core.mail import EmailMessage
from django.test import override_settings

from common.background import SILENT
from jobs.models import OutboxMail
from jobs.shop.outbox import PAUSES, mail_put, mail_send, mail_test, mails_due

pytestmark = pytest.mark.django_db


def free_port() -> int:
    """Return a port nobody listens on."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return taken.getsockname()[1]


class Server:
    """An SMTP server that answers as told and keeps what it took."""

    def __init__(self) -> None:
        self.taken, self.to, self.data = [], "250 OK", "250 OK"

    async def handle_RCPT(self, server, session, envelope, address, options):
        if self.to.startswith("250"):
            envelope.rcpt_tos.append(address)
        return self.to

    async def handle_DATA(self, server, session, envelope):
        if self.data.startswith("250"):
            self.taken.append(envelope)
        return self.data


@pytest.fixture
def post(settings):
    """Return a running server, set up as the one letters are carried to."""
    server = Server()
    port = free_port()
    controller = Controller(server, hostname="127.0.0.1", port=port)
    controller.start()
    options = {"host": "127.0.0.1", "port": port, "timeout": 5}
    backend = "django.core.mail.backends.smtp.EmailBackend"
    settings.MAILERS = settings.MAILERS | {"post": {"BACKEND": backend, "OPTIONS": options}}
    settings.DEFAULT_FROM_EMAIL = "Coachlight <post@host.example>"
    yield server
    controller.stop()


@pytest.fixture
def asked(monkeypatch):
    """Return the keys of letters that were put in the queue."""
    asked = []
    monkeypatch.setattr("jobs.shop.outbox._enqueue", asked.append)
    return asked


@pytest.fixture
def letter(shop, now):
    return mail_put(
        to="gus@mail.example", subject="Your\nquote", body="https://shop.example/q/secret/", at=now, shop=shop
    )


def test_it_arrives_as_written(post, letter, shop, now):
    shop.email = letter.reply_to = "desk@shop.example"
    letter.save()
    mail_send(letter.pk, clock=lambda: now)
    (envelope,) = post.taken
    text = envelope.content.decode()
    assert envelope.rcpt_tos == ["gus@mail.example"]
    assert envelope.mail_from == "post@host.example"
    assert "Subject: Your quote" in text  # one line: a second one would be a header of its own
    assert "Reply-To: desk@shop.example" in text
    assert "https://shop.example/q/secret/" in text
    letter.refresh_from_db()
    assert (letter.state, letter.sent_at, letter.error) == ("sent", now, "")
    assert letter.body == ""  # the secret link is kept nowhere


def test_a_letter_goes_once(post, letter, now):
    for _ in "twice":
        mail_send(letter.pk, clock=lambda: now)
    assert len(post.taken) == 1


@pytest.mark.parametrize(("to", "data"), [("550 no such user", "250 OK"), ("250 OK", "554 no spam")])
def test_what_is_refused_for_good_is_told_in_its_words(post, letter, now, to, data):
    post.to, post.data = to, data
    mail_send(letter.pk, clock=lambda: now)
    letter.refresh_from_db()
    assert letter.state == "failed"
    assert "no such user" in letter.error or "no spam" in letter.error


def test_what_is_refused_for_now_is_tried_again_later_and_later(post, letter, now, asked):
    post.data = "451 come back"
    at = now
    for pause in PAUSES:
        mail_send(letter.pk, clock=lambda at=at: at)
        letter.refresh_from_db()
        assert (letter.state, letter.due_at) == ("waiting", at + pause)
        assert "451 come back" in letter.error
        assert mails_due(at=at + pause / 2) == 0
        at += pause
        assert mails_due(at=at) == 1
        assert mails_due(at=at) == 0  # a second worker finds it taken
    mail_send(letter.pk, clock=lambda: at)
    letter.refresh_from_db()
    assert letter.state == "failed"
    assert asked == [letter.pk] * len(PAUSES)
    post.data = "250 OK"
    assert not post.taken


def test_a_server_that_is_away_is_waited_for(letter, settings, now):
    options = {"host": "127.0.0.1", "port": free_port(), "timeout": 2}
    backend = "django.core.mail.backends.smtp.EmailBackend"
    settings.MAILERS = settings.MAILERS | {"post": {"BACKEND": backend, "OPTIONS": options}}
    mail_send(letter.pk, clock=lambda: now)
    letter.refresh_from_db()
    assert letter.state == "waiting"
    assert "could not be reached" in letter.error


def test_a_worker_killed_at_it_leaves_no_letter_behind(letter, now, asked):
    OutboxMail.objects.update(state="sending", attempts=1)
    assert mails_due(at=now + SILENT / 2) == 0
    assert mails_due(at=now + SILENT * 2) == 1
    letter.refresh_from_db()
    assert (letter.state, asked) == ("waiting", [letter.pk])


@override_settings(MAIL_IS_SET_UP=False)
def test_without_a_server_nothing_claims_to_be_sent(shop, now):
    letter = mail_put(to="gus@mail.example", subject="Quote", body="secret", at=now, shop=shop)
    assert (letter.state, letter.body) == ("failed", "")
    assert "nothing was sent" in letter.error


def test_what_packages_send_goes_the_same_way(settings, now):
    """A password reset, say: stored, then carried by the worker."""
    settings.MAILERS = settings.MAILERS | {"default": {"BACKEND": "config.mail.Outbox"}}
    EmailMessage(subject="Reset", body="link", to=["gus@mail.example", "nell@mail.example"]).send()
    assert sorted(OutboxMail.objects.values_list("to", flat=True)) == [
        "gus@mail.example",
        "nell@mail.example",
    ]
    assert not mail.outbox
    for row in OutboxMail.objects.all():
        mail_send(row.pk, clock=lambda: now + dt.timedelta(seconds=5))
    assert {letter.to[0] for letter in mail.outbox} == {"gus@mail.example", "nell@mail.example"}


def test_the_owner_tries_it_out(shop, alice, now):
    letter = mail_test(shop=shop, actor=alice, at=now)
    assert (letter.to, letter.shop) == (alice.email, shop)
