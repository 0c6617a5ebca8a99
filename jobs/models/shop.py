"""The shop, its people and their roles, and what it charges."""

from __future__ import annotations

from decimal import Decimal
from typing import ClassVar

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models.expressions import Combinable
from django.utils.translation import gettext_lazy as _

from jobs.models.money import MoneyField
from jobs.models.scope import ShopOwned, ShopQuerySet

#: A column of exact numbers, as the checker sees it: what may be written, what is read.
type MoneyColumn = models.DecimalField[str | float | Decimal | Combinable, Decimal]


def fraction_field(default: str, help_text: str) -> MoneyColumn:
    """Return a column for a share of 0 to 1 (a percent is made when printing)."""
    return models.DecimalField(
        max_digits=6,
        decimal_places=5,
        default=Decimal(default),
        validators=[MinValueValidator(0), MaxValueValidator(1)],
        help_text=help_text,
    )


def money_field(default: str | None = "0", help_text: str = "", **extra: object) -> MoneyColumn:
    """Return a column for an amount of money, to the smallest unit of any currency, not below zero."""
    options: dict[str, object] = {"help_text": help_text, "validators": [MinValueValidator(Decimal(0))]}
    if default is not None:
        options["default"] = Decimal(default)
    return MoneyField(**(options | extra))


def reminder_days() -> list[int]:
    """Return the days after sending on which a silent customer is reminded. Ours to begin with, no source."""
    return [3, 10, 21]


class RuleSetChoice(models.TextChoices):
    """Ampacity rules a job is judged by (the values are those of the sizing face)."""

    MARINE_105C = "marine_105c", _("Marine style, 105 °C")
    CODE_75C = "code_75c", _("Code, 75 °C copper")
    CODE_90C = "code_90c", _("Code, 90 °C copper")
    METRIC = "metric", _("Metric")


class Shop(models.Model):
    """One business. Rates are starting values that the owner sets."""

    class Units(models.TextChoices):
        IMPERIAL = "imperial", _("Feet, inches, pounds, °F")
        METRIC = "metric", _("Meters, kilograms, °C")

    class Paper(models.TextChoices):
        LETTER = "letter", _("US Letter")
        A4 = "a4", "A4"

    shop_path: ClassVar[str] = "pk"

    name = models.CharField(max_length=120)
    address = models.TextField(blank=True, default="")
    phone = models.CharField(max_length=40, blank=True, default="")
    email = models.EmailField(blank=True, default="")
    licence_text = models.CharField(max_length=200, blank=True, default="")
    insurance_text = models.CharField(max_length=200, blank=True, default="")
    units = models.CharField(max_length=10, choices=Units, default=Units.IMPERIAL)
    paper = models.CharField(max_length=10, choices=Paper, default=Paper.LETTER)
    currency = models.CharField(max_length=3, default="USD")
    time_zone = models.CharField(max_length=60, default="America/Denver")
    rule_set = models.CharField(max_length=20, choices=RuleSetChoice, default=RuleSetChoice.MARINE_105C)
    design_speed_mps = models.FloatField(
        default=46.94, help_text="Road speed and head wind that panels must stand, by default 105 mph"
    )

    lithium_main_interrupt_a = models.FloatField(
        default=20_000.0, help_text="Least interrupting rating of the main device of a lithium bank [A]"
    )
    cold_volts_fraction = models.FloatField(
        default=0.97, help_text="Of a controller's PV voltage limit, the most a cold string may reach"
    )
    foot_use_fraction = models.FloatField(
        default=0.5, help_text="Of what a foot holds, the most it may be loaded to"
    )
    cargo_left_fraction = models.FloatField(
        default=0.1, help_text="Of the cargo label, what should stay free"
    )
    alternator_idle_fraction = models.FloatField(
        default=0.5, help_text="Share of its rating an alternator gives idling hot"
    )
    keeps_photo_position = models.BooleanField(
        default=False, help_text="Latitude and longitude of a photo are kept where its camera wrote them"
    )

    owners_need_second_factor = models.BooleanField(
        default=False, help_text="Owners must set up a second factor before they go on"
    )
    technicians_take_all = models.BooleanField(
        default=False, help_text="Technicians may take along every job in work, not only those they are on"
    )

    labour_rate = money_field("135", "Charged per hour, one person")
    pair_rate = money_field("215", "Charged per hour, two people")
    labour_cost = money_field("62", "What an hour costs the shop, each person")
    call_fee = money_field("95", "Call-out, including the first miles")
    mile_rate = money_field("2.50", "Charged per mile")
    mile_cost = money_field("0.70", "What a mile costs the shop")
    old_battery_price = MoneyField(
        null=True, blank=True, help_text="For each one hauled away; below zero: its core value is credited"
    )
    old_panel_price = MoneyField(null=True, blank=True, help_text="For each one hauled away")
    markup = models.DecimalField(
        max_digits=6,
        decimal_places=5,
        default=Decimal("0.30"),
        validators=[MinValueValidator(0), MaxValueValidator(10)],
        help_text="On the cost of parts",
    )
    consumables_fraction = fraction_field("0.04", "Of the cost of parts")
    deposit_fraction = fraction_field("0.40", "Of the total, before parts are ordered")
    tax_fraction = fraction_field("0.0775", "Sales tax")
    tax_on_parts = models.BooleanField(default=True)
    tax_on_labour = models.BooleanField(default=False)
    discount_lowers_tax = models.BooleanField(
        default=False, help_text="A discount comes off what is taxed, by its share of the price"
    )
    payment_text = models.TextField(
        blank=True, default="", help_text="How to pay, printed on invoices: a link, a bank account"
    )
    invoice_due_days = models.PositiveSmallIntegerField(default=14, validators=[MaxValueValidator(365)])
    option_texts = models.JSONField(
        default=dict, blank=True, help_text="The shop's own names and lines for the options, by option"
    )
    reminder_days = models.JSONField(
        default=reminder_days, blank=True, help_text="Days after sending on which a customer is reminded"
    )
    quote_valid_days = models.PositiveSmallIntegerField(default=30)
    margin_caution = fraction_field("0.30", "Gross margin under this is a caution")
    margin_block = fraction_field("0.20", "Gross margin under this needs the owner")

    objects = ShopQuerySet.as_manager()

    def __str__(self) -> str:
        return self.name


