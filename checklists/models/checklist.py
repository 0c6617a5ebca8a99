"""The install record of one job, and the tables of answers its tablets take along."""

from __future__ import annotations

from django.db import models

from jobs.models import ShopOwned


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


class SumsTable(ShopOwned):
    """The engine's answers to values as built, worked out beforehand for a tablet without a network."""

    shop_path = "checklist__job__shop"

    checklist = models.OneToOneField(Checklist, on_delete=models.CASCADE, related_name="sums_table")
    made_for = models.CharField(max_length=64, help_text="SHA-256 of the question it answers")
    body = models.JSONField(default=dict)
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"Sums of {self.checklist}"
