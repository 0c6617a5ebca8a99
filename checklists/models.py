"""Knows the install record: steps, append-only events, photos, overrides, deviations, sign-off, job sheet."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from django.conf import settings
from django.db import models

from jobs.models import ShopOwned

#: A record done and received within this is told with one time. A choice of ours.
_ONE_TIME = timedelta(minutes=10)


def is_apart(done_at: datetime | None, received_at: datetime | None) -> bool:
    """Return whether two moments are far enough apart to tell both."""
    return None not in (done_at, received_at) and abs(received_at - done_at) > _ONE_TIME  # type: ignore[operator]


class RecordKind(models.TextChoices):
    """What a step records."""

    TICK = "tick", "Tick"
    NUMBER = "number", "Number"
    PHOTO = "photo", "Photo"
    SERIAL = "serial", "Serial"
    TEXT = "text", "Text"
    CHOICE = "choice", "Choice"


class Checklist(ShopOwned):
    """The install record of one job, made from the step templates when the quote is accepted."""

    shop_path = "job__shop"

    job = models.OneToOneField("jobs.Job", on_delete=models.CASCADE, related_name="checklist")
    design = models.ForeignKey("jobs.Design", on_delete=models.PROTECT, related_name="+")
    run = models.ForeignKey(
        "jobs.SizingRun", on_delete=models.PROTECT, related_name="+", help_text="The sums as accepted"
    )
    template_version = models.CharField(max_length=20)
    scope = models.JSONField(default=list, help_text="Scope switches the steps were chosen by")
    facts = models.JSONField(default=dict, help_text="Planned values the steps are set against, as frozen")
    as_built = models.JSONField(default=dict, help_text="Values as built that the newest sums rest on")
    as_built_problem = models.TextField(blank=True, default="", help_text="Why they cannot be worked out")
    plan_svg = models.TextField(blank=True, default="", help_text="Roof plan as built, drawn once a change")
    plan_units = models.CharField(max_length=10, blank=True, default="")
    opened_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Checklist of {self.job}"


class PlanChange(ShopOwned):
    """A later design revision took the place of the plan; what was asked before is kept word for word."""

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="plan_changes")
    from_design = models.ForeignKey("jobs.Design", on_delete=models.PROTECT, related_name="+")
    to_design = models.ForeignKey("jobs.Design", on_delete=models.PROTECT, related_name="+")
    facts_before = models.JSONField(default=dict)
    steps_before = models.JSONField(default=list, help_text="The steps it touched, as they were asked before")
    reason = models.TextField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=150)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["checklist", "to_design"], name="plan_change_once_per_revision")
        ]

    def __str__(self) -> str:
        return f"{self.from_design} to {self.to_design}"


class SumsTable(ShopOwned):
    """The engine's answers to values as built, worked out beforehand for a tablet without a network."""

    shop_path = "checklist__job__shop"

    checklist = models.OneToOneField(Checklist, on_delete=models.CASCADE, related_name="sums_table")
    made_for = models.CharField(max_length=64, help_text="SHA-256 of the question it answers")
    body = models.JSONField(default=dict)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Sums of {self.checklist}"


class Step(ShopOwned):
    """One step of one job; readings of one kind (per string, per joint) are steps with a ``subject``."""

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="steps")
    phase = models.CharField(max_length=1)
    code = models.CharField(max_length=6, help_text="A1 to M7")
    subject = models.CharField(
        max_length=40, blank=True, default="", help_text="string:1, circuit:C2, foot:3 …"
    )
    position = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=160)
    instruction = models.TextField(blank=True, default="")
    fields = models.JSONField(
        default=list,
        help_text="What is recorded: list of name, kind, unit, low, high, choices, required, count",
    )
    card = models.JSONField(default=list, help_text="Reading card: what a wrong value usually means")
    is_hold = models.BooleanField(default=False)
    needs_lead = models.BooleanField(default=False, help_text="Counts only from a lead or the owner")
    is_in_scope = models.BooleanField(default=True)
    can_be_overridden = models.BooleanField(default=True)
    re_runs = models.JSONField(default=list, help_text="Names of as-built values this step changes")
    since_design = models.PositiveSmallIntegerField(
        default=0, help_text="Values recorded against an earlier revision do not count here any more"
    )

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["checklist", "code", "subject"], name="step_once_per_checklist")
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class Photo(ShopOwned):
    """A picture taken at a step, re-encoded by us; served through a permission-checked view only."""

    shop_path = "checklist__job__shop"

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="photos")
    file = models.FileField(upload_to="photos/%Y/%m/")
    small = models.FileField(upload_to="photos/%Y/%m/")
    sent_sha256 = models.CharField(max_length=64, help_text="Of the bytes that came in, as we measured them")
    original_sha256 = models.CharField(max_length=64, help_text="Of the camera's file, as the device told")
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()
    taken_by_name = models.CharField(max_length=150, blank=True, default="")
    claimed_at = models.DateTimeField(null=True, blank=True, help_text="The camera's clock")
    latitude_deg = models.FloatField(null=True, blank=True, help_text="Only where the shop asks for it")
    longitude_deg = models.FloatField(null=True, blank=True)
    received_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["checklist", "sent_sha256"], name="photo_once_per_checklist")
        ]

    def __str__(self) -> str:
        return str(self.id)


