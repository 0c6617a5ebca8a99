"""Views of job sheets: issued once, printed in the background, sent as stored."""

from __future__ import annotations

from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from checklists.forms.sign_off import IssueForm
from checklists.models import JobSheet
from checklists.record.pages import checklist_or_404
from checklists.sheet.issue import sheet_issue as issue
from checklists.sheet.print import STALE
from checklists.sheet.print import sheet_reprint as reprint
from checklists.views.sign_off import shown
from common.files import opened
from common.pdf import PdfLibraryMissing
from jobs.shop.refusals import Refusal
from jobs.views.access import ShopRequest, member_required, role_required


@role_required("may_install")
@require_POST
def sheet_issue(request: ShopRequest, job_pk: int) -> HttpResponse:
    """Issue the sheet as it stands; the same content is not issued twice."""
    checklist = checklist_or_404(request.user, job_pk)
    form = IssueForm(request.POST)
    if form.is_valid():
        try:
            sheet = issue(
                checklist=checklist,
                actor=request.user,
                at=timezone.now(),
                reason=form.cleaned_data["reason"],
            )
        except (Refusal, PdfLibraryMissing) as refusal:
            form.add_error(None, str(refusal))
        else:
            return redirect("checklists:sheet_detail", sheet.pk)
    return shown(request, checklist, None, form)


@member_required
@require_GET
def sheet_detail(request: ShopRequest, pk: int) -> HttpResponse:
    """Show how far the paper of a sheet is; a part of the page asks again until it is there."""
    sheet = _found(request, pk)
    context = {
        "job": sheet.checklist.job,
        "tab": "install",
        "sheet": sheet,
        "is_stuck": sheet.is_on_its_way and timezone.now() - sheet.touched_at > STALE,
    }
    is_part = bool(request.headers.get("HX-Request"))
    page = "checklists/_sheet_state.html" if is_part else "checklists/sheet_detail.html"
    return render(request, page, context)


@role_required("may_install")
@require_POST
def sheet_reprint(request: ShopRequest, pk: int) -> HttpResponse:
    """Print a sheet again whose printing failed or hangs."""
    reprint(sheet=_found(request, pk), actor=request.user, at=timezone.now())
    return redirect("checklists:sheet_detail", pk)


@member_required
@require_GET
def sheet_pdf(request: ShopRequest, pk: int) -> HttpResponseBase:
    """Send the stored file, the same each time; before there is one, show how far it is."""
    sheet = _found(request, pk)
    if not sheet.is_ready:
        return redirect("checklists:sheet_detail", pk)
    name = f"job-sheet-{sheet.checklist.job.number}-{sheet.number}.pdf"
    answer = FileResponse(opened(sheet.file, "this job sheet"), content_type="application/pdf", filename=name)
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _found(request: ShopRequest, pk: int) -> JobSheet:
    rows = JobSheet.objects.visible_to(request.user).defer("snapshot")
    return get_object_or_404(
        rows.select_related("checklist__job__shop", "checklist__job__vehicle__customer"), pk=pk
    )
