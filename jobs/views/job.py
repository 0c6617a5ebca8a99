"""The pages of a job as a whole: board, search, opening, hub, moves, papers and log."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.board import jobs as jobs_read
from jobs.board.next_step import next_step
from jobs.customers import intake
from jobs.customers.job import job_change, job_move_by_hand, job_note, moves_by_hand
from jobs.engine.stored import designs_of_job
from jobs.forms.customer import CustomerForm
from jobs.forms.job import JobEditForm, JobForm, MoveForm, NoteForm
from jobs.forms.vehicle import IntakeVehicleForm
from jobs.models import Customer, Job, Vehicle
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required

PAGE_SIZE = 50


@member_required
def job_board(request: ShopRequest) -> HttpResponse:
    """Show the shop's jobs by the stretch of road they are on; ``?lane=`` shows one stretch in full."""
    key = request.GET.get("lane")
    if key is None:
        lanes, closed = jobs_read.board_lanes(request.shop)
        pairs = [lanes[:2], lanes[2:4], lanes[4:]]
        is_new = not any(lane.count for lane in [*lanes, *closed])
        context: dict[str, Any] = {"lanes": lanes, "pairs": pairs, "closed": closed, "is_new": is_new}
        return render(request, "jobs/job_board.html", context)
    lane = jobs_read.lane_of(key)
    if lane is None:
        raise Http404("No such lane")
    jobs = Paginator(jobs_read.jobs_of_lane(request.shop, lane), PAGE_SIZE)
    page = jobs.get_page(request.GET.get("page"))
    return render(request, "jobs/job_lane.html", {"lane": lane, "page": page})


@member_required
def job_search(request: ShopRequest) -> HttpResponse:
    """Find jobs, vehicles and customers in one box; answers htmx with the results alone."""
    found = jobs_read.jobs_search(request.shop, request.GET.get("q", ""))
    template = "jobs/_found.html" if request.headers.get("HX-Request") else "jobs/job_search.html"
    return render(request, template, {"found": found})


@role_required("may_design")
def job_create(request: ShopRequest) -> HttpResponse:
    """Open a job for a known vehicle (``?vehicle=``), a known customer (``?customer=``) or a new caller."""
    vehicle, customer = _known(request)
    data = request.POST or None
    forms: dict[str, Any] = {"job_form": JobForm(data, units=request.shop.units, prefix="job")}
    if vehicle is None:
        forms["vehicle_form"] = IntakeVehicleForm(
            data,
            shop=request.shop,
            today=timezone.localdate(),
            prefix="vehicle",
            instance=Vehicle(shop=request.shop, customer=customer or Customer(shop=request.shop)),
        )
    if customer is None:
        forms["customer_form"] = CustomerForm(
            data, units=request.shop.units, prefix="customer", instance=Customer(shop=request.shop)
        )
    if data is not None and False not in [form.is_valid() for form in forms.values()]:
        job = intake.job_intake(
            job=forms["job_form"].save(commit=False),
            vehicle=vehicle or forms["vehicle_form"].instance,
            customer=customer or forms["customer_form"].instance,
            actor=request.user,
            at=timezone.now(),
        )
        messages.success(request, f"Job {job.number} is open.")
        return redirect("jobs:job_detail", job.pk)
    refused = [form for form in reversed(forms.values()) if form.errors]
    context = {**forms, "vehicle": vehicle, "customer": customer, "refused_forms": refused}
    return render(request, "jobs/job_create.html", context, status=422 if data is not None else 200)


def _known(request: ShopRequest) -> tuple[Vehicle | None, Customer | None]:
    """Return the vehicle and customer the job is opened for, as far as they are known."""
    if request.GET.get("vehicle", "").isdigit():
        vehicles = Vehicle.objects.visible_to(request.user).select_related("customer")
        vehicle = get_object_or_404(vehicles, pk=int(request.GET["vehicle"]))
        return vehicle, vehicle.customer
    if request.GET.get("customer", "").isdigit():
        customers = Customer.objects.visible_to(request.user)
        return None, get_object_or_404(customers, pk=int(request.GET["customer"]))
    return None, None


@member_required
def job_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show one job: what comes next, who and what it is about, how far it is."""
    job = jobs_read.job_for_page(request.user, pk)
    return render(request, "jobs/job_detail.html", _hub(request, job, None))


def _hub(request: ShopRequest, job: Job, move_form: MoveForm | None) -> dict[str, Any]:
    """Return what the hub shows; ``move_form`` is the one that was refused, if any."""
    design = designs_of_job(job).first()
    quote = job.quotes.first()
    step = next_step(job, request.membership, design=design, quote=quote)
    states = moves_by_hand(job, request.membership)
    start = {"to": step.suggested_state or (states[0] if states else "")}
    return {
        "job": job,
        "tab": "overview",
        "now": timezone.now(),
        "step": step,
        "design": design,
        "quote": quote,
        "people": job.assigned_to.all(),
        "bookings": job.bookings.exclude(state="off").select_related("bay"),
        "moves": job.moves.all(),
        "move_form": move_form or (MoveForm(states=states, initial=start) if states else None),
    }


@member_required
@require_POST
def job_move(request: ShopRequest, pk: int) -> HttpResponse:
    """Move the job to another state by hand."""
    job = jobs_read.job_for_page(request.user, pk)
    form = MoveForm(request.POST, states=moves_by_hand(job, request.membership))
    if form.is_valid():
        try:
            moved = job_move_by_hand(job=job, **form.cleaned_data, actor=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error(None, str(refusal))
        else:
            messages.success(request, f"The job is now “{moved.get_state_display()}”.")
            return redirect("jobs:job_detail", pk)
    return render(request, "jobs/job_detail.html", _hub(request, job, form), status=422)


@role_required("may_design")
def job_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change what a job is called, where and by when, and who works on it."""
    job = jobs_read.job_for_page(request.user, pk)
    form = JobEditForm(request.POST or None, shop=request.shop, instance=job)
    if request.method == "POST" and form.is_valid():
        try:
            job_change(job=job, people=form.cleaned_data["people"], actor=request.user, at=timezone.now())
        except Refusal as refusal:
            form.add_error("promised_date", str(refusal))
        else:
            messages.success(request, "Saved.")
            return redirect("jobs:job_detail", pk)
    context = {"job": job, "tab": "overview", "form": form}
    return render(request, "jobs/job_edit.html", context, status=422 if form.errors else 200)


@member_required
def job_papers(request: ShopRequest, pk: int) -> HttpResponse:
    """Show every paper of a job in one place."""
    job = jobs_read.job_for_page(request.user, pk)
    context = {"job": job, "tab": "papers", "papers": jobs_read.job_papers(job)}
    return render(request, "jobs/job_papers.html", context)


@member_required
def job_log(request: ShopRequest, pk: int) -> HttpResponse:
    """Show who did what on a job, newest first, and take a note."""
    job = jobs_read.job_for_page(request.user, pk)
    form = NoteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        job_note(job=job, text=form.cleaned_data["text"], actor=request.user, at=timezone.now())
        return redirect("jobs:job_log", pk)
    entries = job.log.all() if request.membership.sees_prices else job.log.filter(shows_prices=False)
    page = Paginator(entries, PAGE_SIZE).get_page(request.GET.get("page"))
    context = {"job": job, "tab": "log", "page": page, "form": form}
    return render(request, "jobs/job_log.html", context, status=422 if form.errors else 200)