class Device(ShopOwned):
    """A tablet that speaks to us. ``key`` is made on it, once; a person of another shop makes another row."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4)
    shop = models.ForeignKey("jobs.Shop", on_delete=models.CASCADE, related_name="devices")
    key = models.UUIDField(help_text="Made on the device")
    name = models.CharField(max_length=64, blank=True, default="")
    app_version = models.CharField(max_length=40, blank=True, default="")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    person_name = models.CharField(max_length=150)
    offset_ms = models.BigIntegerField(
        null=True, blank=True, help_text="Our clock less its clock, as measured"
    )
    first_seen_at = models.DateTimeField()
    last_seen_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    revoked_by_name = models.CharField(max_length=150, blank=True, default="")

    class Meta:
        ordering = ["-last_seen_at"]
        constraints = [models.UniqueConstraint(fields=["shop", "key"], name="device_once_per_shop")]

    def __str__(self) -> str:
        return self.name or f"Tablet {str(self.key)[:4]}"

    @property
    def is_revoked(self) -> bool:
        """Return whether what it sends is held for the owner to look at."""
        return self.revoked_at is not None

    @property
    def clock_words(self) -> str:
        """Return how far its clock is off, to be read."""
        if self.offset_ms is None:
            return "not measured"
        minutes = round(abs(self.offset_ms) / 60_000)
        if minutes == 0:
            return "right"
        side = "slow" if self.offset_ms > 0 else "fast"
        return f"{minutes} min {side}" if minutes < 120 else f"{minutes / 60:.1f} h {side}"


class HeldBatch(ShopOwned):
    """What a revoked device sent, whole. The owner takes it in or sets it aside; it is never deleted."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waits for the owner"
        TAKEN = "taken", "Taken in"
        ASIDE = "aside", "Set aside"

    shop_path = "device__shop"

    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="held")
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="held")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    person_name = models.CharField(max_length=150)
    person_role = models.CharField(max_length=20)
    body = models.TextField(help_text="The batch as it was sent, in JSON")
    event_ids = models.JSONField(default=list)
    received_at = models.DateTimeField()
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    decided_by_name = models.CharField(max_length=150, blank=True, default="")
    decided_at = models.DateTimeField(null=True, blank=True)
    reason = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["received_at", "pk"]

    def __str__(self) -> str:
        return f"{len(self.event_ids)} events of {self.device}"

    @property
    def is_waiting(self) -> bool:
        """Return whether the owner has not decided yet."""
        return self.state == self.State.WAITING


