"""One job: its states, and which move may follow which."""

from __future__ import annotations

from django.conf import settings
from django.db import models

from jobs.models.scope import ShopOwned


class Job(ShopOwned):
    """One visit of one vehicle, from inquiry to care. States move through ``services.job.job_move`` only."""

    class State(models.TextChoices):
        ENQUIRY = "enquiry", "Inquiry"
        SURVEY_BOOKED = "survey_booked", "Survey booked"
        SURVEYED = "surveyed", "Surveyed"
        DESIGNING = "designing", "Designing"
        QUOTED = "quoted", "Quoted"
        ACCEPTED = "accepted", "Accepted"
        DEPOSIT_PAID = "deposit_paid", "Deposit paid"
        PARTS_ORDERED = "parts_ordered", "Parts ordered"
        READY = "ready", "Ready"
        IN_WORK = "in_work", "In the bay or on site"
        PAUSED = "paused", "Paused"
        COMMISSIONING = "commissioning", "Commissioning"
        CURE_WAIT = "cure_wait", "Sealant curing"
        RELEASED = "released", "Released"
        INVOICED = "invoiced", "Invoiced"
        PAID = "paid", "Paid"
        IN_CARE = "in_care", "In care"
        DECLINED = "declined", "Declined"
        EXPIRED = "expired", "Expired"
        CANCELLED = "cancelled", "Canceled"
        REFUSED = "refused", "Refused by shop"

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
