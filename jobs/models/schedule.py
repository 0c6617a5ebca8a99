"""The schedule: places to work, what is booked where, and the days that are held."""

from __future__ import annotations

from datetime import time
from decimal import Decimal

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from jobs.models.scope import ShopOwned


class Bay(ShopOwned):
    """A place where one vehicle is worked on at a time: a bay of the shop, or a crew that drives out."""

    class Kind(models.TextChoices):
        BAY = "bay", _("Bay in the shop")
        MOBILE = "mobile", _("Mobile: at the customer's")

    shop = models.ForeignKey("jobs.Shop", on_delete=models.PROTECT, related_name="bays")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.BAY)
    works_saturday = models.BooleanField("works on Saturdays", default=False)
    works_sunday = models.BooleanField("works on Sundays", default=False)
    is_active = models.BooleanField("in use", default=True)

    class Meta:
        ordering = ["kind", "name", "pk"]
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="bay_name_once_per_shop")]

    def __str__(self) -> str:
        return self.name

    @property
    def is_mobile(self) -> bool:
        """Return whether the work is done where the vehicle stands."""
        return self.kind == self.Kind.MOBILE


class Booking(ShopOwned):
    """Days of one job in one bay. What is held stands in ``HeldDay``; a booking taken off holds none."""

    class State(models.TextChoices):
        PENCILLED = "pencilled", _("Penciled in")
        BOOKED = "booked", _("Booked")
        OFF = "off", _("Taken off")

    class Place(models.TextChoices):
        SHOP = "shop", _("In the shop")
        DRIVEWAY = "driveway", _("On a driveway")
        CAMPSITE = "campsite", _("On a campsite")

    shop_path = "job__shop"

    job = models.ForeignKey("jobs.Job", on_delete=models.CASCADE, related_name="bookings")
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="bookings")
    state = models.CharField(max_length=10, choices=State, default=State.PENCILLED)
    place = models.CharField(max_length=10, choices=Place, default=Place.SHOP)
    starts_on = models.DateField()
    ends_on = models.DateField()
    arrive_at = models.TimeField(default=time(8, 0), help_text="When the vehicle comes, or the crew")
    travel_min = models.PositiveSmallIntegerField(default=0, help_text="There and back, a day")
    days = models.PositiveSmallIntegerField()
    plan_h = models.DecimalField(
        max_digits=7, decimal_places=2, default=Decimal(0), help_text="Of one person, when it was booked"
    )
    speed = models.DecimalField(
        max_digits=5, decimal_places=3, null=True, blank=True, help_text="Hours worked per hour planned"
    )
    cure_h = models.PositiveSmallIntegerField(default=0, help_text="From sealing until it may drive; 0: none")
    sealed_on = models.DateField(null=True, blank=True, help_text="The last day on the roof")
    release_on = models.DateField(help_text="The first day it may drive away")
    note = models.CharField(max_length=200, blank=True, default="")
    edits = models.PositiveIntegerField(default=0, help_text="Counts changes, so that two cannot overwrite")
    told_at = models.DateTimeField(
        null=True, blank=True, help_text="When the customer was last sent the days"
    )
    told_edits = models.PositiveIntegerField(null=True, blank=True, help_text="Which state they were sent")
    reminded_for = models.DateField(null=True, blank=True, help_text="The first day they were reminded of")
    created_at = models.DateTimeField()
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__gte=models.F("starts_on")), name="booking_days_run_on"
            ),
        ]
        indexes = [models.Index(fields=["job", "state", "starts_on"])]

    def __str__(self) -> str:
        return f"{self.bay}, {self.starts_on:%b} {self.starts_on.day}"

    @property
    def is_off(self) -> bool:
        """Return whether it holds nothing any more."""
        return self.state == self.State.OFF

    @property
    def is_told(self) -> bool:
        """Return whether the customer was sent the days as they stand."""
        return self.told_at is not None and self.told_edits == self.edits

    @property
    def is_booked(self) -> bool:
        """Return whether it is firm."""
        return self.state == self.State.BOOKED


class HeldDay(ShopOwned):
    """A day of a bay, or of a person, that a booking holds. The database refuses to hold it twice."""

    shop_path = "booking__job__shop"

    booking = models.ForeignKey(Booking, on_delete=models.CASCADE, related_name="held")
    day = models.DateField()
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, null=True, blank=True, related_name="held")
    member = models.ForeignKey(
        "jobs.Membership", on_delete=models.PROTECT, null=True, blank=True, related_name="held_days"
    )

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["bay", "day"], condition=Q(bay__isnull=False), name="bay_held_once_a_day"
            ),
            models.UniqueConstraint(
                fields=["member", "day"], condition=Q(member__isnull=False), name="person_held_once_a_day"
            ),
            models.CheckConstraint(
                condition=Q(bay__isnull=False, member__isnull=True)
                | Q(bay__isnull=True, member__isnull=False),
                name="held_day_is_of_one",
            ),
        ]
        indexes = [models.Index(fields=["day"])]

    def __str__(self) -> str:
        return f"{self.bay or self.member} on {self.day:%b} {self.day.day}"


class CalendarLink(ShopOwned):
    """The secret address of one person's calendar feed. Only the hash of its token is stored."""

    shop_path = "member__shop"

    member = models.ForeignKey("jobs.Membership", on_delete=models.CASCADE, related_name="calendar_links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at", "-pk"]

    def __str__(self) -> str:
        return f"Calendar link made {self.created_at:%b} {self.created_at.day}, {self.created_at.year}"
