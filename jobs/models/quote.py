"""The offer: lines, scope, totals as stored, the customer's link, acceptance, and change orders."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import Final, Protocol

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from jobs.models.money import MoneyField
from jobs.models.scope import ShopOwned
from jobs.models.shop import MoneyColumn, fraction_field, money_field

#: Unit of a consumables line that is a share of the parts cost.
SHARE_OF_PARTS: Final = "of parts"


class PhaseChoice(models.TextChoices):
    """Phases of an install, as the steps are lettered."""

    CHECK_IN = "A", _("Check-in")
    MAKE_SAFE = "B", _("Make safe")
    LAYOUT = "C", _("Layout")
    MOUNT_SEAL = "D", _("Mount and seal")
    ROOF_WIRING = "E", _("Roof wiring")
    INSIDE_RUNS = "F", _("Inside runs and gear")
    BATTERY_DC = "G", _("Battery and DC")
    AC_WIRING = "H", _("AC wiring")
    CLOSE_OUT = "I", _("Close-out and Go")
    BATTERY_ON = "J", _("Battery on")
    SOURCES_ON = "K", _("One source at a time")
    LEAK_RELEASE = "L", _("Leak test and release")
    HANDOVER = "M", _("Handover")


def signed_money_field() -> MoneyColumn:
    """Return a column for an amount of money that may go down as well as up."""
    return MoneyField(default=Decimal(0))


def agreed_money_field() -> models.DecimalField[str | float | Decimal | None, Decimal | None]:
    """Return a column for a sum the customer agreed to; empty until then."""
    return MoneyField(null=True, blank=True)


class LostReason(models.TextChoices):
    """Why an offer was not taken."""

    PRICE = "price", _("The price")
    TIMING = "timing", _("Not now")
    OTHER_SHOP = "other_shop", _("Went to another shop")
    OWN_WORK = "own_work", _("Does it themselves")
    VEHICLE = "vehicle", _("Vehicle sold or changed")
    FIT = "fit", _("Not what they wanted")
    SILENT = "silent", _("Never answered")
    OTHER = "other", _("Something else")


class LineKind(models.TextChoices):
    """What a line of a quote or change order is."""

    LABOUR = "labour", _("Labor")
    PART = "part", _("Part")
    CONSUMABLES = "consumables", _("Consumables")
    TRAVEL = "travel", _("Travel")
    CALL_OUT = "call_out", _("Call-out")
    ALLOWANCE = "allowance", _("Allowance")
    SUBCONTRACT = "subcontract", _("Subcontract")
    DISPOSAL = "disposal", _("Disposal")
    DISCOUNT = "discount", _("Discount")
    CUSTOMER_PART = "customer_part", _("Customer's own part")


class Quote(ShopOwned):
    """One offer on one design revision. A sent quote is never rewritten; a change makes a new one."""

    class State(models.TextChoices):
        DRAFT = "draft", _("Draft")
        SENT = "sent", _("Sent")
        ACCEPTED = "accepted", _("Accepted")
        DECLINED = "declined", _("Declined")
        EXPIRED = "expired", _("Expired")
        SUPERSEDED = "superseded", _("Superseded")

    shop_path = "job__shop"

    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, related_name="quotes")
    design = models.ForeignKey("jobs.Design", on_delete=models.PROTECT, related_name="quotes")
    run = models.ForeignKey(
        "jobs.SizingRun", on_delete=models.PROTECT, null=True, blank=True, related_name="quotes"
    )
    number = models.PositiveSmallIntegerField()
    offer = models.ForeignKey(
        "jobs.Offer", on_delete=models.SET_NULL, null=True, blank=True, related_name="quotes"
    )
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT)
    option_name = models.CharField(max_length=40, blank=True, default="")
    option_purpose = models.CharField(max_length=160, blank=True, default="", help_text="What it is for")
    title = models.CharField(max_length=160, blank=True, default="")
    summary = models.TextField(blank=True, default="")
    tax_fraction = fraction_field("0", "Sales tax")
    tax_on_parts = models.BooleanField(default=True)
    tax_on_labour = models.BooleanField(default=False)
    discount_lowers_tax = models.BooleanField(default=False)
    tax_also = models.JSONField(
        default=list,
        blank=True,
        help_text="Kinds of lines taxed beside parts and labor, by the rate of its day",
    )
    deposit_fraction = fraction_field("0.40", "Of the total")
    labour_cost = money_field("62", "What an hour costs the shop")
    mile_cost = money_field("0.70", "What a mile costs the shop")
    tax_exempt_text = models.CharField(
        "exemption certificate", max_length=80, blank=True, default="", help_text="Filled in: no tax"
    )
    valid_until_date = models.DateField(null=True, blank=True)
    subtotal = money_field("0")
    tax = money_field("0")
    total = money_field("0")
    deposit = money_field("0")
    direct_cost = money_field("0")
    margin_fraction = models.DecimalField(max_digits=7, decimal_places=5, null=True, blank=True)
    below_margin_ok_by_name = models.CharField(max_length=150, blank=True, default="")
    override_reason = models.TextField(
        blank=True, default="", help_text="Why the owner sent it past a block or a thin margin"
    )
    edits = models.PositiveIntegerField(
        default=0, help_text="Counts changes, so that two people cannot overwrite"
    )
    written_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    created_at = models.DateTimeField(auto_now_add=True)
    reviewed_at = models.DateTimeField(null=True, blank=True)
    reviewed_by_name = models.CharField(max_length=150, blank=True, default="")
    sent_at = models.DateTimeField(null=True, blank=True)
    first_viewed_at = models.DateTimeField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    accepted_by_name = models.CharField(max_length=150, blank=True, default="")
    signature_svg = models.TextField(blank=True, default="")
    answer_note = models.TextField(blank=True, default="", help_text="Why it was declined or set aside")
    lost_reason = models.CharField(max_length=10, choices=LostReason, blank=True, default="")
    chosen_positions = models.JSONField(
        default=list, blank=True, help_text="Places of the optional lines the customer took"
    )
    agreed_subtotal = agreed_money_field()
    agreed_tax = agreed_money_field()
    agreed_total = agreed_money_field()
    agreed_deposit = agreed_money_field()
    reminders_sent = models.PositiveSmallIntegerField(default=0)
    proposed = models.JSONField(
        null=True, blank=True, help_text="The lines as the design proposed them, to tell edits by hand"
    )
    content_sha256 = models.CharField(max_length=64, blank=True, default="")
    snapshot = models.JSONField(null=True, blank=True, help_text="What was sent, word for word")

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="quote_number_once_per_job"),
            models.UniqueConstraint(
                fields=["job"], condition=Q(state="accepted"), name="one_accepted_quote_per_job"
            ),
        ]

    def __str__(self) -> str:
        return f"Quote {self.number}"

    @property
    def is_draft(self) -> bool:
        """Return whether lines may still change."""
        return self.state == self.State.DRAFT

    @property
    def is_sent(self) -> bool:
        """Return whether the customer has it and has not answered."""
        return self.state == self.State.SENT

    @property
    def is_accepted(self) -> bool:
        """Return whether the customer said yes."""
        return self.state == self.State.ACCEPTED

    @property
    def owed_total(self) -> Decimal:
        """Return what the customer owes for it: with the extras they took once they said yes."""
        return self.total if self.agreed_total is None else self.agreed_total

    @property
    def owed_deposit(self) -> Decimal:
        """Return the deposit due, with its share of the extras the customer took."""
        return self.deposit if self.agreed_deposit is None else self.agreed_deposit

    @property
    def deposit_paid(self) -> Decimal:
        """Return what has come in for its job so far."""
        return sum(self.job.payments.values_list("amount", flat=True), Decimal(0))

    @property
    def deposit_left(self) -> Decimal:
        """Return what of the deposit has not come in yet."""
        return max(self.owed_deposit - self.deposit_paid, Decimal(0))

    def is_expired(self, *, on: date) -> bool:
        """Return whether the offer can no longer be accepted on this day."""
        return self.valid_until_date is not None and on > self.valid_until_date

    def is_open(self, *, on: date) -> bool:
        """Return whether the customer may answer on this day."""
        return self.state == self.State.SENT and not self.is_expired(on=on)


class Amounted(Protocol):
    """What tells whether a price is missing; stored lines and lines being typed both have it."""

    @property
    def kind(self) -> str:
        """Return what the line is."""

    @property
    def unit(self) -> str:
        """Return what the quantity counts."""

    @property
    def amount(self) -> Decimal:
        """Return what the line comes to."""

    @property
    def free_reason(self) -> str:
        """Return why nothing is charged, blank where a price is due."""


def is_unpriced(line: Amounted) -> bool:
    """Return whether a line comes to nothing without a reason. A customer's own part, a discount and a share
    of the parts may come to nothing.
    """
    may_be_zero = line.kind in {LineKind.CUSTOMER_PART, LineKind.DISCOUNT} or line.unit == SHARE_OF_PARTS
    return not line.amount and not line.free_reason and not may_be_zero


class Line(ShopOwned):
    """What quote lines and change-order lines share. ``amount`` is rounded once, when the line is saved."""

    kind = models.CharField(max_length=14, choices=LineKind)
    code = models.CharField(max_length=8, blank=True, default="", help_text="L01 to L27, or blank")
    text = models.CharField(max_length=200)
    quantity = models.DecimalField(max_digits=10, decimal_places=5, default=Decimal(1))
    unit = models.CharField(max_length=12, default="each")
    unit_cost = models.DecimalField(max_digits=12, decimal_places=4, default=Decimal(0))
    markup = models.DecimalField(max_digits=6, decimal_places=4, null=True, blank=True)
    is_margin = models.BooleanField(default=False, help_text="The fraction is of the price, not on the cost")
    is_banded = models.BooleanField(
        default=False, help_text="Marked up by bands of cost, not by one fraction"
    )
    unit_price = models.DecimalField(max_digits=12, decimal_places=4, default=Decimal(0))
    amount = signed_money_field()
    is_pair = models.BooleanField(default=False, help_text="Hours of two people")
    is_optional = models.BooleanField(default=False)
    free_reason = models.CharField(
        max_length=120, blank=True, default="", help_text="Why nothing is charged; blank: a price is due"
    )
    part = models.ForeignKey("jobs.Part", on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        abstract = True

    @property
    def quantity_text(self) -> str:
        """Return the quantity without idle zeros."""
        text = f"{self.quantity:f}"
        return text.rstrip("0").rstrip(".") if "." in text else text

    @property
    def is_share(self) -> bool:
        """Return whether the line is a share of the parts cost instead of a count of pieces."""
        return self.kind == LineKind.CONSUMABLES and self.unit == SHARE_OF_PARTS

    @property
    def is_unpriced(self) -> bool:
        """Return whether a price is missing: it comes to nothing, and nobody said why."""
        return is_unpriced(self)


class QuoteLine(Line):
    """One line of a quote."""

    shop_path = "quote__job__shop"

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="lines")

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.text


class ScopeItem(ShopOwned):
    """One thing that is in, out, or covered by an allowance."""

    class Answer(models.TextChoices):
        IN = "in", _("Included")
        OUT = "out", _("Not included")
        ALLOWANCE = "allowance", _("Allowance")

    shop_path = "quote__job__shop"

    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, related_name="scope_items")
    text = models.CharField(max_length=120)
    answer = models.CharField(max_length=10, choices=Answer, default=Answer.OUT)
    note = models.CharField(max_length=200, blank=True, default="")
    position = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.text

    @property
    def is_out(self) -> bool:
        """Return whether it is not in the price."""
        return self.answer == self.Answer.OUT


class GuestLink(ShopOwned):
    """A link to one document for one person. Only the hash of its token is stored."""

    shop_path = "job__shop"

    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, related_name="guest_links")
    quote = models.ForeignKey(Quote, on_delete=models.CASCADE, null=True, blank=True, related_name="links")
    change_order = models.ForeignKey(
        "jobs.ChangeOrder", on_delete=models.CASCADE, null=True, blank=True, related_name="links"
    )
    token_sha256 = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"Link made {self.created_at:%b %d, %Y}"


class ChangeOrder(ShopOwned):
    """A change after acceptance: cause, price, and the answer. Work on the zone waits until it is signed."""

    class State(models.TextChoices):
        PENDING = "pending", _("Waiting for the customer")
        VERBAL = "verbal", _("Verbal, pending signature")
        ACCEPTED = "accepted", _("Accepted")
        DECLINED = "declined", _("Declined")
        WITHDRAWN = "withdrawn", _("Withdrawn")

    shop_path = "job__shop"

    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, related_name="change_orders")
    number = models.PositiveSmallIntegerField()
    state = models.CharField(max_length=10, choices=State, default=State.PENDING)
    found_by_name = models.CharField(max_length=150)
    found_at = models.DateTimeField()
    cause = models.TextField()
    locked_phases = models.JSONField(
        default=list, blank=True, help_text="Phase letters that wait for the answer"
    )
    credits_allowance = money_field("0", "Allowance of the quote given back")
    schedule_days = models.SmallIntegerField(default=0)
    is_safety_critical = models.BooleanField(default=False)
    minimum_fee = money_field("45", "A priced change comes to no less before tax")
    subtotal = signed_money_field()
    tax = signed_money_field()
    total = signed_money_field()
    sent_at = models.DateTimeField(null=True, blank=True)
    valid_until_at = models.DateTimeField(null=True, blank=True, help_text="48 hours after sending")
    content_sha256 = models.CharField(max_length=64, blank=True, default="")
    snapshot = models.JSONField(null=True, blank=True, help_text="What was sent, word for word")
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by_name = models.CharField(max_length=150, blank=True, default="")
    answered_through = models.CharField(max_length=40, blank=True, default="")
    signature_svg = models.TextField(blank=True, default="")
    answer_note = models.TextField(blank=True, default="", help_text="The customer's reason, in own words")
    owner_decision = models.TextField(
        blank=True, default="", help_text="After a refusal: stop, or go on as refused"
    )
    owner_decided_by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["job", "number"], name="change_order_number_once")]

    def __str__(self) -> str:
        return f"Change order {self.number}"

    @property
    def is_open(self) -> bool:
        """Return whether the customer has still to answer; a word on the phone is not an answer."""
        return self.state in {self.State.PENDING, self.State.VERBAL}

    @property
    def is_verbal(self) -> bool:
        """Return whether there is a yes by word of mouth only."""
        return self.state == self.State.VERBAL

    @property
    def is_accepted(self) -> bool:
        """Return whether the customer signed."""
        return self.state == self.State.ACCEPTED

    @property
    def needs_owner(self) -> bool:
        """Return whether a refused safety matter waits for the owner: stop, or go on with it on paper."""
        return self.state == self.State.DECLINED and self.is_safety_critical and not self.owner_decision

    @property
    def is_waiting(self) -> bool:
        """Return whether its phases stay locked."""
        return self.is_open or self.needs_owner

    def is_expired(self, *, at: datetime) -> bool:
        """Return whether the price can no longer be accepted at this moment."""
        return self.valid_until_at is not None and at > self.valid_until_at


class ChangeOrderLine(Line):
    """One line of a change order."""

    shop_path = "change_order__job__shop"

    change_order = models.ForeignKey(ChangeOrder, on_delete=models.CASCADE, related_name="lines")

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return self.text