class ShopLogo(ShopOwned):
    """The shop's mark on what customers read; kept apart, for the shop is read with every page."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="logo")
    png = models.BinaryField(help_text="Made small when it is uploaded")
    width = models.PositiveSmallIntegerField()
    height = models.PositiveSmallIntegerField()

    def __str__(self) -> str:
        return f"Logo of {self.shop}"


class Membership(ShopOwned):
    """One person's place in one shop. A person works for one shop at a time."""

    class Role(models.TextChoices):
        OWNER = "owner", _("Owner")
        ESTIMATOR = "estimator", _("Estimator")
        LEAD_TECHNICIAN = "lead_technician", _("Lead technician")
        TECHNICIAN = "technician", _("Technician")
        BOOKKEEPER = "bookkeeper", _("Bookkeeper")

    class Language(models.TextChoices):
        ENGLISH = "en-us", _("English")
        SPANISH = "es", _("Español")

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="membership")
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=Role)
    is_active = models.BooleanField(default=True)
    licence_no = models.CharField(max_length=60, blank=True, default="")
    phone = models.CharField(max_length=40, blank=True, default="", help_text="Where colleagues reach them")
    language = models.CharField(max_length=10, choices=Language, default=Language.ENGLISH)

    def __str__(self) -> str:
        return f"{self.user} ({self.get_role_display()})"

    @property
    def is_owner(self) -> bool:
        """Return whether this person may override, set prices and answer for the shop."""
        return self.role == self.Role.OWNER

    @property
    def sees_costs(self) -> bool:
        """Return whether costs and margins may be shown."""
        return self.role in {self.Role.OWNER, self.Role.ESTIMATOR, self.Role.BOOKKEEPER}

    @property
    def sees_prices(self) -> bool:
        """Return whether selling prices may be shown; technicians see hours only."""
        return self.sees_costs

    @property
    def takes_money(self) -> bool:
        """Return whether money received may be entered."""
        return self.role in {self.Role.OWNER, self.Role.BOOKKEEPER}

    @property
    def may_design(self) -> bool:
        """Return whether survey, design and quote may be changed."""
        return self.role in {self.Role.OWNER, self.Role.ESTIMATOR}

    @property
    def may_install(self) -> bool:
        """Return whether steps may be recorded."""
        return self.role != self.Role.BOOKKEEPER

    @property
    def takes_all_jobs(self) -> bool:
        """Return whether every job may be taken along; else those the person is on."""
        return self.role != self.Role.TECHNICIAN or self.shop.technicians_take_all

    @property
    def may_lead(self) -> bool:
        """Return whether layout and go may be accepted."""
        return self.role in {self.Role.OWNER, self.Role.LEAD_TECHNICIAN}


class LogEntry(ShopOwned):
    """Who changed what, when and why; written by services only, never edited."""

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="log")
    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, null=True, blank=True, related_name="log")
    actor = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    actor_name = models.CharField(max_length=150, blank=True, default="")
    verb = models.CharField(max_length=60)
    detail = models.TextField(blank=True, default="")
    reason = models.TextField(blank=True, default="")
    shows_prices = models.BooleanField(default=False, help_text="Read only by people who may see prices")
    at = models.DateTimeField()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["job", "-at"])]
        verbose_name_plural = "log entries"

    def __str__(self) -> str:
        return f"{self.at:%b %d, %Y, %H:%M} {self.actor_name} {self.verb}"
