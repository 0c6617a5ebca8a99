"""One job: its states, and which move may follow which."""

from __future__ import annotations

from datetime import date

from django.conf import settings
from django.db import models
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class Job(ShopOwned):
    """One visit of one vehicle, from inquiry to care. States move through ``services.job.job_move`` only."""

    class State(models.TextChoices):
        ENQUIRY = "enquiry", _("Inquiry")
        SURVEY_BOOKED = "survey_booked", _("Survey booked")
        SURVEYED = "surveyed", _("Surveyed")
        DESIGNING = "designing", _("Designing")
        QUOTED = "quoted", _("Quoted")
        ACCEPTED = "accepted", _("Accepted")
        DEPOSIT_PAID = "deposit_paid", _("Deposit paid")
        PARTS_ORDERED = "parts_ordered", _("Parts ordered")
        READY = "ready", _("Ready")
        IN_WORK = "in_work", _("In the bay or on site")
        PAUSED = "paused", _("Paused")
        COMMISSIONING = "commissioning", _("Commissioning")
        CURE_WAIT = "cure_wait", _("Sealant curing")
        RELEASED = "released", _("Released")
        INVOICED = "invoiced", _("Invoiced")
        PAID = "paid", _("Paid")
        IN_CARE = "in_care", _("In care")
        DECLINED = "declined", _("Declined")
        EXPIRED = "expired", _("Expired")
        CANCELLED = "cancelled", _("Canceled")
        REFUSED = "refused", _("Refused by shop")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="jobs")
    vehicle = models.ForeignKey("jobs.Vehicle", on_delete=models.PROTECT, related_name="jobs")
    number = models.CharField(max_length=20, help_text="Given by the shop's own count")
    title = models.CharField(max_length=160)
    asked_for = models.TextField(blank=True, default="", help_text="The customer's aim in own words")
    state = models.CharField(max_length=20, choices=State, default=State.ENQUIRY)
    work_place = models.CharField(max_length=160, blank=True, default="")
    promised_date = models.DateField(null=True, blank=True)
    assigned_to = models.ManyToManyField(settings.AUTH_USER_MODEL, blank=True, related_name="assigned_jobs")
    created_at = models.DateTimeField(auto_now_add=True)
    moved_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [models.UniqueConstraint(fields=["shop", "number"], name="job_number_once_per_shop")]
        indexes = [models.Index(fields=["shop", "state"])]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"

    @property
    def is_open(self) -> bool:
        """Return whether the job still moves."""
        return self.state not in {
            self.State.DECLINED,
            self.State.EXPIRED,
            self.State.CANCELLED,
            self.State.REFUSED,
            self.State.IN_CARE,
        }

    @property
    def is_in_install(self) -> bool:
        """Return whether steps may be recorded."""
        return self.state in {
            self.State.ACCEPTED,
            self.State.DEPOSIT_PAID,
            self.State.PARTS_ORDERED,
            self.State.READY,
            self.State.IN_WORK,
            self.State.PAUSED,
            self.State.COMMISSIONING,
            self.State.CURE_WAIT,
        }

    def release_day(self) -> date | None:
        """Return the first day the vehicle may drive away, by what is booked; None where nothing is."""
        held = self.bookings.exclude(state="off")
        found: date | None = held.aggregate(last=models.Max("release_on"))["last"]
        return found


class JobMove(ShopOwned):
    """One move of a job's state: who, when, why."""

    shop_path = "job__shop"

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="moves")
    from_state = models.CharField(max_length=20, choices=Job.State)
    to_state = models.CharField(max_length=20, choices=Job.State)
    by_name = models.CharField(max_length=150)
    at = models.DateTimeField()
    reason = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.from_state} → {self.to_state}"
