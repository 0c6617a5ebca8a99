"""The pages that take a table in, after a look at what it would do, and hand one out."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from common.sheet_files import MOST_BYTES, MOST_ROWS, csv_bytes
from jobs.customers.customer import customers_import
from jobs.forms.import_customers import FoundCustomers, customer_table, customers_found
from jobs.forms.import_file import ImportFileForm, rows_sent
from jobs.forms.import_parts import FoundParts, part_table, parts_found
from jobs.forms.import_rows import Found, ImportRefused
from jobs.models import Shop
from jobs.parts.catalogue import parts_import
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required

#: So many faults are listed; the rest is counted.
MOST_LISTED: Final = 100


@dataclass(frozen=True)
class Kind:
    """One kind of table: its words, and how it is read, stored and written out."""

    title: str
    back: str
    read: Callable[[Shop, list[list[str]]], Found]
    store: Callable[[ShopRequest, Any], int]
    table: Callable[[Shop, bool], list[list[str]]]


def _today() -> date:
    return timezone.localdate()


def _store_parts(request: ShopRequest, found: FoundParts) -> int:
    return parts_import(shop=request.shop, rows=found.rows, actor=request.user, at=timezone.now())


def _store_customers(request: ShopRequest, found: FoundCustomers) -> int:
    return customers_import(
        shop=request.shop,
        customers=found.customers,
        vehicles=found.vehicles,
        actor=request.user,
        at=timezone.now(),
    )


KINDS: Final = {
    "parts": Kind(
        "Import parts", "jobs:part_list", parts_found, _store_parts,
        lambda shop, has_rows: part_table(shop, has_rows=has_rows),
    ),
    "customers": Kind(
        "Import customers and vehicles", "jobs:customer_list",
        lambda shop, rows: customers_found(shop, rows, _today()), _store_customers,
        lambda shop, has_rows: customer_table(shop, _today(), has_rows=has_rows),
    ),
}  # fmt: skip


def _kind(name: str) -> Kind:
    if name not in KINDS:
        raise Http404("No such table")
    return KINDS[name]


@role_required("may_design")
def table_import(request: ShopRequest, kind: str) -> HttpResponse:
    """Ask for a file, show what it would do, and do it after a yes; a file with a fault does nothing."""
    of, form = _kind(kind), ImportFileForm(request.POST or None, request.FILES or None)
    if request.method != "POST":
        return _page(request, kind, form)
    is_yes = "rows" in request.POST
    if not is_yes and not form.is_valid():
        return _page(request, kind, form, status=422)
    try:
        rows = rows_sent(request.POST["rows"]) if is_yes else form.rows()
        found = of.read(request.shop, rows)
        is_asked = bool(found.questions) and not request.POST.get("sure")
        if is_yes and not found.faults and not is_asked:
            return _stored(request, of, found)
    except Refusal as refusal:
        return _page(request, kind, ImportFileForm(), problem=str(refusal), status=422)
    return _preview(request, kind, found, rows, is_yes=is_yes)


def _stored(request: ShopRequest, of: Kind, found: Found) -> HttpResponse:
    try:
        of.store(request, found)
    except (ValidationError, IntegrityError):
        raise ImportRefused(
            "Somebody changed these records meanwhile: please look at the file again."
        ) from None
    messages.success(request, f"{found.new} added, {found.changed} changed, {found.same} as they were.")
    return redirect(of.back)


def _page(
    request: ShopRequest, kind: str, form: ImportFileForm, *, problem: str = "", status: int = 200
) -> HttpResponse:
    context = {
        "kind": kind, "of": _kind(kind), "form": form, "problem": problem, "most_rows": MOST_ROWS,
        "most_mb": MOST_BYTES // 2**20,
    }  # fmt: skip
    return render(request, "jobs/import_upload.html", context, status=status)


def _preview(
    request: ShopRequest, kind: str, found: Found, rows: list[list[str]], *, is_yes: bool
) -> HttpResponse:
    context = {
        "kind": kind, "of": _kind(kind), "found": found, "rows": json.dumps(rows, ensure_ascii=False),
        "faults": found.faults[:MOST_LISTED], "more": max(0, len(found.faults) - MOST_LISTED),
        "questions": found.questions[:MOST_LISTED],
    }  # fmt: skip
    status = 422 if found.faults or is_yes else 200
    return render(request, "jobs/import_preview.html", context, status=status)


@role_required("may_design")
def table_export(request: ShopRequest, kind: str, what: str) -> HttpResponse:
    """Hand out the shop's records, or the headings alone to fill in."""
    of = _kind(kind)
    if what not in {"template", "export"}:
        raise Http404("No such file")
    rows = of.table(request.shop, what == "export")
    name = f"{kind}-template.csv" if what == "template" else f"{kind}-{_today():%Y-%m-%d}.csv"
    return HttpResponse(
        csv_bytes(rows),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
