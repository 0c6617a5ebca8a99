"""Views of the pull list of a day, and of what to order as a file."""

from __future__ import annotations

from datetime import date

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from checklists.office.day_pull import day_page, days_around, order_rows
from common.sheet_files import csv_bytes
from jobs.views.access import ShopRequest, member_required, role_required


@member_required
@require_GET
def day_pull(request: ShopRequest, day: str) -> HttpResponse:
    """Show what to pull for everything that is booked on a day."""
    try:
        found = date.fromisoformat(day)
    except ValueError:
        raise Http404("No such day") from None
    page = day_page(request.shop, found)
    around = list(days_around(request.shop, found))
    return render(request, "checklists/day_pull.html", page | {"day": found, "around": around})


@role_required("may_design")
@require_GET
def order_file(request: ShopRequest) -> HttpResponse:
    """Give the desk what to order, by supplier, as CSV."""
    answer = HttpResponse(csv_bytes(order_rows(request.shop)), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = 'attachment; filename="orders.csv"'
    return answer
