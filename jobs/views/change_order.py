"""The pages of a change order at the desk: write it, price it, hand it over, note what is said."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from jobs.board.jobs import job_for_page
from jobs.forms.change_order import ChangeDesk, DecisionForm, FoundForm, VerbalForm
from jobs.forms.guest import DeclineForm, SignForm
from jobs.forms.quote import ReasonForm
from jobs.models import ChangeOrder, ChangeOrderLine, Job, Part, PhaseChoice
from jobs.quote import change_order
from jobs.quote.lines import Rates
from jobs.quote.read import line_groups
from jobs.shop.actor import name_of
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required
from jobs.views.quote import link_context, site_of
from jobs.views.refused import answered


def _order(request: ShopRequest, pk: int) -> ChangeOrder:
    related = ("job__shop", "job__vehicle__customer")
    orders = ChangeOrder.objects.visible_to(request.user).select_related(*related)
    found: ChangeOrder = get_object_or_404(orders, pk=pk)
    return found


@role_required("may_install")
def change_order_create(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Write down a change: the office with its price, the people at the vehicle without."""
    job = job_for_page(request.user, job_pk)
    if not request.membership.sees_prices:
        return _report(request, job)
    desk = _desk(request, job, None)
    if request.method == "POST" and desk.is_valid() and "save" in request.POST:
        made = answered(
            request,
            lambda: change_order.change_order_create(
                job=job, facts=desk.form.facts(), lines=desk.lines(), actor=request.user, at=timezone.now()
            ),
        )
        if made:
            return redirect("jobs:change_order_detail", made.pk)
    return _desk_page(request, desk)


def _report(request: ShopRequest, job: Job) -> HttpResponse:
    """Let a technician write down what was found; the phases wait from that moment on."""
    start = {"found_by_name": name_of(request.user), "schedule_days": 0}
    form = FoundForm(request.POST or None, initial=start)
    if request.method == "POST" and form.is_valid():
        made = answered(
            request,
            lambda: change_order.change_order_create(
                job=job, facts=form.facts(), lines=[], actor=request.user, at=timezone.now()
            ),
        )
        if made:
            return redirect("jobs:change_order_detail", made.pk)
    context = {"job": job, "tab": "install", "form": form}
    status = 422 if request.method == "POST" else 200
    return render(request, "jobs/change_order_report.html", context, status=status)


@role_required("may_design")
def change_order_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Price a change the customer has not answered. Without ``save`` nothing is stored."""
    order = _order(request, pk)
    if not order.is_open:
        messages.warning(request, f"{order} is answered and stays as it is.")
        return redirect("jobs:change_order_detail", order.pk)
    desk = _desk(request, order.job, order)
    if request.method == "POST" and desk.is_valid() and "save" in request.POST:
        saved = answered(
            request,
            lambda: change_order.change_order_price(
                order=order,
                facts=desk.form.facts(),
                lines=desk.lines(),
                actor=request.user,
                at=timezone.now(),
            ),
        )
        if saved:
            messages.success(request, f"{saved} is saved.")
            return redirect("jobs:change_order_detail", saved.pk)
    return _desk_page(request, desk)


def _desk(request: ShopRequest, job: Job, order: ChangeOrder | None) -> ChangeDesk:
    return ChangeDesk(
        job=job,
        rates=Rates.of_shop(request.shop),
        parts=Part.objects.visible_to(request.user).filter(is_active=True),
        order=order,
        found_by=name_of(request.user),
        data=request.POST or None,
    )


def _desk_page(request: ShopRequest, desk: ChangeDesk) -> HttpResponse:
    """Show the desk, or the totals alone when htmx asks for them."""
    is_bound = desk.form.is_bound
    is_readable = desk.is_valid() if is_bound else True
    context: dict[str, Any] = {"job": desk.job, "tab": "quote", "desk": desk, "order": desk.order}
    context |= {
        "catalogue": desk.catalogue,
        "tasks": desk.tasks,
        "left": change_order.allowance_left(desk.job, beside=desk.order),
    }
    context["error_lines"] = desk.errors() if is_bound else []
    if is_readable:
        context |= _sums(request, desk)
    if is_bound and "save" not in request.POST and request.headers.get("HX-Request"):
        return render(request, "jobs/_change_totals.html", context | {"is_live": True})
    return render(
        request, "jobs/change_order_edit.html", context, status=422 if is_bound and not is_readable else 200
    )


def _sums(request: ShopRequest, desk: ChangeDesk) -> dict[str, Any]:
    """Return what the change comes to as typed, and the job with it."""
    if not desk.form.is_bound:
        return (
            {"sums": None}
            if desk.order is None
            else {"sums": desk.order, "new_total": change_order.new_total(desk.job, with_order=desk.order)}
        )
    facts = desk.form.facts()
    done = answered(
        request,
        lambda: change_order.change_sums(job=desk.job, lines=desk.lines(), minimum_fee=facts.minimum_fee),
    )
    if not done:
        return {"sums": None}
    _, sums = done
    order = ChangeOrder(pk=desk.order.pk if desk.order else None, total=sums.total)
    order.credits_allowance = facts.credits_allowance
    return {
        "sums": sums,
        "credit": facts.credits_allowance,
        "new_total": change_order.new_total(desk.job, with_order=order),
    }


@member_required
def change_order_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show a change order; technicians see what was found and what waits, not what it costs."""
    order = _order(request, pk)
    context: dict[str, Any] = {"job": order.job, "tab": "quote", "order": order}
    context["phases"] = [f"{letter} {PhaseChoice(letter).label}" for letter in order.locked_phases]
    context |= {"verbal_form": VerbalForm(), "decision_form": DecisionForm(), "reason_form": ReasonForm()}
    context["is_expired"] = order.is_expired(at=timezone.now())
    if request.membership.sees_prices:
        lines = ChangeOrderLine.objects.filter(change_order=order).select_related("part")
        context["groups"] = line_groups(lines)
        context["new_total"] = change_order.new_total(order.job, with_order=order)
        context["links"] = order.links.filter(revoked_at=None, expires_at__gt=timezone.now())
    return render(request, "jobs/change_order_detail.html", context)


