"""Past designs of the shop that another vehicle may be begun from."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.models import User
from django.db.models import Case, Count, Exists, IntegerField, OuterRef, Q, QuerySet, Subquery, Value, When

from jobs.models import Design, Job, Quote, SizingRun


def past_designs(user: User, job: Job, *, query: str = "", kind: str = "") -> QuerySet[Design]:
    """Return the newest revision of each plan of other jobs that has parts, the same kind of vehicle first.

    Each has ``is_sold`` and ``latest_verdict``.
    """
    same = Design.objects.filter(job=OuterRef("job"), option=OuterRef("option")).order_by("-number")
    runs = SizingRun.objects.filter(design=OuterRef("pk"), purpose=SizingRun.Purpose.PLANNED)
    sold = Quote.objects.filter(design=OuterRef("pk"), state=Quote.State.ACCEPTED)
    past = Design.objects.visible_to(user).exclude(job=job).filter(pk=Subquery(same.values("pk")[:1]))
    found: QuerySet[Any] = past.annotate(panel_count=Count("panels"))  # Any: columns a query makes up
    found = found.filter(Q(panel_count__gt=0) | Q(bank__isnull=False))
    if kind:
        found = found.filter(job__vehicle__kind=kind)
    if query:
        found = found.filter(
            Q(job__number__icontains=query)
            | Q(job__title__icontains=query)
            | Q(job__vehicle__customer__name__icontains=query)
            | Q(job__vehicle__make_text__icontains=query)
        )
    likeness = Case(
        When(job__vehicle__kind=job.vehicle.kind, then=Value(0)),
        default=Value(1),
        output_field=IntegerField(),
    )
    rows: QuerySet[Design] = (
        found.annotate(
            likeness=likeness, is_sold=Exists(sold), latest_verdict=Subquery(runs.values("verdict")[:1])
        )
        .select_related("job__vehicle__customer", "bank__part")
        .order_by("likeness", "-job__created_at", "-pk")
    )
    return rows