class StepEvent(ShopOwned):
    """One thing recorded at a step. Never changed, never deleted: an undo is another event.

    ``id`` is made on the device, so that the same event arriving twice is one event. ``replaces`` names the
    values the person saw when recording this one: a value nobody saw stays beside it. ``undoes`` is a plain
    id, not a foreign key, because an undo may arrive before what it undoes.
    """

    class Verb(models.TextChoices):
        RECORD = "record", "Recorded"
        UNDO = "undo", "Undone"
        NOTE = "note", "Note"

    shop_path = "step__checklist__job__shop"

    id = models.UUIDField(primary_key=True)
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="events")
    serial = models.PositiveIntegerField(
        help_text="Counts the events of a checklist; given out under its lock, so in the order of commits"
    )
    step = models.ForeignKey(Step, on_delete=models.CASCADE, related_name="events")
    verb = models.CharField(max_length=8, choices=Verb, default=Verb.RECORD)
    field = models.CharField(max_length=40, blank=True, default="")
    value = models.JSONField(null=True, blank=True)
    unit = models.CharField(max_length=12, blank=True, default="")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="events")
    undoes = models.UUIDField(null=True, blank=True)
    replaces = models.JSONField(default=list, blank=True, help_text="Ids of the values this one replaces")
    cause = models.TextField(blank=True, default="", help_text="Why a failed number is recorded again")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    by_name = models.CharField(max_length=150)
    by_role = models.CharField(max_length=20, blank=True, default="")
    device = models.CharField(max_length=64, blank=True, default="", help_text="Its name as sent")
    sent_from = models.ForeignKey(
        Device, on_delete=models.PROTECT, null=True, blank=True, related_name="events"
    )
    claimed_at = models.DateTimeField(help_text="The device's clock")
    offset_ms = models.BigIntegerField(null=True, blank=True, help_text="Our clock less the device's")
    received_at = models.DateTimeField(help_text="Our clock; decides order")
    design_number = models.PositiveSmallIntegerField()
    was_locked = models.BooleanField(default=False, help_text="Arrived while its phase was locked")

    class Meta:
        ordering = ["received_at", "pk"]
        indexes = [models.Index(fields=["step", "received_at"])]
        constraints = [
            models.UniqueConstraint(fields=["checklist", "serial"], name="event_serial_once_per_checklist")
        ]

    def __str__(self) -> str:
        return f"{self.step.code} {self.field} {self.value}"

    @property
    def done_at(self) -> datetime:
        """Return when it was done: the device's clock put right by its measured offset. To read only."""
        return self.claimed_at + timedelta(milliseconds=self.offset_ms or 0)

    @property
    def came_late(self) -> bool:
        """Return whether it was done at another time than it reached us: recorded without a network."""
        return is_apart(self.done_at, self.received_at)


class Upload(ShopOwned):
    """A picture on its way here, in pieces. ``offset`` never says more than what is safe on the disk.

    ``id`` is made on the device. The bytes wait in a file of their own until all have come; then they become
    a ``photo``, or are ``refused``, and the file goes.
    """

    shop_path = "checklist__job__shop"

    id = models.UUIDField(primary_key=True)
    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="uploads")
    sent_sha256 = models.CharField(max_length=64, help_text="Of the bytes to come, as the device told")
    original_sha256 = models.CharField(max_length=64)
    size = models.PositiveIntegerField(help_text="Bytes to come")
    offset = models.PositiveIntegerField(default=0, help_text="Bytes that are safe here")
    device = models.CharField(max_length=64, blank=True, default="")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    photo = models.ForeignKey(Photo, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    refused = models.TextField(blank=True, default="")
    tries = models.PositiveSmallIntegerField(default=0, help_text="How often the whole was looked at in vain")
    begun_at = models.DateTimeField()
    touched_at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["touched_at"])]

    def __str__(self) -> str:
        return f"{self.id}, {self.offset} of {self.size} bytes"

    @property
    def is_whole(self) -> bool:
        """Return whether every byte is here."""
        return self.offset == self.size

    @property
    def is_over(self) -> bool:
        """Return whether nothing more is to come: it became a photo or was refused."""
        return self.photo_id is not None or bool(self.refused)


class HoldOverride(ShopOwned):
    """The owner let a hold pass, with a reason; printed on the sheet.

    ``covers`` lists what was open, word for word: what opens later is not covered and shuts the hold again.
    """

    shop_path = "step__checklist__job__shop"

    step = models.ForeignKey(Step, on_delete=models.PROTECT, related_name="overrides")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    by_name = models.CharField(max_length=150)
    reason = models.TextField()
    covers = models.JSONField(default=list)
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"{self.step.code} overridden by {self.by_name}"


