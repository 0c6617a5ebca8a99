"""The pages of the price book: rates, hours by task, sales tax by day, lines of the scope, suppliers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models import Count
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.forms.price_book import RatesForm, ScopeTextForm, TaskHoursForm, TaxRateForm
from jobs.forms.supplier import SupplierForm
from jobs.models import ScopeText, Shop, Supplier, TaskHours, TaxRate
from jobs.parts.suppliers import supplier_save
from jobs.quote import price_book
from jobs.quote.labour import LabourCode, codes_of, labour_codes
from jobs.quote.scope import starting_scope
from jobs.quote.tax import rate_of_day
from jobs.shop.days import local_date
from jobs.shop.settings import shop_save
from jobs.views.access import ShopRequest, role_required
from jobs.views.refused import answered


@role_required("is_owner")
def price_book_rates(request: ShopRequest) -> HttpResponse:
    """Let the owner set what an hour, a mile, consumables and disposal cost."""
    # A second copy: a refused form must not change the shop that the page itself is printed with.
    found = get_object_or_404(Shop.objects.visible_to(request.user), pk=request.shop.pk)
    form = RatesForm(request.POST or None, instance=found)
    if request.method == "POST" and form.is_valid():
        shop_save(shop=found, changed=form.changed_data, actor=request.user, at=timezone.now())
        messages.success(request, "Saved.")
        return redirect("jobs:price_book_rates")
    context = {"form": form, "tab": "rates"}
    return render(request, "jobs/price_book_rates.html", context, status=422 if form.errors else 200)


@role_required("may_design")
def task_hours_list(request: ShopRequest) -> HttpResponse:
    """Show the labor codes as the shop has them."""
    own = {row.code: row for row in TaskHours.objects.visible_to(request.user)}
    codes = {**labour_codes(), **codes_of(request.shop), **own}
    rows = [{"task": codes[code], "own": own.get(code)} for code in sorted(codes)]
    return render(request, "jobs/task_hours_list.html", {"rows": rows, "tab": "hours"})


@role_required("may_design")
def task_hours_edit(request: ShopRequest, code: str = "") -> HttpResponse:
    """Change a labor code, or add one of the shop's own."""
    task = TaskHours.objects.visible_to(request.user).filter(code=code).first()
    if task is None:
        start = labour_codes().get(code)
        if code and start is None:
            raise Http404("No such labor code")
        facts = {name: getattr(start, name) for name in LabourCode.__slots__} if start else {}
        task = TaskHours(shop=request.shop, **facts)
    form = TaskHoursForm(request.POST or None, shop=request.shop, instance=task)
    reset = reverse("jobs:task_hours_reset", args=[code]) if task.pk else ""
    page = {"title": f"Labor code {code}" if code else "New labor code", "back": "jobs:task_hours_list"}
    words = "Back to the starting hours" if code in labour_codes() else "Remove this code"
    return _edited(
        request, form, page | {"reset": reset, "reset_words": words},
        lambda: price_book.task_hours_save(task=form.instance, actor=request.user, at=timezone.now()),
    )  # fmt: skip


@require_POST
@role_required("may_design")
def task_hours_reset(request: ShopRequest, code: str) -> HttpResponse:
    """Give a labor code its starting hours again."""
    get_object_or_404(TaskHours.objects.visible_to(request.user), code=code)
    price_book.task_hours_reset(shop=request.shop, code=code, actor=request.user, at=timezone.now())
    messages.success(request, f"{code} is as it was.")
    return redirect("jobs:task_hours_list")


@role_required("is_owner")
def tax_list(request: ShopRequest) -> HttpResponse:
    """Show the tax rates by day, and add one."""
    form = TaxRateForm(request.POST or None, shop=request.shop, instance=TaxRate(shop=request.shop))
    if request.method == "POST" and form.is_valid():
        rate = price_book.tax_rate_add(rate=form.instance, actor=request.user, at=timezone.now())
        messages.success(request, f"{rate.name} is saved.")
        return redirect("jobs:tax_list")
    today = local_date(request.shop, timezone.now())
    context = {
        "form": form, "rates": TaxRate.objects.visible_to(request.user), "today": today, "tab": "tax",
        "now": rate_of_day(request.shop, today),
    }  # fmt: skip
    return render(request, "jobs/tax_list.html", context, status=422 if form.errors else 200)


