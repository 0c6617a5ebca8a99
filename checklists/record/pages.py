"""Finds the rows for the pages of an install, among those the signed-in person may see."""

from __future__ import annotations

from uuid import UUID

from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.http import Http404
from django.shortcuts import get_object_or_404

from checklists.models import Checklist, Deviation, Step, Upload
from jobs.models import Job

#: Of checklist and job a piece needs the shop only, and one photo is many requests.
_UPLOAD = tuple(field.name for field in Upload._meta.concrete_fields)
_JOB = ("job__shop", "job__vehicle__customer", "design", "run")


def job_for_page(user: User, job_pk: int) -> Job:
    """Return a job this person's shop may see, or 404."""
    jobs: QuerySet[Job] = Job.objects.visible_to(user).select_related("shop", "vehicle__customer")
    return get_object_or_404(jobs, pk=job_pk)


def checklist_for_page(user: User, job_pk: int) -> Checklist | None:
    """Return the install record of a job, or None while it is not opened; 404 for another shop's job."""
    found = Checklist.objects.visible_to(user).select_related(*_JOB).filter(job=job_pk).first()
    if found is None:
        job_for_page(user, job_pk)
    return found


def checklist_or_404(user: User, job_pk: int) -> Checklist:
    """Return the install record of a job; 404 when there is none."""
    found = checklist_for_page(user, job_pk)
    if found is None:
        raise Http404("the install record is not opened yet")
    return found


def to_take_along(user: User) -> QuerySet[Checklist]:
    """Return the install records a person may have on a tablet: a technician those of jobs they are on."""
    rows: QuerySet[Checklist] = Checklist.objects.visible_to(user)
    if not rows.query.is_empty() and not user.membership.takes_all_jobs:
        return rows.filter(job__assigned_to=user)
    return rows


def checklist_to_take(user: User, job_pk: int) -> Checklist:
    """Return the install record of a job this person may take along, or 404."""
    return get_object_or_404(to_take_along(user).select_related(*_JOB), job=job_pk)


def checklist_for_upload(user: User, job_pk: int) -> Checklist:
    """Return the install record of a job without what only pages read; 404 when there is none."""
    rows = Checklist.objects.visible_to(user).select_related("job").only("job__shop")
    found = get_object_or_404(rows, job=job_pk)
    found.job.shop = user.membership.shop  # the same, as it is visible, and read with the person
    return found


def upload_or_404(user: User, pk: UUID) -> Upload:
    """Return a picture on its way here, or 404."""
    rows = Upload.objects.visible_to(user).select_related("checklist__job")
    found = get_object_or_404(rows.only(*_UPLOAD, "checklist__job__shop"), pk=pk)
    found.checklist.job.shop = user.membership.shop
    return found


def step_for_page(user: User, pk: int) -> Step:
    """Return a step with its checklist and job, or 404."""
    steps = Step.objects.visible_to(user).select_related(*(f"checklist__{path}" for path in _JOB))
    return get_object_or_404(steps, pk=pk)


def deviation_for_page(user: User, pk: int) -> Deviation:
    """Return a deviation with its checklist, job and step, or 404."""
    rows = Deviation.objects.visible_to(user).select_related("step", *(f"checklist__{path}" for path in _JOB))
    return get_object_or_404(rows, pk=pk)
