"""The page that looks up modules of the open list."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from jobs.forms.module import MOST_SHOWN, ModuleSearchForm
from jobs.views.access import ShopRequest, role_required


@role_required("may_design")
def module_list(request: ShopRequest) -> HttpResponse:
    """Show the modules of the open list whose name and power match; a row leads to a new part."""
    form = ModuleSearchForm(request.GET or None, units=request.shop.units)
    rows = form.found() if form.is_bound and form.is_valid() else ()
    context = {"form": form, "rows": rows[:MOST_SHOWN], "has_more": len(rows) > MOST_SHOWN}
    return render(request, "jobs/module_list.html", context, status=422 if form.errors else 200)
