"""The customer."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class Customer(ShopOwned):
    """A person who owns vehicles."""

    class Contact(models.TextChoices):
        PHONE = "phone", _("Phone")
        TEXT = "text", _("Text message")
        EMAIL = "email", _("E-mail")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="customers")
    name = models.CharField(max_length=120)
    phone = models.CharField(max_length=40, blank=True, default="")
    email = models.EmailField(blank=True, default="")
    preferred_contact = models.CharField(max_length=10, choices=Contact, default=Contact.PHONE)
    address = models.TextField(blank=True, default="")
    notes = models.TextField(blank=True, default="")
    created_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["shop", "name"])]

    def __str__(self) -> str:
        return self.name
