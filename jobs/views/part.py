"""The pages of the catalog."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Q
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

import sizing
from jobs.forms.kit import KitItemForm
from jobs.forms.part import SHEET_FORMS, PartForm
from jobs.forms.part_sheet import SheetForm
from jobs.models import KitItem, Part
from jobs.parts import catalogue
from jobs.parts.costs import Because
from jobs.parts.kits import kit_item_remove, kit_item_set
from jobs.parts.panel_curve import curve_facts, sheet_start
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required
from jobs.views.refused import answered

PAGE_SIZE = 50
_SHEETS = tuple(f"{kind}_sheet" for kind in SHEET_FORMS)
#: So many changes of a price are listed.
CHANGES_SHOWN = 20


@member_required
def part_list(request: ShopRequest) -> HttpResponse:
    """Show the catalog, by kind or by a word; costs only to those who may see them."""
    parts = Part.objects.visible_to(request.user).select_related(*_SHEETS)
    kind, word = request.GET.get("kind", ""), request.GET.get("q", "").strip()
    if kind in Part.Kind.values:
        parts = parts.filter(kind=kind)
    if word:
        named = Q(name__icontains=word) | Q(sku__icontains=word) | Q(supplier_number__icontains=word)
        parts = parts.filter(named | Q(supplier__name__icontains=word))
    page = Paginator(parts, PAGE_SIZE).get_page(request.GET.get("page"))
    context = {"page": page, "kinds": Part.Kind.choices, "kind": kind, "word": word}
    return render(request, "jobs/part_list.html", context)


@member_required
def part_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show a part and its data sheet."""
    parts = Part.objects.visible_to(request.user).select_related("shop", "supplier", *_SHEETS)
    part = get_object_or_404(parts, pk=pk)
    sheet_form = _sheet_form(request, part, None)
    sheet = getattr(part, "panel_sheet", None)
    model = curve_facts(sheet) if sheet else None
    changes = part.price_changes.all()[:CHANGES_SHOWN] if request.membership.sees_costs else []
    context = {
        "part": part, "sheet": sheet_form, "model": model, "changes": changes,
        "kit": part.kit_items.select_related("part"), "kit_form": KitItemForm(shop=request.shop),
    }  # fmt: skip
    return render(request, "jobs/part_detail.html", context)


@role_required("may_design")
def kit_list(request: ShopRequest) -> HttpResponse:
    """Show the parts that bring others onto a quote."""
    parts = Part.objects.visible_to(request.user).filter(kit_items__isnull=False).distinct()
    heads = parts.prefetch_related("kit_items__part")
    return render(request, "jobs/kit_list.html", {"heads": heads, "tab": "kits"})


@require_POST
@role_required("may_design")
def kit_add(request: ShopRequest, pk: int) -> HttpResponse:
    """Have a part come with this one."""
    head = get_object_or_404(Part.objects.visible_to(request.user).select_related("shop"), pk=pk)
    form = KitItemForm(request.POST, shop=request.shop)
    if not form.is_valid():
        messages.error(request, " ".join(str(words) for found in form.errors.values() for words in found))
        return redirect("jobs:part_detail", head.pk)
    typed = form.cleaned_data
    answered(
        request,
        lambda: kit_item_set(
            head=head, part=typed["sku"], quantity=typed["quantity"], per=typed["per"], actor=request.user,
            at=timezone.now(),
        ),
    )  # fmt: skip
    return redirect("jobs:part_detail", head.pk)


@require_POST
@role_required("may_design")
def kit_remove(request: ShopRequest, pk: int) -> HttpResponse:
    """Have a part come with another no more."""
    items = KitItem.objects.visible_to(request.user).select_related("head__shop", "part")
    item = get_object_or_404(items, pk=pk)
    kit_item_remove(item=item, actor=request.user, at=timezone.now())
    return redirect("jobs:part_detail", item.head_id)


@role_required("may_design")
def part_create(request: ShopRequest, kind: str = "") -> HttpResponse:
    """Add a part; its kind comes first, for it decides the data sheet."""
    if not kind:
        return render(request, "jobs/part_kind.html", {"kinds": Part.Kind.choices})
    if kind not in Part.Kind.values:
        raise Http404("No such kind of part")
    return _part_form(request, Part(shop=request.shop, kind=kind), "jobs/part_create.html")


@role_required("may_design")
def part_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Change a part and its data sheet."""
    part = get_object_or_404(Part.objects.visible_to(request.user).select_related("shop", *_SHEETS), pk=pk)
    return _part_form(request, part, "jobs/part_edit.html")


@require_POST
@role_required("may_design")
def panel_fit(request: ShopRequest, pk: int) -> HttpResponse:
    """Fit the single-diode model to a panel's data sheet."""
    parts = Part.objects.visible_to(request.user).select_related("shop", "panel_sheet")
    part = get_object_or_404(parts, pk=pk, kind=Part.Kind.PANEL)
    try:
        catalogue.panel_fit(part=part, actor=request.user, at=timezone.now())
        messages.success(request, "The single-diode model has been fitted.")
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return redirect("jobs:part_detail", part.pk)


def _sheet_form(request: ShopRequest, part: Part, data: Any, initial: Any = None) -> SheetForm | None:
    """Return the form of the part's data sheet, or None when its kind has none."""
    form_class = SHEET_FORMS.get(part.kind)
    if form_class is None:
        return None
    sheet = getattr(part, f"{part.kind}_sheet", None)
    return form_class(data, shop=request.shop, instance=sheet, initial=initial)


def _module(request: ShopRequest, part: Part) -> sizing.ModuleData | None:
    """Return the row of the open list that a new panel is made from."""
    name = request.POST.get("module") or request.GET.get("module", "")
    if not name or part.kind != Part.Kind.PANEL:
        return None
    try:
        return sizing.module_by_name(name)
    except LookupError:
        raise Http404("No such module") from None


def _part_form(request: ShopRequest, part: Part, template: str) -> HttpResponse:
    data, module = request.POST or None, _module(request, part)
    start = {"name": module.name, "mass_kg": None, "is_serial_tracked": True} if module else None
    form = PartForm(data, shop=request.shop, instance=part, initial=start)
    sheet_form = _sheet_form(request, part, data, sheet_start(module) if module else None)
    forms = [form] + ([sheet_form] if sheet_form else [])
    if data is not None and False not in [each.is_valid() for each in forms]:
        sheet = sheet_form.save(commit=False) if sheet_form and not sheet_form.is_idle else None
        because = Because(why=form.cleaned_data["why"])
        catalogue.part_save(
            part=part, sheet=sheet, actor=request.user, at=timezone.now(), module=module, because=because
        )
        messages.success(request, f"{part.name} is saved.")
        return redirect("jobs:part_detail", part.pk)
    refused = [each for each in forms if each.errors]
    context = {
        "form": form, "sheet_form": sheet_form, "part": part, "refused_forms": refused, "module": module,
    }  # fmt: skip
    return render(request, template, context, status=422 if data is not None else 200)