@require_POST
@role_required("is_owner")
def tax_remove(request: ShopRequest, pk: int) -> HttpResponse:
    """Take back a rate whose day has not come."""
    rate = get_object_or_404(TaxRate.objects.visible_to(request.user).select_related("shop"), pk=pk)
    answered(request, lambda: price_book.tax_rate_remove(rate=rate, actor=request.user, at=timezone.now()))
    return redirect("jobs:tax_list")


@role_required("may_design")
def scope_text_list(request: ShopRequest) -> HttpResponse:
    """Show the lines of the scope that a new quote starts with."""
    texts = list(ScopeText.objects.visible_to(request.user))
    own = {text.key: text for text in texts if text.key}
    rows = [
        {"key": key, "line": own.get(key) or start, "said": own.get(key)}
        for key, start in _starting_lines().items()
    ]
    added = [text for text in texts if not text.key]
    return render(request, "jobs/scope_text_list.html", {"rows": rows, "added": added, "tab": "scope"})


@role_required("may_design")
def scope_text_edit(request: ShopRequest, key: str) -> HttpResponse:
    """Say a line of the scope otherwise: by its key a starting one, by its number one of the shop's own."""
    texts = ScopeText.objects.visible_to(request.user)
    if key == "new":
        text = ScopeText(shop=request.shop)
    elif key.isdecimal():
        text = get_object_or_404(texts, pk=int(key[:18]), key="")
    else:
        text = texts.filter(key=key).first() or _starting_text(request.shop, key)
    form = ScopeTextForm(request.POST or None, shop=request.shop, instance=text)
    reset = reverse("jobs:scope_text_reset", args=[text.pk]) if text.pk else ""
    page = {"title": "Scope line", "back": "jobs:scope_text_list", "reset": reset}
    words = "Back to the starting words" if text.key else "Remove this line"
    return _edited(
        request, form, page | {"reset_words": words},
        lambda: price_book.scope_text_save(text=form.instance, actor=request.user, at=timezone.now()),
    )  # fmt: skip


@require_POST
@role_required("may_design")
def scope_text_reset(request: ShopRequest, pk: int) -> HttpResponse:
    """Give a line of the scope its starting words again."""
    text = get_object_or_404(ScopeText.objects.visible_to(request.user).select_related("shop"), pk=pk)
    price_book.scope_text_reset(text=text, actor=request.user, at=timezone.now())
    return redirect("jobs:scope_text_list")


def _starting_lines() -> dict[str, Any]:
    return dict(starting_scope(set(), has_panels=True, takes_away=False))


def _starting_text(shop: Shop, key: str) -> ScopeText:
    start = _starting_lines().get(key)
    if start is None:
        raise Http404("No such line")
    return ScopeText(shop=shop, key=key, text=start.text, answer=ScopeText.Answer.AUTO)


def _edited(
    request: ShopRequest, form: Any, page: dict[str, Any], save: Callable[[], object]
) -> HttpResponse:
    """Show a form of the price book, or store it and go back to its list."""
    if request.method == "POST" and form.is_valid():
        save()
        messages.success(request, "Saved.")
        return redirect(page["back"])
    context = {"form": form, **page, "back": reverse(page["back"])}
    return render(request, "jobs/price_book_edit.html", context, status=422 if form.errors else 200)


@role_required("may_design")
def supplier_list(request: ShopRequest) -> HttpResponse:
    """Show the suppliers, with how many parts come from each."""
    suppliers = Supplier.objects.visible_to(request.user).annotate(count=Count("parts")).order_by("name")
    return render(request, "jobs/supplier_list.html", {"suppliers": suppliers, "tab": "suppliers"})


@role_required("may_design")
def supplier_create(request: ShopRequest) -> HttpResponse:
    """Add a supplier."""
    return _supplier(request, Supplier(shop=request.shop))


@role_required("may_design")
def supplier_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a supplier."""
    return _supplier(request, get_object_or_404(Supplier.objects.visible_to(request.user), pk=pk))


def _supplier(request: ShopRequest, supplier: Supplier) -> HttpResponse:
    form = SupplierForm(request.POST or None, shop=request.shop, instance=supplier)
    if request.method == "POST" and form.is_valid():
        supplier_save(supplier=supplier, actor=request.user, at=timezone.now())
        messages.success(request, f"{supplier.name} is saved.")
        return redirect("jobs:supplier_list")
    context: dict[str, Any] = {"form": form, "is_new": supplier.pk is None}
    return render(request, "jobs/supplier_edit.html", context, status=422 if form.errors else 200)
