"""The price book beside the parts: suppliers, former costs, kits, hours by task, tax by day, scope lines."""

from __future__ import annotations

from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from jobs.models.money import MoneyField
from jobs.models.scope import ShopOwned
from jobs.models.shop import fraction_field, money_field


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


class KitItem(ShopOwned):
    """A part that comes onto a quote with another: lugs and a label with a cable, a fuse with an inverter."""

    class Per(models.TextChoices):
        UNIT = "unit", _("for each unit")
        LINE = "line", _("once a line")

    shop_path = "head__shop"

    head = models.ForeignKey("jobs.Part", on_delete=models.CASCADE, related_name="kit_items")
    part = models.ForeignKey("jobs.Part", on_delete=models.PROTECT, related_name="+")
    quantity = models.DecimalField(
        max_digits=9, decimal_places=3, validators=[MinValueValidator(Decimal("0.001"))]
    )
    per = models.CharField(max_length=4, choices=Per, default=Per.UNIT)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["head", "part"], name="kit_part_once")]

    def __str__(self) -> str:
        return f"{self.part} with {self.head}"


def _hours(help_text: str, *, may_be_blank: bool = False) -> models.DecimalField:  # type: ignore[type-arg]
    """Return a column of hours."""
    return models.DecimalField(
        max_digits=6,
        decimal_places=2,
        null=may_be_blank,
        blank=may_be_blank,
        validators=[MinValueValidator(0), MaxValueValidator(200)],
        help_text=help_text,
    )


class TaskHours(ShopOwned):
    """A labor code as this shop has it: a starting one with the shop's own words and hours, or its own."""

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="task_hours")
    code = models.CharField(max_length=8)
    task = models.CharField(max_length=120)
    low_h = _hours("When all goes well")
    plan_h = _hours("What a quote takes; blank: cannot be planned", may_be_blank=True)
    high_h = _hours("At the worst")
    scales_with = models.CharField(max_length=60, blank=True, default="job")
    is_pair = models.BooleanField(default=False)
    is_roof = models.BooleanField(default=False)
    needs_licence = models.BooleanField(default=False)
    is_active = models.BooleanField(default=True)

    class Meta:
        ordering = ["code"]
        constraints = [models.UniqueConstraint(fields=["shop", "code"], name="task_hours_once_per_shop")]

    def __str__(self) -> str:
        return f"{self.code} {self.task}"


class TaxRate(ShopOwned):
    """A sales tax from a day on: how much, and of which lines. A quote takes the one of its day."""

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="tax_rates")
    name = models.CharField(max_length=60)
    from_date = models.DateField()
    fraction = fraction_field("0", "Of the price")
    on_parts = models.BooleanField(default=True)
    on_labour = models.BooleanField(default=False)
    on_travel = models.BooleanField(default=False)
    on_subcontract = models.BooleanField(default=False)
    on_disposal = models.BooleanField(default=False)

    class Meta:
        ordering = ["-from_date"]
        constraints = [models.UniqueConstraint(fields=["shop", "from_date"], name="tax_rate_once_a_day")]

    def __str__(self) -> str:
        return self.name


class ScopeText(ShopOwned):
    """A line of what is in and out, as the shop says it: a starting one said otherwise, or its own."""

    class Answer(models.TextChoices):
        AUTO = "auto", _("As the design says")
        IN = "in", _("Included")
        OUT = "out", _("Not included")
        ALLOWANCE = "allowance", _("Allowance")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="scope_texts")
    key = models.CharField(max_length=20, blank=True, default="", help_text="Which starting line; blank: own")
    text = models.CharField(max_length=120)
    answer = models.CharField(max_length=10, choices=Answer, default=Answer.OUT)
    note = models.CharField(max_length=200, blank=True, default="")
    is_shown = models.BooleanField(default=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "key"], condition=~Q(key=""), name="scope_text_once")
        ]

    def __str__(self) -> str:
        return self.text


class Package(ShopOwned):
    """A design the shop keeps under a name, to be placed on other vehicles. Its revision is frozen."""

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="packages")
    name = models.CharField(max_length=60)
    note = models.CharField("what it is for", max_length=160, blank=True, default="")
    design = models.ForeignKey("jobs.Design", on_delete=models.PROTECT, related_name="packages")
    kept_at = models.DateTimeField()
    kept_by_name = models.CharField(max_length=150)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="package_name_once_per_shop")]

    def __str__(self) -> str:
        return self.name