class Deviation(ShopOwned):
    """An as-built value made a check worse or moved it more than 5 %."""

    class State(models.TextChoices):
        OPEN = "open", "Open"
        ACCEPTED = "accepted", "Accepted by owner"
        RESOLVED = "resolved", "Resolved by a later value"

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="deviations")
    step = models.ForeignKey(Step, on_delete=models.PROTECT, null=True, related_name="deviations")
    check_key = models.CharField(max_length=80)
    title = models.CharField(max_length=200)
    planned_value = models.FloatField(null=True)
    as_built_value = models.FloatField(null=True)
    limit = models.FloatField(null=True)
    unit = models.CharField(max_length=12, blank=True, default="")
    planned_verdict = models.CharField(max_length=20)
    as_built_verdict = models.CharField(max_length=20)
    sentence = models.TextField()
    options = models.JSONField(default=list, help_text="Ways out, each with value and verdict")
    can_be_accepted = models.BooleanField(default=True, help_text="False: no one may let it stand")
    state = models.CharField(max_length=10, choices=State, default=State.OPEN)
    raised_at = models.DateTimeField()
    decided_by_name = models.CharField(max_length=150, blank=True, default="")
    decided_at = models.DateTimeField(null=True, blank=True)
    decision = models.TextField(blank=True, default="")

    class Meta:
        ordering = ["-raised_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    @property
    def blocks(self) -> bool:
        """Return whether the go and the commissioning holds stay shut because of it."""
        return self.state == self.State.OPEN and self.as_built_verdict == "block"


class SignOff(ShopOwned):
    """One signature under the work: who, in which part, bound to what was shown."""

    class Part(models.TextChoices):
        TECHNICIAN = "technician", "Technician: work done"
        OWNER = "owner", "Owner: overrides and quality"
        LICENSED = "licensed", "Licensed person: AC work"
        CUSTOMER = "customer", "Customer: received and taught"

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="sign_offs")
    part = models.CharField(max_length=12, choices=Part)
    printed_name = models.CharField(max_length=150)
    signature_svg = models.TextField()
    content_sha256 = models.CharField(max_length=64)
    key = models.UUIDField(null=True, blank=True, unique=True, help_text="Made on the tablet")
    shown = models.TextField(blank=True, default="", help_text="What the tablet showed, word for word")
    shown_sha256 = models.CharField(max_length=64, blank=True, default="")
    problem = models.TextField(blank=True, default="", help_text="Why it does not stand under the sheet")
    claimed_at = models.DateTimeField(null=True, blank=True, help_text="The tablet's clock")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at"]
        constraints = [
            # A signature holds for what was shown; when the record changes, the new content is signed anew.
            models.UniqueConstraint(
                fields=["checklist", "part", "content_sha256"],
                condition=models.Q(problem=""),
                name="one_signature_per_part_and_content",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_part_display()}: {self.printed_name}"


class JobSheet(ShopOwned):
    """One issued job sheet: data as printed, file, hash. Never rewritten; a correction is a new one.

    What it says is frozen when it is issued; its file follows, printed in the background.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "Waits to be printed"
        PRINTING = "printing", "Being printed"
        READY = "ready", "Printed"
        FAILED = "failed", "Not printed"

    shop_path = "checklist__job__shop"

    checklist = models.ForeignKey(Checklist, on_delete=models.CASCADE, related_name="sheets")
    number = models.PositiveSmallIntegerField()
    snapshot = models.JSONField()
    content_sha256 = models.CharField(max_length=64)
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    attempts = models.PositiveSmallIntegerField(default=0)
    error = models.TextField(blank=True, default="", help_text="Why it could not be printed")
    touched_at = models.DateTimeField(help_text="When its printing was last seen alive")
    file = models.FileField(upload_to="sheets/%Y/%m/", blank=True, default="")
    file_sha256 = models.CharField(max_length=64, blank=True, default="")
    is_released = models.BooleanField(default=False)
    reason = models.TextField(blank=True, default="")
    issued_at = models.DateTimeField()
    issued_by_name = models.CharField(max_length=150)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["checklist", "number"], name="sheet_number_once")]

    def __str__(self) -> str:
        return f"Job sheet {self.number}"

    @property
    def is_ready(self) -> bool:
        """Return whether its paper is here."""
        return self.state == self.State.READY

    @property
    def is_on_its_way(self) -> bool:
        """Return whether its paper is still to come."""
        return self.state in {self.State.WAITING, self.State.PRINTING}
