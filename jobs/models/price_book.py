"""The price book beside the parts: who sells them, and what they cost before."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.money import MoneyField
from jobs.models.scope import ShopOwned
from jobs.models.shop import money_field


class Supplier(ShopOwned):
    """Somebody the shop buys from."""

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="suppliers")
    name = models.CharField(max_length=80)
    account_no = models.CharField("our account there", max_length=40, blank=True, default="")
    phone = models.CharField(max_length=40, blank=True, default="")
    email = models.EmailField("e-mail", blank=True, default="")
    lead_days = models.PositiveSmallIntegerField(
        null=True, blank=True, help_text="From order to delivery, where a part says nothing"
    )

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="supplier_once_per_shop")]

    def __str__(self) -> str:
        return self.name


class PriceChange(ShopOwned):
    """What a part cost before and after, who changed it, how and why. Never changed, never removed."""

    class Way(models.TextChoices):
        FORM = "form", _("By hand")
        IMPORT = "import", _("From a file")
        QUOTE = "quote", _("While quoting")

    shop_path = "part__shop"

    part = models.ForeignKey("jobs.Part", on_delete=models.CASCADE, related_name="price_changes")
    old = MoneyField("before", null=True, blank=True)
    new = money_field(None)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    by_name = models.CharField(max_length=150)
    way = models.CharField(max_length=6, choices=Way, default=Way.FORM)
    why = models.CharField(max_length=160, blank=True, default="")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.part}: {self.old} to {self.new}"
