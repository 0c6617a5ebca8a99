"""The pages that take a table in, after a look at what it would do, and hand one out."""

from __future__ import annotations

import json
from typing import Final

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import IntegrityError
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from common.sheet_files import MOST_BYTES, MOST_ROWS, TableTooLong, csv_bytes, xlsx_bytes
from jobs.forms.import_file import ImportFileForm, rows_sent
from jobs.forms.import_kinds import KINDS, Kind, Taken
from jobs.forms.import_rows import Found, ImportRefused, said_nothing
from jobs.forms.import_run import MOST_BYTES as MOST_LONG_BYTES
from jobs.forms.import_run import MOST_LISTED, table_run_ask, table_run_store
from jobs.forms.import_run import MOST_ROWS as MOST_LONG_ROWS
from jobs.models import TableRun
from jobs.shop.days import local_date
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, role_required

_SPREADSHEET: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
#: How a file is written, and what it is called on its way.
_FORMS: Final = {"csv": (csv_bytes, "text/csv; charset=utf-8"), "xlsx": (xlsx_bytes, _SPREADSHEET)}


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
        if not is_yes and of.may_be_long and form.is_long():
            return _in_background(request, kind, form)
        rows = rows_sent(request.POST["rows"]) if is_yes else form.rows()
        found = of.read(request.shop, rows, timezone.now(), said_nothing)
        is_asked = bool(found.questions) and not request.POST.get("sure")
        if is_yes and not found.faults and not is_asked:
            return _stored(request, of, found)
    except TableTooLong as problem:
        if of.may_be_long:
            return _in_background(request, kind, form)
        return _page(request, kind, ImportFileForm(), problem=str(problem), status=422)
    except Refusal as refusal:
        return _page(request, kind, ImportFileForm(), problem=str(refusal), status=422)
    return _preview(request, kind, found, rows, is_yes=is_yes)


def _in_background(request: ShopRequest, kind: str, form: ImportFileForm) -> HttpResponse:
    """Have a long file looked at by the worker, and show how far it is."""
    upload = form.cleaned_data["file"]
    upload.seek(0)
    run = table_run_ask(
        shop=request.shop, kind=kind, name=upload.name, data=upload.read(MOST_LONG_BYTES + 1),
        actor=request.user, at=timezone.now(),
    )  # fmt: skip
    return redirect("jobs:table_run", run.pk)


@role_required("may_design")
def table_run(request: ShopRequest, pk: int) -> HttpResponse:
    """Show how far a long table is, then what it would do; a post takes it in."""
    runs = TableRun.objects.visible_to(request.user).defer("data").select_related("shop")
    run = get_object_or_404(runs, pk=pk)
    if request.method == "POST":
        try:
            sure = bool(request.POST.get("sure"))
            table_run_store(run=run, sure=sure, actor=request.user, at=timezone.now())
        except Refusal as refusal:
            messages.error(request, str(refusal))
        return redirect("jobs:table_run", run.pk)
    context = {"run": run, "kind": run.kind, "of": _kind(run.kind), "found": run.report}
    template = "jobs/_table_run.html" if request.headers.get("HX-Request") else "jobs/table_run.html"
    return render(request, template, context)


def _stored(request: ShopRequest, of: Kind, found: Found) -> HttpResponse:
    try:
        of.store(Taken(request.shop, request.user, timezone.now()), found)
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
        "kind": kind, "of": _kind(kind), "form": form, "problem": problem,
        "most_rows": MOST_LONG_ROWS if _kind(kind).may_be_long else MOST_ROWS,
        "most_mb": (MOST_LONG_BYTES if _kind(kind).may_be_long else MOST_BYTES) // 2**20,
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
def table_export(request: ShopRequest, kind: str, what: str, form: str) -> HttpResponse:
    """Hand out the shop's records, or the headings alone to fill in, as CSV or XLSX."""
    of = _kind(kind)
    if what not in {"template", "export"} or form not in _FORMS:
        raise Http404("No such file")
    at = timezone.now()
    rows = of.table(request.shop, what == "export", at)
    day = local_date(request.shop, at).isoformat()
    name = f"{kind}-{'template' if what == 'template' else day}.{form}"
    write, content_type = _FORMS[form]
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(write(rows), content_type=content_type, headers=headers)
