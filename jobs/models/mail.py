"""A letter by e-mail: stored first, then sent, so that a page can say what became of it."""

from __future__ import annotations

from django.db import models

from jobs.models.scope import ShopOwned


class OutboxMail(ShopOwned):
    """One e-mail to one address; its text is erased once it is sent: it may hold a customer's secret link."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        SENDING = "sending", "Being sent"
        SENT = "sent", "Sent"
        FAILED = "failed", "Not sent"

    shop = models.ForeignKey(
        "jobs.Shop", null=True, blank=True, on_delete=models.CASCADE, related_name="mails"
    )
    job = models.ForeignKey("jobs.Job", null=True, blank=True, on_delete=models.CASCADE, related_name="mails")
    about = models.CharField(max_length=80, blank=True, default="", help_text="What it brings: Quote 3")
    to = models.EmailField(max_length=254)
    reply_to = models.EmailField(blank=True, default="")
    subject = models.CharField(max_length=300)
    body = models.TextField(blank=True, default="")
    calendar = models.TextField(blank=True, default="", help_text="A file of dates that goes with it")
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    error = models.CharField(max_length=300, blank=True, default="", help_text="Why the last try failed")
    attempts = models.PositiveSmallIntegerField(default=0)
    at = models.DateTimeField(help_text="When it was written")
    touched_at = models.DateTimeField(help_text="When it was last seen alive")
    due_at = models.DateTimeField(help_text="When it is tried next")
    sent_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-pk"]
        verbose_name = "e-mail"
        indexes = [models.Index(fields=["state", "due_at"])]

    def __str__(self) -> str:
        return f"{self.about or self.subject} to {self.to}"
