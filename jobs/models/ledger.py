"""The shop's books: invoices and payments, only ever added to, and the counts behind their numbers."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from jobs.models.quote import signed_money_field
from jobs.models.scope import ShopOwned


class LedgerCount(ShopOwned):
    """The last numbers a shop has given away. Its row is locked while a number is given: none is left out."""

    shop = models.OneToOneField("jobs.Shop", on_delete=models.PROTECT, related_name="ledger_count")
    invoices = models.PositiveIntegerField(default=0)
    receipts = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return f"{self.invoices} invoices, {self.receipts} receipts"


class Invoice(ShopOwned):
    """One invoice or credit note as it was issued, never rewritten. A credit note's sums are below zero."""

    class Kind(models.TextChoices):
        DEPOSIT = "deposit", _("Deposit invoice")
        PROGRESS = "progress", _("Progress invoice")
        FINAL = "final", _("Final invoice")
        CREDIT = "credit", _("Credit note")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="invoices")
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="invoices")
    number = models.PositiveIntegerField(help_text="Counted by the shop without a gap")
    kind = models.CharField(max_length=10, choices=Kind)
    corrects = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="credit_notes"
    )
    issued_on = models.DateField()
    due_on = models.DateField()
    currency = models.CharField(max_length=3)
    total = signed_money_field()
    tax = signed_money_field()
    taxes = models.JSONField(default=list, help_text="Base and tax of each rate, as texts")
    allowance_credit = signed_money_field()
    lowers_price = models.BooleanField(
        default=False, help_text="A credit note that takes something off what was agreed"
    )
    snapshot = models.JSONField(help_text="What was issued, word for word")
    content_sha256 = models.CharField(max_length=64)
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    issued_by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="invoice_number_once_per_shop"),
            models.CheckConstraint(condition=Q(number__gt=0), name="invoice_numbers_begin_at_one"),
            models.CheckConstraint(
                condition=~Q(kind="credit") | Q(corrects__isnull=False), name="credit_note_names_its_invoice"
            ),
        ]
        indexes = [models.Index(fields=["shop", "issued_on"], name="invoices_by_day")]

    def __str__(self) -> str:
        return f"{'Credit note' if self.is_credit else 'Invoice'} {self.number}"

    @property
    def is_credit(self) -> bool:
        """Return whether it takes back from another invoice."""
        return self.kind == self.Kind.CREDIT


class Payment(ShopOwned):
    """Money received, or given back (below zero). A wrong entry is undone by another one, never changed."""

    class Method(models.TextChoices):
        CASH = "cash", _("Cash")
        CHECK = "check", _("Check")
        CARD = "card", _("Card terminal")
        BANK = "bank", _("Bank transfer")
        OTHER = "other", _("Other")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="payments")
    job = models.ForeignKey("jobs.Job", on_delete=models.PROTECT, related_name="payments")
    number = models.PositiveIntegerField(help_text="Number of the receipt")
    received_on = models.DateField()
    method = models.CharField(max_length=8, choices=Method)
    reference = models.CharField(max_length=80, blank=True, default="")
    amount = signed_money_field()
    currency = models.CharField(max_length=3)
    undoes = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="undone_by"
    )
    reason = models.CharField(max_length=200, blank=True, default="", help_text="Why an entry was undone")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    entered_by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="receipt_number_once_per_shop"),
            models.CheckConstraint(condition=~Q(amount=0), name="payment_moves_money"),
        ]
        indexes = [models.Index(fields=["shop", "received_on"], name="payments_by_day")]

    def __str__(self) -> str:
        return f"Receipt {self.number}"

    @property
    def is_undone(self) -> bool:
        """Return whether a later entry took it back."""
        return hasattr(self, "undone_by")