@never_cache
@require_POST
@role_required("may_design")
def change_order_send(request: ShopRequest, pk: int) -> HttpResponse:
    """Hand the change to the customer by link and show the link, once."""
    order = _order(request, pk)
    done = answered(
        request,
        lambda: change_order.change_order_send(
            order=order, actor=request.user, at=timezone.now(), site_url=site_of(request)
        ),
    )
    if not done:
        return redirect("jobs:change_order_detail", order.pk)
    what = f"Change order {order.number}"
    context = link_context(order.job, what, token=done[1], site_url=site_of(request), is_change=True)
    context |= {"order": _order(request, pk), "job": order.job, "tab": "quote"}
    return render(request, "jobs/change_order_sent.html", context)


@role_required("sees_prices")
def change_order_sign(request: ShopRequest, pk: int) -> HttpResponse:
    """Let the customer read and sign on the shop's own screen."""
    order = _order(request, pk)
    if order.is_open and (order.snapshot is None or order.is_expired(at=timezone.now())):
        shown = answered(
            request,
            lambda: change_order.change_order_show(order=order, actor=request.user, at=timezone.now()),
        )
        if not shown:
            return redirect("jobs:change_order_detail", order.pk)
        order = shown
    if not order.is_open or order.snapshot is None:
        return redirect("jobs:change_order_detail", order.pk)
    form = SignForm(request.POST or None, initial={"content_sha256": order.content_sha256})
    decline_form = DeclineForm(prefix="no")
    if request.method == "POST" and form.is_valid():
        if form.cleaned_data["content_sha256"] != order.content_sha256:
            form.add_error(None, "This has changed since it was opened. Please read it again, then sign.")
        elif _signed(request, order, form):
            return redirect("jobs:change_order_detail", order.pk)
    context = {"job": order.job, "tab": "quote", "order": order, "doc": order.snapshot}
    context |= {"sign_form": form, "decline_form": decline_form}
    return render(request, "jobs/change_order_sign.html", context, status=422 if form.errors else 200)


def _signed(request: ShopRequest, order: ChangeOrder, form: SignForm) -> bool:
    try:
        change_order.change_order_accept(
            order=order,
            signed_name=form.cleaned_data["signed_name"],
            signature_svg=form.cleaned_data["signature_svg"],
            through="in person",
            at=timezone.now(),
        )
    except Refusal as refusal:
        form.add_error(None, str(refusal))
        return False
    return True


@require_POST
@role_required("sees_prices")
def change_order_decline(request: ShopRequest, pk: int) -> HttpResponse:
    """Note the customer's no, given in person."""
    order = _order(request, pk)
    form = DeclineForm(request.POST, prefix="no")
    if not form.is_valid():
        messages.error(request, "A name and a reason are needed to record a refusal.")
    else:
        answered(
            request,
            lambda: change_order.change_order_decline(
                order=order, through="in person", at=timezone.now(), **form.cleaned_data
            ),
        )
    return redirect("jobs:change_order_detail", order.pk)


@require_POST
@role_required("may_install")
def change_order_verbal(request: ShopRequest, pk: int) -> HttpResponse:
    """Note a yes by word of mouth; the phases stay locked."""
    order = _order(request, pk)
    form = VerbalForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Please say who said yes, and how.")
    elif answered(
        request,
        lambda: change_order.change_order_verbal(
            order=order, actor=request.user, at=timezone.now(), **form.cleaned_data
        ),
    ):
        messages.success(request, "Recorded. The phases stay locked until the customer has signed.")
    return redirect("jobs:change_order_detail", order.pk)


@require_POST
@role_required("is_owner")
def change_order_decide(request: ShopRequest, pk: int) -> HttpResponse:
    """Write the owner's decision on a refused safety matter."""
    order = _order(request, pk)
    form = DecisionForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Decision: at least 15 characters. It prints on the job sheet.")
    else:
        answered(
            request,
            lambda: change_order.change_order_decide(
                order=order, decision=form.cleaned_data["decision"], actor=request.user, at=timezone.now()
            ),
        )
    return redirect("jobs:change_order_detail", order.pk)


@require_POST
@role_required("may_design")
def change_order_withdraw(request: ShopRequest, pk: int) -> HttpResponse:
    """Take back a change nobody has answered."""
    order = _order(request, pk)
    form = ReasonForm(request.POST)
    if not form.is_valid():
        messages.error(request, "Please say why it is no longer needed.")
    else:
        answered(
            request,
            lambda: change_order.change_order_withdraw(
                order=order, reason=form.cleaned_data["reason"], actor=request.user, at=timezone.now()
            ),
        )
    return redirect("jobs:change_order_detail", order.pk)
