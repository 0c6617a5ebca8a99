"""Options offered side by side, and what the customer asks and is told about them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class Offer(ShopOwned):
    """Up to three quotes of a job sent together, of which the customer chooses one."""

    shop_path = "job__shop"

    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, related_name="offers")
    number = models.PositiveSmallIntegerField()
    recommended = models.ForeignKey(
        "jobs.Quote", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    content_sha256 = models.CharField(max_length=64, blank=True, default="")
    snapshot = models.JSONField(null=True, blank=True, help_text="The comparison as sent, word for word")

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="offer_number_once_per_job")]

    def __str__(self) -> str:
        return f"Offer {self.number}"

    @property
    def is_draft(self) -> bool:
        """Return whether it has not been sent."""
        return self.sent_at is None


class CustomerMessage(ShopOwned):
    """One word between a customer and the shop about a quote: a question, a wish, an answer."""

    class Kind(models.TextChoices):
        QUESTION = "question", _("Question")
        CHANGE = "change", _("Asks for a change")
        ANSWER = "answer", _("Answer")

    shop_path = "job__shop"

    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, related_name="messages")
    quote = models.ForeignKey("jobs.Quote", on_delete=models.CASCADE, related_name="messages")
    kind = models.CharField(max_length=10, choices=Kind)
    author_name = models.CharField(max_length=150)
    text = models.TextField()
    at = models.DateTimeField()
    settled_at = models.DateTimeField(
        null=True, blank=True, help_text="When the shop answered, or said that no answer is needed"
    )

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(
                fields=["job"],
                name="customer_waits",
                condition=Q(settled_at=None, kind__in=["question", "change"]),
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.author_name}"

    @property
    def is_from_customer(self) -> bool:
        """Return whether the customer wrote it."""
        return self.kind != self.Kind.ANSWER

    @property
    def is_waiting(self) -> bool:
        """Return whether the customer still waits for a word; an answer is settled when it is written."""
        return self.settled_at is None
